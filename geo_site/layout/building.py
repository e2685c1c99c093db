"""A whole layout from a line, its bed and what lies round it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import LineString

from geo_site.layout.alignment import Alignment, length_within
from geo_site.layout.parameters import LayoutParameters
from geo_site.layout.pipe import lay_pipe, sink_pipe
from geo_site.layout.place import Place
from geo_site.layout.profile import Profile
from geo_site.layout.results import Fall, Layout, Pool
from geo_site.layout.sections import berm_volume_m3, cut_areas, hollow_share
from geo_site.layout.shapes import (
    KIND_NAMES,
    berm_outline,
    dig_outline,
    falls_of,
    pools_of,
    reaches_of,
    stream_bed,
    with_levels,
)

__all__ = ["Given", "build"]


@dataclass(frozen=True, kw_only=True)
class Given:
    """Parts of a stream that a person drew.

    Attributes
    ----------
    pools : tuple of Pool or None
        None: worked out.
    falls : tuple of Fall or None
        None: worked out.
    pipe : shapely.LineString or None
        In plan, pump first; None: worked out.
    """

    pools: tuple[Pool, ...] | None = None
    falls: tuple[Fall, ...] | None = None
    pipe: LineString | None = None


def build(
    alignment: Alignment,
    profile: Profile,
    place: Place,
    parameters: LayoutParameters,
    given: Given | None = None,
) -> Layout:
    """Work out everything that follows from a line and its bed.

    Parameters
    ----------
    alignment : Alignment
        In plan.
    profile : Profile
        Levels.
    place : Place
        The surroundings.
    parameters : LayoutParameters
        Sizes.
    given : Given, optional
        What is kept as drawn.

    Returns
    -------
    Layout
        The stream.
    """
    given = given or Given()
    pools = given.pools
    if pools is None:
        pools = pools_of(alignment, profile, place, parameters)
    bed = stream_bed(alignment, pools, parameters)
    dig = dig_outline(alignment, profile, bed, parameters)
    if given.pipe is None:
        pipe, under_bed = lay_pipe(alignment, profile, place, parameters)
    else:
        pipe, under_bed = sink_pipe(given.pipe, alignment, profile, place, parameters)
    above_m = _berm_heights(alignment, profile)
    names = np.array([KIND_NAMES[int(kind)] for kind in profile.kinds])
    straight_m = float(np.hypot(*(alignment.xy[-1] - alignment.xy[0])))
    return Layout(
        alignment=with_levels(alignment, profile),
        stations_m=alignment.stations_m,
        ground_m=alignment.ground_m,
        bed_m=profile.bed_m,
        kinds=np.append(names, names[-1]),
        reaches=reaches_of(alignment, profile),
        falls=falls_of(alignment, profile, parameters) if given.falls is None else given.falls,
        pools=pools,
        bed=bed,
        dig=dig,
        pipe=pipe,
        trench_width_m=parameters.pipe_trench_width,
        pipe_under_bed=under_bed,
        lip_level_m=float(profile.bed_m[0]),
        fall_m=profile.fall_m,
        length_m=alignment.length_m,
        sinuosity=alignment.length_m / straight_m if straight_m > 0.0 else np.inf,
        ground_fall_m=float(alignment.ground_m[0]) - place.rim_level_m,
        berm_height_m=float(np.max(above_m)),
        berm_m3=berm_volume_m3(above_m, alignment.stations_m, parameters),
        stream_cut_m3=_cut_m3(alignment, profile, pools, parameters),
        berm=berm_outline(alignment, profile, parameters),
        hand_dig_m=length_within(alignment.line, dig, place.hand_dig),
        step_ratio=profile.step_ratio,
    )


def _berm_heights(alignment: Alignment, profile: Profile) -> NDArray[np.float64]:
    above_m = np.maximum(profile.bed_m - alignment.ground_m, 0.0)
    return np.where(alignment.in_pit, 0.0, above_m)


def _cut_m3(
    alignment: Alignment, profile: Profile, pools: tuple[Pool, ...], parameters: LayoutParameters
) -> float:
    """Cut for bed and hollows where the basin's excavation has not dug already."""
    above_m = profile.bed_m - alignment.ground_m
    areas = np.where(alignment.in_pit, 0.0, cut_areas(above_m, parameters))
    cut_m3 = float(np.trapezoid(areas, alignment.stations_m))
    share = hollow_share(above_m, profile.hollow_m, parameters) * ~alignment.in_pit
    for pool in pools:
        inside = (alignment.stations_m >= pool.from_m) & (alignment.stations_m <= pool.to_m)
        hollow_m3 = np.pi / 4.0 * pool.depth_m * pool.geometry.area
        cut_m3 += hollow_m3 * float(np.mean(share[inside]))
    return cut_m3
