"""The water that is kept: what the basin holds, what is asked of it, and whether it is enough.

Question
    How much can the pump draw before it sucks air, and does what comes back at a stop fit in?
In
    The basin's design and place; the moving water, the pipe's content, the losses.
Out
    :class:`Store` (what is there), :class:`Demand` (what is asked), :class:`StoreCheck`.
Method
    Net volume by level of void units, pump chamber and, where it counts, gravel. The pump must be
    able to draw what moves, what the pipe takes, what is lost until the next refill and a
    reserve; what moves must fit in again when the pump stops.
Reference
    Continuity. The void ratio decides, never the gross volume of the units.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from geo_site.siting import BasinDesign, Placement
from geo_site.water.curve import Band, BasinCurve, curve_of
from geo_site.water.records import WaterParameters

__all__ = [
    "Demand",
    "Store",
    "StoreCheck",
    "check_store",
    "demand",
    "store",
    "stored_for",
    "units_needed",
]

_CLOSE = 1e-9  # relative; what is equal by construction differs by rounding


@dataclass(frozen=True, kw_only=True)
class Store:
    """What the basin holds in its place.

    Attributes
    ----------
    units, layers : int
        Void units laid, in how many layers.
    net_m2 : float
        Water for each metre of depth in the units.
    bottom_m, full_m, lowest_m : float
        Level of the units' floor, when full, and lowest that the pump can draw.
    overflow_m : float
        Level at which water leaves over the rim.
    stored_m3, usable_m3 : float
        In units and pump chamber, and in the gravel where it counts; of that what the pump reaches.
    gravel_m3 : float
        In the gravel beside the units above the pump's reach, whether it counts or not.
    chamber_m3 : float
        Of the stored water, in the pump chamber.
    each_m3 : float
        Usable water of one unit.
    first_fill_m3 : float
        What it takes to fill the empty basin: the gravel under and beside the units takes its
        water whether it counts or not.
    curve : BasinCurve
        Volume by level of all that counts, up to the overflow.
    flags : tuple of str
        What does not fit, a sentence each.
    """

    units: int
    layers: int
    net_m2: float
    bottom_m: float
    full_m: float
    lowest_m: float
    overflow_m: float
    stored_m3: float
    usable_m3: float
    gravel_m3: float
    chamber_m3: float
    each_m3: float
    first_fill_m3: float
    curve: BasinCurve
    flags: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class _Shape:
    """Levels and net areas of a basin in its place."""

    bottom_m: float
    top_m: float
    rim_m: float
    chamber_floor_m: float
    units_m2: float
    chamber_m2: float
    beside_m2: float
    cover_m2: float  # over and under the units: the whole pit floor


def store(design: BasinDesign, placement: Placement, parameters: WaterParameters) -> Store:
    """Fill the basin: to the units' top, or to the freeboard below the rim if that is lower.

    Parameters
    ----------
    design : BasinDesign
        The basin.
    placement : Placement
        Its place.
    parameters : WaterParameters
        Freeboard, what the pump does not reach, gravel, pump chamber.

    Returns
    -------
    Store
        What is laid counts, which may be more units than the design's least.
    """
    shape = _shape(design, placement, parameters)
    units = placement.arrangement.rows * placement.arrangement.columns * design.layers
    lowest_m = min(shape.bottom_m, shape.chamber_floor_m) + parameters.pump_reach
    full_m = min(shape.rim_m - parameters.freeboard, shape.top_m)
    curve = curve_of(_bands(shape, gravel_counts=parameters.store.gravel_counts))
    drawn_m = max(full_m - max(lowest_m, shape.bottom_m), 0.0)
    stored_m3 = curve.volume_of(full_m)
    return Store(
        units=units,
        layers=design.layers,
        net_m2=shape.units_m2,
        bottom_m=shape.bottom_m,
        full_m=full_m,
        lowest_m=lowest_m,
        overflow_m=curve.overflow_m,
        stored_m3=stored_m3,
        usable_m3=max(stored_m3 - curve.volume_of(lowest_m), 0.0),
        gravel_m3=shape.beside_m2 * drawn_m,
        chamber_m3=shape.chamber_m2 * max(full_m - shape.chamber_floor_m, 0.0),
        each_m3=shape.units_m2 * drawn_m / units,
        first_fill_m3=_first_fill(shape, full_m, design.bedding_m),
        curve=curve,
        flags=_flags(design, placement, parameters),
    )


def _shape(design: BasinDesign, placement: Placement, parameters: WaterParameters) -> _Shape:
    arrangement, kept = placement.arrangement, parameters.store
    units = arrangement.rows * arrangement.columns * design.layers
    bottom_m = placement.floor_level_m + design.bedding_m
    deeper_m = kept.chamber_depth if kept.chamber_area > 0.0 else 0.0
    beside_m2 = max(_beside(placement) - kept.chamber_area, 0.0)
    return _Shape(
        bottom_m=bottom_m,
        top_m=bottom_m + design.unit_height_m,
        rim_m=placement.rim_level_m,
        chamber_floor_m=bottom_m - deeper_m,
        units_m2=design.stored_m3 / design.units * units / design.unit_height_m,
        chamber_m2=kept.chamber_area,
        beside_m2=parameters.gravel_void_ratio * beside_m2,
        cover_m2=parameters.gravel_void_ratio * float(placement.pit_floor.area),
    )


def _first_fill(shape: _Shape, full_m: float, bedding_m: float) -> float:
    whole = curve_of(_bands(shape, gravel_counts=True))
    return whole.volume_of(full_m) + shape.cover_m2 * bedding_m


def _beside(placement: Placement) -> float:
    """Plan area of the gravel beside the units, m2."""
    return float(placement.pit_floor.area - placement.footprint.area)


def _bands(shape: _Shape, *, gravel_counts: bool) -> list[Band]:
    """Parts that count; nothing stands above the rim."""
    top_m = min(shape.top_m, shape.rim_m)
    parts = [
        (shape.bottom_m, top_m, shape.units_m2),
        (shape.chamber_floor_m, top_m, shape.chamber_m2),
    ]
    if gravel_counts:
        parts += [(shape.bottom_m, top_m, shape.beside_m2), (top_m, shape.rim_m, shape.cover_m2)]
    return [Band(bottom_m=low, top_m=high, net_m2=net) for low, high, net in parts]


def _flags(
    design: BasinDesign, placement: Placement, parameters: WaterParameters
) -> tuple[str, ...]:
    kept, told = parameters.store, []
    if kept.chamber_area > _beside(placement):
        told.append(
            f"The pump chamber of {kept.chamber_area:.2f} m2 does not fit into the "
            f"{_beside(placement):.2f} m2 of gravel beside the units: widen the overdig."
        )
    if kept.chamber_area > 0.0 and kept.chamber_depth > design.bedding_m:
        told.append(
            f"The pump chamber reaches {kept.chamber_depth - design.bedding_m:.2f} m below the "
            "pit's floor: the pit is deeper there than its outline and its clearances assume."
        )
    if kept.gravel_counts:
        told.append(
            "The gravel round the units counts as stored water: its voids are an estimate, and "
            "silt and roots take them."
        )
    return tuple(told)


@dataclass(frozen=True, kw_only=True)
class Demand:
    """What the basin must be able to give, above what the pump cannot reach.

    Attributes
    ----------
    moving_m3, pipe_m3 : float
        On its way in the stream, and in the pipe where no check valve holds it.
    losses_m3, reserve_m3 : float
        Lost until the next refill, and kept besides.
    """

    moving_m3: float
    pipe_m3: float
    losses_m3: float
    reserve_m3: float

    @property
    def returns_m3(self) -> float:
        """What comes back when the pump stops, m3."""
        return self.moving_m3 + self.pipe_m3

    @property
    def required_m3(self) -> float:
        """All together, m3."""
        return self.returns_m3 + self.losses_m3 + self.reserve_m3


def demand(
    moving_m3: float,
    pipe_content_m3: float,
    losses_m3: float,
    parameters: WaterParameters,
    doubt_m3: float = 0.0,
) -> Demand:
    """Say what the basin must give.

    Parameters
    ----------
    moving_m3, pipe_content_m3, losses_m3 : float
        Moving water, water in the pipe, losses until the next refill.
    parameters : WaterParameters
        Reserve as a part of the moving water, check valve.
    doubt_m3 : float
        Moving water that rougher stone may add: the reserve is at least that.

    Returns
    -------
    Demand
        A pipe that a check valve keeps full takes its water once, at the first fill.
    """
    return Demand(
        moving_m3=moving_m3,
        pipe_m3=0.0 if parameters.store.check_valve else pipe_content_m3,
        losses_m3=losses_m3,
        reserve_m3=max(parameters.reserve * moving_m3, doubt_m3),
    )


@dataclass(frozen=True, kw_only=True)
class StoreCheck:
    """Whether the basin is enough.

    Attributes
    ----------
    is_enough : bool
        Whether the pump can draw what is required.
    fits_at_stop : bool
        Whether what comes back at a stop fits under the overflow.
    running_level_m : float
        Of the basin while the pump runs, just filled.
    free_room_m3 : float
        Between that level and the overflow.
    units_more : int or None
        Void units more that would be enough; 0 where it is; None where no number is.
    warnings : tuple of str
        What is wrong, a sentence each.
    """

    is_enough: bool
    fits_at_stop: bool
    running_level_m: float
    free_room_m3: float
    units_more: int | None
    warnings: tuple[str, ...]


def check_store(kept: Store, asked: Demand, parameters: WaterParameters) -> StoreCheck:
    """Hold what is kept against what is asked.

    Parameters
    ----------
    kept : Store
        What the basin holds.
    asked : Demand
        What it must give.
    parameters : WaterParameters
        Whether the basin is topped up while the pump runs.

    Returns
    -------
    StoreCheck
        With its warnings.
    """
    filled_m3 = kept.curve.volume_of(kept.full_m)
    running_m3 = filled_m3
    if not parameters.store.filled_while_running:
        running_m3 = max(filled_m3 - asked.returns_m3, 0.0)
    free_m3 = kept.curve.capacity_m3 - running_m3
    needed = units_needed(asked.required_m3, kept)
    is_enough = kept.usable_m3 >= asked.required_m3 * (1.0 - _CLOSE)
    fits = free_m3 >= asked.returns_m3 * (1.0 - _CLOSE) or running_m3 <= 0.0
    more = 0 if is_enough else None if needed is None else needed - kept.units
    return StoreCheck(
        is_enough=is_enough,
        fits_at_stop=fits,
        running_level_m=kept.curve.level_of(running_m3),
        free_room_m3=free_m3,
        units_more=more,
        warnings=(
            *(() if is_enough else (_dry(kept, asked, more),)),
            *(() if fits else (_over(free_m3, asked),)),
            *kept.flags,
        ),
    )


def units_needed(required_m3: float, kept: Store) -> int | None:
    """Least number of void units, in whole layers, from which the pump draws what is required.

    Pump chamber and counted gravel stay as they are: gravel beside further units is not counted.

    Parameters
    ----------
    required_m3 : float
        What the pump must be able to draw, m3.
    kept : Store
        The basin as it is.

    Returns
    -------
    int or None
        Units in all, not more units; None where the pump reaches no water of any unit.
    """
    if kept.each_m3 <= 0.0:
        return None if required_m3 > kept.usable_m3 else kept.layers

    def is_enough(units: int) -> bool:
        usable_m3 = kept.usable_m3 + (units - kept.units) * kept.each_m3
        return usable_m3 >= required_m3 * (1.0 - _CLOSE)

    short_m3 = required_m3 - kept.usable_m3
    count = kept.units + math.ceil(short_m3 / kept.each_m3 / kept.layers) * kept.layers
    count = max(count, kept.layers)
    while not is_enough(count):
        count += kept.layers
    while count > kept.layers and is_enough(count - kept.layers):
        count -= kept.layers
    return count


def stored_for(units: int, design: BasinDesign) -> float:
    """Volume that makes :func:`geo_site.siting.design_basin` choose a number of units.

    Parameters
    ----------
    units : int
        Units in all.
    design : BasinDesign
        A design with the same unit.

    Returns
    -------
    float
        Net volume of so many units, m3.
    """
    return design.stored_m3 / design.units * units


def _dry(kept: Store, asked: Demand, more: int | None) -> str:
    advice = f"{more} more units would do" if more else "the pump reaches none of it"
    return (
        f"The basin runs dry: {kept.usable_m3:.2f} m3 can be pumped and {asked.required_m3:.2f} m3 "
        f"are needed; {advice}."
    )


def _over(free_m3: float, asked: Demand) -> str:
    return (
        f"The basin overflows when the pump stops: {asked.returns_m3:.2f} m3 come back and "
        f"{free_m3:.2f} m3 are free while it is kept full; set the float lower or fill it with "
        "the pump stopped."
    )
