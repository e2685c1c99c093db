"""The figures by which two plans of one site are compared.

In: a plan. Out: names with their unit at the end, and numbers, SI. What a plan does not have has
no name in it, so that nothing unknown looks like 0.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping
from types import MappingProxyType

from geo_site.plan.results import Plan, Proposal

__all__ = ["figures_of", "words_of"]

_UNITS = {"m3s": "m3/s", "m3": "m3", "m2": "m2", "m": "m", "count": "-", "total": "-"}


def figures_of(plan: Plan) -> Mapping[str, float]:
    """Give a plan's figures.

    Parameters
    ----------
    plan : Plan
        With or without a proposal.

    Returns
    -------
    mapping of str to float
        Finite numbers by name, in the order in which they are told; empty without a proposal.
    """
    if plan.proposal is None:
        return MappingProxyType({})
    told = [
        *_stream(plan.proposal),
        *_basin(plan.proposal),
        *_water(plan.proposal),
        *_earth(plan.proposal),
        *_clearances(plan),
        *_costs(plan),
    ]
    return MappingProxyType({name: float(value) for name, value in told if math.isfinite(value)})


def _stream(proposal: Proposal) -> Iterator[tuple[str, float]]:
    layout = proposal.layout
    yield "fall_m", layout.fall_m
    yield "stream_length_m", layout.length_m
    yield "falls_count", len(layout.falls)
    yield "pools_count", len(layout.pools)
    yield "lip_level_m", layout.lip_level_m
    yield "berm_height_m", layout.berm_height_m


def _basin(proposal: Proposal) -> Iterator[tuple[str, float]]:
    placement, water = proposal.placement, proposal.water
    yield "basin_area_m2", placement.footprint.area
    yield "pit_depth_m", placement.greatest_depth_m
    yield "rim_level_m", placement.rim_level_m
    yield "water_stored_m3", water.stored_m3
    yield "water_usable_m3", water.usable_m3
    yield "water_needed_m3", water.required_m3


def _water(proposal: Proposal) -> Iterator[tuple[str, float]]:
    water = proposal.water
    yield "flow_m3s", water.flow_m3s
    yield "static_lift_m", water.static_lift_m
    yield "total_head_m", water.total_head_m
    yield "pipe_length_m", water.lift.pipe.length_m
    yield "pipe_diameter_m", water.lift.pipe.inside_diameter_m
    if proposal.storms is not None:
        yield "free_room_m3", proposal.storms.free_room_m3


def _earth(proposal: Proposal) -> Iterator[tuple[str, float]]:
    moved, one = proposal.earthwork, proposal.best.candidate
    yield "excavation_m3", moved.pit_m3
    yield "dug_m3", moved.bank_m3
    yield "hand_dig_m2", one.hand_dig_m2
    yield "pile_m3", moved.pile.volume_m3 if moved.pile else 0.0
    yield "haul_m3", moved.haul_m3
    yield "run_on_m2", one.catchment.area_m2
    yield "machine_way_m", one.route.length_m if one.route else math.nan


def _clearances(plan: Plan) -> Iterator[tuple[str, float]]:
    """Least distance to a marked line's edge for each work, and how many rows of each verdict."""
    for work in dict.fromkeys(row.work for row in plan.clearances):
        rows = [row for row in plan.clearances if row.work == work and row.rule == "utility"]
        yield f"{work}_to_lines_m", min((row.clearance_m for row in rows), default=math.nan)
    found = Counter(row.verdict for row in plan.clearances)
    for verdict in ("not_met", "unknown", "hand_dig", "met"):
        yield f"clearances_{verdict}_count", found[verdict]


def _costs(plan: Plan) -> Iterator[tuple[str, float]]:
    if plan.costs is not None and plan.costs.total.is_complete:
        yield "cost_total", plan.costs.total.cost


def words_of(name: str) -> tuple[str, str]:
    """Give a figure's name in words, and its unit.

    Parameters
    ----------
    name : str
        As :func:`figures_of` gives it.

    Returns
    -------
    tuple of (str, str)
        Words, and the unit: ``-`` for a count.

    Examples
    --------
    >>> words_of("flow_m3s"), words_of("falls_count")
    (('flow', 'm3/s'), ('falls', '-'))
    """
    head, _, unit = name.rpartition("_")
    if unit == "total":
        head = name
    return head.replace("_", " "), _UNITS[unit]
