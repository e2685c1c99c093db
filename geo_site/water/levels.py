"""Levels of one flow along the whole stream, from control to control.

From the stream's free end upward: within a piece by standard step, tranquil or rapid by momentum;
at a fall by the energy that its lip asks for under the water below; at a narrow place by the
energy that the gaps ask for. At the foot of a fall that lands on no pool the jet shoots on.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from geo_site import channels, weirs
from geo_site.channels import Flowing, Losses, Trapezoid
from geo_site.water.flow import spillway_lip, spillway_width
from geo_site.water.records import WaterParameters
from geo_site.water.stations import Piece, Stream, fall_of
from geo_site.water.stream_settings import LevelParameters, Narrow

__all__ = ["Crest", "NarrowWater", "Solution", "solve"]

_HALVINGS = 60


@dataclass(frozen=True, kw_only=True)
class Crest:
    """A lip with the flow on it.

    Attributes
    ----------
    lip : Lip
        The lip.
    reach : int or None
        Index of the fall's reach; None for a spillway that is no fall's lip.
    level_m : float
        Of the crest.
    tail_m : float
        Level below above the crest; below 0 for a free fall.
    energy_m : float
        Energy asked for above the crest.
    head_m : float
        Level before it above the crest.
    """

    lip: weirs.Lip
    reach: int | None
    level_m: float
    tail_m: float
    energy_m: float
    head_m: float


@dataclass(frozen=True, kw_only=True)
class NarrowWater:
    """Water at a narrow place.

    Attributes
    ----------
    station_m : float
        Where it is.
    opening_m : float
        Widths of its gaps together, no more than the water is wide.
    depth_m, velocity_ms : float
        In the gaps.
    rise_m : float
        Level above it less level below it.
    is_choked : bool
        The gaps hold the water up by themselves, at critical depth.
    is_full : bool
        The water above reaches the slab's underside.
    """

    station_m: float
    opening_m: float
    depth_m: float
    velocity_ms: float
    rise_m: float
    is_choked: bool
    is_full: bool


@dataclass(frozen=True, kw_only=True)
class Solution:
    """Levels of one flow.

    Attributes
    ----------
    flow_m3s : float
        The flow.
    pieces : tuple of Flowing
        Of each piece, downstream.
    crests : tuple of Crest
        Downstream, the spillway first.
    narrows : tuple of NarrowWater
        Downstream.
    """

    flow_m3s: float
    pieces: tuple[Flowing, ...]
    crests: tuple[Crest, ...]
    narrows: tuple[NarrowWater, ...]


def solve(stream: Stream, flow_m3s: float, parameters: WaterParameters) -> Solution:
    """Find the levels of a flow.

    Parameters
    ----------
    stream : Stream
        Pieces.
    flow_m3s : float
        Flow, greater than 0.
    parameters : WaterParameters
        Lips, narrow places, losses.

    Returns
    -------
    Solution
        Energy never rises downstream.

    Raises
    ------
    ValueError
        If the flow is not positive.
    """
    losses = _losses(parameters.levels)
    flowings: list[Flowing] = []
    crests: list[Crest] = []
    narrows: list[NarrowWater] = []
    end_m = 0.0
    for number in range(len(stream.pieces) - 1, -1, -1):
        piece = stream.pieces[number]
        before = stream.pieces[number - 1] if number else None
        start_m = _jet(stream, number, flow_m3s)
        flowing = channels.mixed(piece.channel, flow_m3s, end_m, start_m, losses)
        if isinstance(piece.above, Narrow):
            assert before is not None
            flowing, narrow, end_m = _pass_narrow(
                (before, piece), flowing, end_m, flow_m3s, parameters
            )
            narrows.insert(0, narrow)
        else:
            crest = _crest(stream, (before, piece), flowing, flow_m3s, parameters)
            crests.insert(0, crest)
            end_m = _depth_behind(crest, before, flow_m3s) if before else math.nan
        flowings.insert(0, flowing)
    crests = [_with_head(crest, stream, flowings, flow_m3s) for crest in crests]
    return Solution(
        flow_m3s=flow_m3s, pieces=tuple(flowings), crests=tuple(crests), narrows=tuple(narrows)
    )


def _losses(levels: LevelParameters) -> Losses:
    return Losses(contraction=levels.contraction_loss, expansion=levels.expansion_loss)


def _section(piece: Piece, index: int) -> Trapezoid:
    return Trapezoid(float(piece.channel.bottom_m[index]), 0.0)


def _jet(stream: Stream, number: int, flow_m3s: float) -> float:
    """Depth at the foot of a fall that lands on no pool, spread over the bed; else NaN."""
    piece = stream.pieces[number]
    if not isinstance(piece.above, int):
        return math.nan
    fall = fall_of(stream.layout.reaches[piece.above], stream.layout)
    if stream.layout.reaches[int(piece.reach[0])].kind == "pool" or fall.height_m <= 0.0:
        return math.nan
    each_m2s = flow_m3s / fall.lip_width_m
    jet_m, _ = channels.drop_depths(each_m2s, fall.height_m)
    return jet_m * fall.lip_width_m / float(piece.channel.bottom_m[0])


def _crest(
    stream: Stream,
    around: tuple[Piece | None, Piece],
    flowing: Flowing,
    flow_m3s: float,
    parameters: WaterParameters,
) -> Crest:
    before, piece = around
    lip, level_m = _lip(stream, before, piece.above, parameters)
    tail_m = float(piece.channel.bed_m[0] + flowing.depth_m[0]) - level_m
    below_m = float(flowing.energy_m[0]) - level_m
    # A spillway that is no fall's lip is set where its water falls free, or wells up.
    drowning_m = tail_m if isinstance(piece.above, int) else 0.0
    return Crest(
        lip=lip,
        reach=piece.above if isinstance(piece.above, int) else None,
        level_m=level_m,
        tail_m=tail_m,
        energy_m=max(weirs.lip_energy(lip, flow_m3s, drowning_m), below_m),
        head_m=math.nan,
    )


def _lip(
    stream: Stream,
    before: Piece | None,
    above: int | Narrow | None,
    parameters: WaterParameters,
) -> tuple[weirs.Lip, float]:
    """Lip above a piece, and the level of its crest."""
    layout = stream.layout
    if before is None or not isinstance(above, int):
        return spillway_lip(spillway_width(layout), parameters), layout.lip_level_m
    fall = fall_of(layout.reaches[above], layout)
    lip = weirs.Lip(
        form=parameters.lip_form,
        width_m=fall.lip_width_m,
        channel_width_m=max(float(before.channel.bottom_m[-1]), fall.lip_width_m),
        height_m=max(fall.lip_level_m - float(before.channel.bed_m[-1]), 0.0),
        contracted_ends=parameters.contracted_ends,
        angle_deg=parameters.notch_angle,
    )
    return lip, fall.lip_level_m


def _depth_behind(crest: Crest, before: Piece, flow_m3s: float) -> float:
    """Depth of the last station before a lip that has the energy that the lip asks for."""
    energy_m = crest.level_m + crest.energy_m - float(before.channel.bed_m[-1])
    return channels.alternate_depths(_section(before, -1), flow_m3s, energy_m)[1]


def _with_head(crest: Crest, stream: Stream, flowings: list[Flowing], flow_m3s: float) -> Crest:
    """Give a crest with the level that stands before it; behind the spillway, in its box."""
    aboves = [piece.above for piece in stream.pieces]
    number = aboves.index(crest.reach) if crest.reach is not None else 0
    if number > 0:
        piece, flowing = stream.pieces[number - 1], flowings[number - 1]
        level_m = float(piece.channel.bed_m[-1] + flowing.depth_m[-1])
        return replace(crest, head_m=level_m - crest.level_m)
    box = Trapezoid(crest.lip.channel_width_m, 0.0)
    height_m = crest.lip.height_m
    depth_m = channels.alternate_depths(box, flow_m3s, height_m + crest.energy_m)[1]
    return replace(crest, head_m=max(depth_m - height_m, crest.tail_m))


def _pass_narrow(
    around: tuple[Piece, Piece],
    flowing: Flowing,
    end_m: float,
    flow_m3s: float,
    parameters: WaterParameters,
) -> tuple[Flowing, NarrowWater, float]:
    """Water at a narrow place, what runs below it, and the depth before it."""
    before, piece = around
    narrow, levels = piece.above, parameters.levels
    assert isinstance(narrow, Narrow)
    floor_m, section = float(piece.channel.bed_m[0]), _section(piece, 0)
    gap = Trapezoid(min(sum(narrow.gaps), section.bottom_m), 0.0)
    depth_m, is_choked = _gap_depth(gap, section, flowing, flow_m3s, levels)
    speed_ms = flow_m3s / gap.area(depth_m)
    head_m = speed_ms**2 / (2.0 * weirs.GRAVITY_MS2)
    if is_choked:
        start_m = channels.alternate_depths(section, flow_m3s, depth_m + head_m)[0]
        losses = _losses(levels)
        flowing = channels.mixed(piece.channel, flow_m3s, end_m, start_m, losses)
    energy_m = depth_m + head_m * (1.0 + levels.narrow_contraction_loss)
    soffit_m = math.inf
    if narrow.soffit is not None:
        soffit_m = narrow.soffit + float(piece.sill_m[0]) - floor_m
    if depth_m > soffit_m:
        through_ms = flow_m3s / (levels.slab_coefficient * gap.bottom_m * soffit_m)
        below_m = float(flowing.depth_m[0])
        energy_m = max(energy_m, below_m + through_ms**2 / (2.0 * weirs.GRAVITY_MS2))
    above_m = channels.alternate_depths(_section(before, -1), flow_m3s, energy_m)[1]
    water = NarrowWater(
        station_m=narrow.station,
        opening_m=gap.bottom_m,
        depth_m=min(depth_m, soffit_m),
        velocity_ms=flow_m3s / gap.area(min(depth_m, soffit_m)),
        rise_m=above_m - float(flowing.depth_m[0]),
        is_choked=is_choked,
        is_full=above_m > soffit_m,
    )
    return flowing, water, above_m


def _gap_depth(
    gap: Trapezoid,
    section: Trapezoid,
    flowing: Flowing,
    flow_m3s: float,
    levels: LevelParameters,
) -> tuple[float, bool]:
    """Depth in the gaps that leaves the energy below after the widening; critical if none does."""
    share, below_m = levels.narrow_expansion_loss, float(flowing.depth_m[0])
    wide_m = (flow_m3s / section.area(below_m)) ** 2 / (2.0 * weirs.GRAVITY_MS2)
    wanted_m = below_m + (1.0 - share) * wide_m

    def left(depth_m: float) -> float:
        head_m = (flow_m3s / gap.area(depth_m)) ** 2 / (2.0 * weirs.GRAVITY_MS2)
        return depth_m + (1.0 - share) * head_m

    low_m, high_m = channels.critical_depth_of(gap, flow_m3s), wanted_m
    if left(low_m) >= wanted_m:
        return low_m, True
    for _ in range(_HALVINGS):
        middle_m = (low_m + high_m) / 2.0
        low_m, high_m = (middle_m, high_m) if left(middle_m) < wanted_m else (low_m, middle_m)
    return high_m, False
