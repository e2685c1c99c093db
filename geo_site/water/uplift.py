"""Groundwater under the basin, and loads on the void units.

Question
    Does groundwater lift liner and basin, and do the void units carry what lies and drives on
    them?
In
    The basin's design and place; settings of groundwater and loads.
Out
    :class:`Uplift`, :class:`Load`.
Method
    Uplift of the empty basin by Archimedes against the weight of its gravel, which lies dry on the
    liner: under, beside and over the units. Loads on the units'
    top: the cover's weight, and a stone or a track spread 2 to 1 (vertical to horizontal) through
    the cover on all sides.
Reference
    Archimedes' principle, 9.81 kN/m3. The spread of 2 to 1: common practice, no source.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from geo_site import volumes
from geo_site.siting import BasinDesign, Placement
from geo_site.water.records import WaterParameters

__all__ = ["Load", "Uplift", "judge_load", "judge_uplift", "spread_pressure"]

_GRAVITY_MS2 = 9.80665

_GroundwaterState = Literal["unknown", "below", "above"]
_LoadState = Literal["unknown", "carried", "overloaded"]


@dataclass(frozen=True, kw_only=True)
class Uplift:
    """Groundwater against the weight of the empty basin.

    Attributes
    ----------
    state : {"unknown", "below", "above"}
        ``unknown`` (no groundwater level given), ``below`` (under the floor) or ``above``.
    above_floor_m : float
        Groundwater above the pit's floor; NaN where it is not known.
    uplift_n, weight_n : float
        Force on the whole empty basin, and weight of its gravel; the void units weigh nothing.
    short_n : float
        Weight that is missing at the factor asked for.
    cover_needed_m : float
        Soil over the whole pit floor that makes it up.
    warnings : tuple of str
        A sentence each.
    """

    state: _GroundwaterState
    above_floor_m: float
    uplift_n: float
    weight_n: float
    short_n: float
    cover_needed_m: float
    warnings: tuple[str, ...]


def judge_uplift(design: BasinDesign, placement: Placement, parameters: WaterParameters) -> Uplift:
    """Hold groundwater against the weight of the empty basin.

    Parameters
    ----------
    design : BasinDesign
        Gravel under, beside and over the units.
    placement : Placement
        Where it is.
    parameters : WaterParameters
        Groundwater, weights, factor.

    Returns
    -------
    Uplift
        Unknown groundwater is said to be unknown.
    """
    settings = parameters.groundwater
    weight_n = _gravel_volume(design, placement) * _gravel_weight(parameters)
    if settings.water_table_depth is None:
        return _uplift("unknown", math.nan, weight_n, placement, parameters)
    table_m = placement.rim_level_m - settings.water_table_depth
    above_m = table_m - placement.floor_level_m
    return _uplift("above" if above_m > 0.0 else "below", above_m, weight_n, placement, parameters)


def _uplift(
    state: _GroundwaterState,
    above_m: float,
    weight_n: float,
    placement: Placement,
    parameters: WaterParameters,
) -> Uplift:
    settings, area_m2 = parameters.groundwater, float(placement.pit_floor.area)
    force_n = volumes.uplift_force(area_m2, above_m if state == "above" else 0.0)
    short_n = max(settings.hold_down_factor * force_n - weight_n, 0.0)
    cover_m = short_n / (settings.cover_weight * 1000.0 * area_m2)
    return Uplift(
        state=state,
        above_floor_m=above_m,
        uplift_n=force_n,
        weight_n=weight_n,
        short_n=short_n,
        cover_needed_m=cover_m,
        warnings=_uplift_warnings(state, above_m, force_n, weight_n, cover_m),
    )


def _gravel_volume(design: BasinDesign, placement: Placement) -> float:
    """Gravel of the pit over its floor: all but the units; what lies on the batters is left out."""
    units_m3 = float(placement.footprint.area) * design.unit_height_m
    return float(placement.pit_floor.area) * design.depth_m - units_m3


def _gravel_weight(parameters: WaterParameters) -> float:
    """Dry weight of gravel, N/m3."""
    density_tm3 = volumes.bulk_density(
        parameters.groundwater.stone_gravity, parameters.gravel_void_ratio
    )
    return density_tm3 * 1000.0 * _GRAVITY_MS2


def _uplift_warnings(
    state: _GroundwaterState, above_m: float, force_n: float, weight_n: float, cover_m: float
) -> tuple[str, ...]:
    if state == "unknown":
        return (
            "The level of the groundwater is not known: dig a test pit or ask the soil survey. "
            "Above the basin's floor it lifts liner and basin.",
        )
    if state == "below":
        return ()
    held = f"its gravel weighs {weight_n / 1000.0:.1f} kN"
    if cover_m > 0.0:
        held += f", too little at the factor asked for: {cover_m:.2f} m of soil over it are missing"
    return (
        f"The groundwater may stand {above_m:.2f} m above the basin's floor: it lifts the empty "
        f"basin with {force_n / 1000.0:.1f} kN; {held}. A flexible liner has no weight: "
        "groundwater above it lifts it whatever the factor. Drain the ground or set the basin "
        "higher.",
    )


@dataclass(frozen=True, kw_only=True)
class Load:
    """What presses on the top of the void units.

    Attributes
    ----------
    state : {"unknown", "carried", "overloaded"}
        ``unknown`` (no rating given), ``carried`` or ``overloaded``.
    cover_pa, stone_pa, machine_pa : float
        Of the cover; of the largest stone and of the machine, each on top of it.
    greatest_pa : float
        Cover with the larger of the two.
    rated_pa : float
        What the units are rated for; NaN where it is not known.
    warnings : tuple of str
        A sentence each.
    """

    state: _LoadState
    cover_pa: float
    stone_pa: float
    machine_pa: float
    greatest_pa: float
    rated_pa: float
    warnings: tuple[str, ...]


def spread_pressure(force_n: float, length_m: float, width_m: float, depth_m: float) -> float:
    """Pressure under a load that spreads 2 to 1 with depth, `F / ((a + z) (b + z))`.

    Parameters
    ----------
    force_n : float
        Load, N.
    length_m, width_m : float
        Size of its footing, m, greater than 0.
    depth_m : float
        Depth below it, m, at least 0.

    Returns
    -------
    float
        Mean pressure over the widened footing, Pa.

    Raises
    ------
    ValueError
        If the footing has no size, or the depth is below 0.

    Examples
    --------
    >>> round(spread_pressure(4_903.0, 0.5, 0.5, 0.5))
    4903
    """
    if not (length_m > 0.0 and width_m > 0.0 and depth_m >= 0.0):
        raise ValueError("a load rests on a footing, at a depth of at least 0")
    return force_n / ((length_m + depth_m) * (width_m + depth_m))


def judge_load(cover_m: float, parameters: WaterParameters) -> Load:
    """Hold what lies and drives on the void units against their rating.

    Parameters
    ----------
    cover_m : float
        Gravel or soil over the units, m.
    parameters : WaterParameters
        Rating, largest stone, machine, weight of the cover.

    Returns
    -------
    Load
        Unknown ratings are said to be unknown.
    """
    settings = parameters.load
    cover_pa = parameters.groundwater.cover_weight * 1000.0 * cover_m
    side_m = math.sqrt(settings.stone_contact)
    stone_pa = spread_pressure(settings.stone_mass * _GRAVITY_MS2, side_m, side_m, cover_m)
    machine_pa = _machine(cover_m, parameters)
    greatest_pa = cover_pa + max(stone_pa, machine_pa)
    rated_pa = math.nan if settings.rated_load is None else settings.rated_load * 1000.0
    return Load(
        state=_state(greatest_pa, rated_pa),
        cover_pa=cover_pa,
        stone_pa=stone_pa,
        machine_pa=machine_pa,
        greatest_pa=greatest_pa,
        rated_pa=rated_pa,
        warnings=_load_warnings(cover_pa, stone_pa, machine_pa, rated_pa),
    )


def _state(greatest_pa: float, rated_pa: float) -> _LoadState:
    if math.isnan(rated_pa):
        return "unknown"
    return "carried" if greatest_pa <= rated_pa else "overloaded"


def _machine(cover_m: float, parameters: WaterParameters) -> float:
    settings = parameters.load
    force_n = settings.machine_pressure * settings.machine_factor * 1000.0
    force_n *= settings.track_length * settings.track_width
    one_pa = spread_pressure(force_n, settings.track_length, settings.track_width, cover_m)
    # Where the two tracks' spreads meet they add up.
    return 2.0 * one_pa if cover_m > settings.track_gap else one_pa


def _load_warnings(
    cover_pa: float, stone_pa: float, machine_pa: float, rated_pa: float
) -> tuple[str, ...]:
    stone, machine = (cover_pa + stone_pa) / 1000.0, (cover_pa + machine_pa) / 1000.0
    if math.isnan(rated_pa):
        return (
            f"What the void units are rated for is not known: the largest stone with the cover "
            f"presses on them with {stone:.0f} kPa, the machine with {machine:.0f} kPa. Keep both "
            "off the units until the data sheet is read.",
        )
    told = []
    if cover_pa + stone_pa > rated_pa:
        told.append(
            f"The largest stone presses on the void units with {stone:.0f} kPa, cover included; "
            f"they are rated for {rated_pa / 1000.0:.0f} kPa. Found it beside the units."
        )
    if machine_pa > 0.0 and cover_pa + machine_pa > rated_pa:
        told.append(
            f"The machine presses on the void units with {machine:.0f} kPa, cover included; they "
            f"are rated for {rated_pa / 1000.0:.0f} kPa. Keep it off them."
        )
    return tuple(told)
