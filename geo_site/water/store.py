"""The water that is kept: what the basin holds."""

from __future__ import annotations

from dataclasses import dataclass

from geo_site.siting import BasinDesign, Placement
from geo_site.water.records import WaterParameters

__all__ = ["Store", "store"]


@dataclass(frozen=True, kw_only=True)
class Store:
    """What the basin holds in its place.

    Attributes
    ----------
    units : int
        Void units laid.
    net_m2 : float
        Water for each metre of depth in the units.
    full_m, lowest_m : float
        Level when full, and lowest that the pump can draw.
    stored_m3, usable_m3, gravel_m3 : float
        In the units; of that usable; in the gravel beside them, of use besides.
    """

    units: int
    net_m2: float
    full_m: float
    lowest_m: float
    stored_m3: float
    usable_m3: float
    gravel_m3: float


def store(design: BasinDesign, placement: Placement, parameters: WaterParameters) -> Store:
    """Fill the basin: to the units' top, or to the freeboard below the rim if that is lower."""
    arrangement = placement.arrangement
    units = arrangement.rows * arrangement.columns * design.layers
    net_m2 = design.stored_m3 / design.units * units / design.unit_height_m
    bottom_m = placement.floor_level_m + design.bedding_m
    top_m = bottom_m + design.unit_height_m
    full_m = min(placement.rim_level_m - parameters.freeboard, top_m)
    lowest_m = bottom_m + parameters.pump_reach
    beside_m2 = float(placement.pit_floor.area - placement.footprint.area)
    usable_m = max(full_m - lowest_m, 0.0)
    return Store(
        units=units,
        net_m2=net_m2,
        full_m=full_m,
        lowest_m=lowest_m,
        stored_m3=net_m2 * max(full_m - bottom_m, 0.0),
        usable_m3=net_m2 * usable_m,
        gravel_m3=parameters.gravel_void_ratio * beside_m2 * usable_m,
    )
