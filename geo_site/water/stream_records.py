"""What the running water does at lips, on riffles and in pools, and what is wrong with it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from geo_site.water.levels import NarrowWater
from geo_site.water.profile import Profile
from geo_site.water.records import FallWater, PoolWater, ReachWater

__all__ = ["Flag", "FlagKind", "LipWater", "RiffleWater", "Running"]

FlagKind = Literal[
    "head_over_limit",
    "drowned",
    "shallow_plunge",
    "dry_riffle",
    "loose_stone",
    "rapid",
    "jump",
    "choked",
    "slab_reached",
    "narrow_left_out",
    "low_bank",
    "unknown_bank",
]


@dataclass(frozen=True, kw_only=True)
class Flag:
    """One thing about the running water that somebody must know.

    Attributes
    ----------
    kind : str
        Which rule.
    place : str
        Where: ``"fall 2"``, ``"reach 4"``, ``"station 3.2 m"``.
    sentence : str
        The whole thing in words.
    is_refused : bool
        The stream cannot carry the flow as laid out.
    """

    kind: FlagKind
    place: str
    sentence: str
    is_refused: bool = False


@dataclass(frozen=True, kw_only=True)
class LipWater:
    """Running water on one lip and at the foot of its fall.

    Attributes
    ----------
    sequence : int
        Of the fall; 0 for a spillway that is no fall's lip.
    formula : str
        Which weir.
    head_m, energy_m : float
        Level before the lip above it; the same with the velocity head.
    limit_m : float
        Head beyond which the flow is refused.
    tail_m : float
        Level below above the lip; below 0 the fall is free.
    foot_depth_m : float
        Water at the foot of the fall, over the deepest bed; NaN for the spillway.
    plunge_m : float
        Water wanted there: the share of the fall's height, and the depth that makes the jet jump
        at the foot (Rand), whichever is more.
    """

    sequence: int
    formula: str
    head_m: float
    energy_m: float
    limit_m: float
    tail_m: float
    foot_depth_m: float
    plunge_m: float


@dataclass(frozen=True, kw_only=True)
class RiffleWater:
    """Running water on one riffle, with what the range of roughness makes of it.

    Attributes
    ----------
    sequence : int
        As in the layout.
    depth_m : float
        Mean depth.
    low_depth_m, high_depth_m : float
        The same with the least and the greatest roughness.
    velocity_ms, froude : float
        Greatest along it.
    shear_pa : float
        Shear on its bed, from its mean depth and the mean fall of its energy line. Rougher beds
        are deeper, but of larger stones.
    stone_m : float
        Size of stone that stays put under it.
    """

    sequence: int
    depth_m: float
    low_depth_m: float
    high_depth_m: float
    velocity_ms: float
    froude: float
    shear_pa: float
    stone_m: float


@dataclass(frozen=True, kw_only=True)
class Running:
    """Running water along the whole stream, downstream.

    Attributes
    ----------
    flow_m3s, head_m : float
        Flow, and head on the spillway lip.
    spillway_level_m : float
        Level behind the spillway lip.
    reaches, falls, pools : tuple
        Results, each in the layout's order.
    drowned : tuple of int
        Falls whose lip lies under the water below.
    lips : tuple of LipWater
        The spillway, where it is no fall's lip, and the falls.
    riffles : tuple of RiffleWater
        In order.
    narrows : tuple of NarrowWater
        In order.
    standing_m3, moving_m3 : float
        What stays in the hollows when the pump stops, and what runs back.
    low_moving_m3, high_moving_m3 : float
        What runs back with the least and the greatest roughness.
    profile : Profile
        Along the stations.
    flags : tuple of Flag
        What somebody must know.
    """

    flow_m3s: float
    head_m: float
    spillway_level_m: float
    reaches: tuple[ReachWater, ...]
    falls: tuple[FallWater, ...]
    pools: tuple[PoolWater, ...]
    drowned: tuple[int, ...]
    lips: tuple[LipWater, ...]
    riffles: tuple[RiffleWater, ...]
    narrows: tuple[NarrowWater, ...]
    standing_m3: float
    moving_m3: float
    low_moving_m3: float
    high_moving_m3: float
    profile: Profile
    flags: tuple[Flag, ...]
