"""Everything that a page shows of one plan.

In: a plan. Out: nested plain data, without a letter that steers. Method: each part from its module.
Reference: none.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from geo_site.cautions import CAUTIONS
from geo_site.crs import code_of, scale_factor, unit_of_twin
from geo_site.layers import output_crs
from geo_site.units import System, in_report, unit_steps
from geo_site.webmap.catalogue import layer_groups
from geo_site.webmap.context import context_layers
from geo_site.webmap.edits import alerts, breaches, changes
from geo_site.webmap.findings import (
    clearances,
    figures,
    places,
    rules_in_the_way,
    verdicts,
)
from geo_site.webmap.numbers import asked, level_unit
from geo_site.webmap.plain_words import phrase, shown_all
from geo_site.webmap.relief import level_grid, shading
from geo_site.webmap.section import section_data
from geo_site.webmap.shapes import Origin, origin_of

if TYPE_CHECKING:
    from pyproj import CRS

    from geo_site.plan import Plan
    from geo_site.site import Site

__all__ = ["content_of"]

_MARGIN_M = 20.0
_STATUS_WORDS = {
    "proposed": "A proposal.",
    "assessed": "Works that a person drew, judged.",
    "no_place": "No place for the basin satisfies the rules.",
}
_UNIT_NAMES = {1.0: ("metres", "m"), 0.3048: ("feet", "ft")}


def content_of(plan: Plan) -> dict[str, Any]:
    """Give what a page shows.

    Parameters
    ----------
    plan : Plan
        With or without a proposal.

    Returns
    -------
    dict
        Of plain data, the same for the same plan.
    """
    site, origin = plan.site, origin_of(plan.site.parcel)
    groups = layer_groups(plan, origin)
    groups[-1]["layers"] += context_layers(site, origin)
    west, south, east, north = site.parcel.union(plan.dig_area).bounds
    wide = (west - _MARGIN_M, south - _MARGIN_M, east + _MARGIN_M, north + _MARGIN_M)
    works = site.parcel if plan.dig_area.is_empty else plan.dig_area
    content = {
        "name": site.name,
        "status": plan.status,
        "told": _STATUS_WORDS[plan.status],
        "alerts": list(alerts(plan)),
        "breaches": breaches(plan),
        "changes": changes(plan),
        "revision": site.revision,
        "as_of": site.ticket.as_of.isoformat() if site.ticket.as_of else "",
        "units": _units(site.report_units),
        "grid": _grid(site, origin),
        "lot": origin.bounds(site.parcel),
        "works": origin.bounds(works),
        "relief": shading(plan.terrain, wide, origin),
        "ground": level_grid(plan.terrain.ground, wide, origin),
        "groups": groups,
        "taken": _taken(plan),
        "section": section_data(plan, plan.proposal, origin) if plan.proposal else None,
        "places": places(plan, origin),
        "verdicts": verdicts(plan),
        "clearances": clearances(plan),
        "figures": figures(plan),
        "warnings": [in_report(told, site.report_units) for told in plan.warnings],
        "visit": [
            [row.subject, *(in_report(told, site.report_units) for told in (row.check, row.why))]
            for row in plan.visit
        ],
        "cautions": [list(row) for row in CAUTIONS],
        "rules": rules_in_the_way(plan),
        "compared": [
            f"Plan {one.number}, place {one.rank}: {one.sentence}." for one in plan.compared
        ],
        "openings": [in_report(row.sentence, site.report_units) for row in plan.relaxations],
    }
    told: dict[str, Any] = shown_all(content)
    return told


def _units(system: System) -> dict[str, Any]:
    """Give the table by which the page writes lengths and speeds that it measures itself."""
    label, unit_m = level_unit(system)
    return {
        "system": system,
        "level": [unit_m, label],
        **{
            quantity: [
                [None if math.isinf(below) else below, size, sign, digits]
                for below, size, sign, digits in unit_steps(quantity, system)
            ]
            for quantity in ("length", "velocity")
        },
    }


def _grid(site: Site, origin: Origin) -> dict[str, Any]:
    """Say what positions refer to: the CRS of the layers where the page's metres are its own."""
    target = output_crs(site)
    unit_m = unit_of_twin(site.crs, target)
    crs, unit_m = (site.crs, 1.0) if unit_m is None else (target, unit_m)
    name, sign = _UNIT_NAMES.get(unit_m, ("US survey feet", "ftUS"))
    factor = scale_factor(site.crs, *site.parcel.centroid.coords[0])
    return {
        "east": origin.east_m,
        "north": origin.north_m,
        "unit_m": unit_m,
        "sign": sign,
        "told": [
            f"Positions: {_crs_words(crs)}, in {name}; levels: "
            f"{site.vertical_datum or 'vertical datum not stated'}.",
            f"The map counts metres from {origin.east_m:.0f} east, {origin.north_m:.0f} north of "
            f"{_crs_words(site.crs)}.",
            "Distances are on the grid; on the ground they are longer by "
            f"{1e6 * (1.0 / factor - 1.0):.0f} parts in a million, before height is counted.",
        ],
    }


def _crs_words(crs: CRS) -> str:
    code = code_of(crs)
    return f"{crs.name} ({code})" if code else crs.name


def _taken(plan: Plan) -> dict[str, list[str]]:
    """Say of each piece of blocked and hand-dig ground what takes it, in the layers' order."""
    ground, system = plan.grounds["basin"], plan.site.report_units
    blocked = []
    for piece in ground.pieces:
        told = phrase(piece.reason) + (f" ({piece.source_id})" if piece.source_id else "")
        if piece.distance_m > 0.0:
            told += f": {asked(piece.distance_m, system)} kept from it"
        blocked.append(told)
    by_hand = [
        f"by hand only, beside {strip.utility_id} ({phrase(strip.kind)}): within "
        f"{asked(strip.half_width_m, system)} of the line as drawn"
        for strip in ground.hand_dig
    ]
    return {"blocked_ground": blocked, "hand_dig_ground": by_hand}
