"""The stream along its line, as numbers for the page to draw.

In: a plan with a proposal. Out: levels against distance from the lip, and where each is on the map.
Method: the running water's own profile; places are found on the alignment by their distance.
Reference: none.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
from shapely import get_coordinates

from geo_site.units import format_length
from geo_site.webmap.numbers import level_unit
from geo_site.webmap.shapes import Origin

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from geo_site.plan import Plan, Proposal

__all__ = ["section_data"]

_DECIMALS = 4


def section_data(plan: Plan, proposal: Proposal, origin: Origin) -> dict[str, Any]:
    """Give the long section.

    Parameters
    ----------
    plan : Plan
        Whose units and datum are told.
    proposal : Proposal
        Whose stream.
    origin : Origin
        From where coordinates count.

    Returns
    -------
    dict
        ``station``, ``ground``, ``bed``, ``sill``, ``water``, ``depth``, ``speed`` (m, m/s; None:
        unknown), ``place`` (east, north ... from the origin, m), ``falls``, ``reaches``,
        ``datum``, ``unit``, ``unit_m``.
    """
    profile, layout = proposal.water.running.profile, proposal.layout
    line = get_coordinates(layout.alignment)
    places = np.column_stack(
        [np.interp(profile.station_m, layout.stations_m, line[:, axis]) for axis in (0, 1)]
    )
    unit, unit_m = level_unit(plan.site.report_units)
    return {
        "station": _known(profile.station_m),
        "ground": _known(profile.ground_m),
        "bed": _known(profile.bed_m),
        "sill": _known(profile.sill_m),
        "water": _known(profile.water_level_m),
        "depth": _known(profile.depth_m),
        "speed": _known(profile.velocity_ms),
        "place": origin.flat(places),
        "falls": [
            {
                "station": round(fall.station_m, _DECIMALS),
                "lip": round(fall.lip_level_m, _DECIMALS),
                "foot": round(fall.lip_level_m - fall.height_m, _DECIMALS),
                "told": f"fall {fall.sequence}: "
                + format_length(fall.height_m, plan.site.report_units),
            }
            for fall in layout.falls
        ],
        "reaches": [
            {
                "from": round(reach.from_m, _DECIMALS),
                "to": round(reach.to_m, _DECIMALS),
                "told": f"{reach.kind} {reach.sequence}",
            }
            for reach in layout.reaches
        ],
        "datum": plan.site.vertical_datum or "a vertical datum that is not stated",
        "unit": unit,
        "unit_m": unit_m,
    }


def _known(values: NDArray[np.float64]) -> Sequence[float | None]:
    return [round(float(v), _DECIMALS) if math.isfinite(v) else None for v in values]
