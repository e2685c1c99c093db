"""What every sheet says of itself: day, revision, positions, levels, grid and ground; both units.

In: a plan. Out: words. Method: facts as the site has them, what is not stated as not stated.
Reference: combined factor as grid scale times R / (R + h), e.g. NOAA Manual NOS NGS 5
(from memory).
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from geo_site.crs import code_of, scale_factor
from geo_site.plan import Plan
from geo_site.units import System, format_length

__all__ = ["both", "day_and_revision", "grid_and_ground", "position_facts", "subject_of"]

_EARTH_RADIUS_M = 6_371_000.0
_OTHER: dict[System, System] = {"us": "si", "si": "us"}


def both(write: Callable[[float, System], str], value: float, system: System) -> str:
    """Write a quantity in the report's unit, and in the other in brackets.

    Parameters
    ----------
    write : callable
        A writer of ``geo_site.units``.
    value : float
        SI.
    system : {"si", "us"}
        The report's.

    Returns
    -------
    str
        An unknown quantity is said once.

    Examples
    --------
    >>> both(format_length, 1.0, "us"), both(format_length, float("nan"), "us")
    ('3.3 ft (1.00 m)', 'unknown')
    """
    told = write(value, system)
    return told if told == "unknown" else f"{told} ({write(value, _OTHER[system])})"


def day_and_revision(plan: Plan) -> str:
    """Say as of which day the plan is, and which revision where the site file names one."""
    day, revision = plan.site.ticket.as_of, plan.site.revision
    told = f"as of {day.isoformat()}" if day else "day not stated"
    return f"{told}, revision {revision}" if revision else told


def subject_of(plan: Plan, document: str) -> str:
    """Say what a document is, for its properties."""
    return f"{document}, {day_and_revision(plan)}; a desk study, not a utility locate"


def position_facts(plan: Plan) -> str:
    """Say what positions and levels refer to, in a line."""
    code = code_of(plan.site.crs)
    datum = plan.site.vertical_datum or "datum not stated"
    return f"{plan.site.crs.name}{f' ({code})' if code else ''}; levels: {datum}"


def grid_and_ground(plan: Plan) -> str:
    """Say whether distances are grid or ground, and by what they differ.

    Parameters
    ----------
    plan : Plan
        Whose site.

    Returns
    -------
    str
        With the combined factor where levels refer to a datum that is stated.
    """
    site = plan.site
    factor = scale_factor(site.crs, *site.parcel.centroid.coords[0])
    if np.isnan(factor):
        return "Distances are on the grid; its scale here is not known."
    told = f"Distances are on the grid, whose scale factor here is {factor:.6f}"
    if not site.vertical_datum:
        return (
            f"{told}; heights change that too, by an amount that is not known while the vertical "
            "datum is not stated."
        )
    level_m = float(np.nanmean(site.terrain.values))
    combined = factor * _EARTH_RADIUS_M / (_EARTH_RADIUS_M + level_m)
    longer_mm = 1e5 * (1.0 / combined - 1.0)
    return (
        f"{told}; with a height of {format_length(level_m, site.report_units)} the combined factor "
        f"is {combined:.6f} (geoid not counted): 100 m of grid are 100 m {longer_mm:+.0f} mm on "
        "the ground."
    )
