"""Limits of the layout that a drawn stream does not keep."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np
import shapely
from shapely.geometry import LineString, Point

from geo_site.drawn import Breach
from geo_site.layout.alignment import PASSED_M
from geo_site.layout.parameters import LayoutParameters
from geo_site.layout.place import Place
from geo_site.layout.results import Layout, Pool

__all__ = ["broken_limits", "missed_points"]

_ROUNDING = 1e-6


def broken_limits(layout: Layout, place: Place, parameters: LayoutParameters) -> Iterator[Breach]:
    """Compare a layout with every limit.

    Parameters
    ----------
    layout : Layout
        As drawn.
    place : Place
        The basin.
    parameters : LayoutParameters
        The limits.

    Yields
    ------
    Breach
        One for each limit that it does not keep.
    """
    yield from _ends(layout, place)
    p = parameters
    yield from _between("fall", layout.fall_m, ("least_fall", p.least_fall), p.greatest_fall)
    yield from _between(
        "length", layout.length_m, ("least_length", p.least_length), p.greatest_length
    )
    for fall in layout.falls:
        yield from _between(
            f"height of fall {fall.sequence}",
            fall.height_m,
            ("least_fall_height", p.least_fall_height),
            p.greatest_fall_height,
        )
    yield from _at_most("berm_limit", "berm under it", layout.berm_height_m, p.berm_limit)
    deep_m = float(np.max(layout.ground_m - layout.bed_m))
    yield from _at_most("cut_limit", "cut for its bed", deep_m, p.cut_limit)
    yield from _riffles(layout, parameters)
    for pool in layout.pools:
        yield from _of_pool(pool, parameters)


def missed_points(line: LineString, points: Iterable[Point]) -> Iterator[Breach]:
    """Compare a drawn line with the points that it must pass.

    Parameters
    ----------
    line : shapely.LineString
        As drawn.
    points : iterable of shapely.Point
        Each is to be passed within :data:`~geo_site.layout.alignment.PASSED_M`.

    Yields
    ------
    Breach
        One for each that is missed.
    """
    for point in points:
        away_m = float(line.distance(point))
        if away_m > PASSED_M + _ROUNDING:
            told = (
                f"the stream drawn runs {away_m:.2f} m from the point to be passed at "
                f"{point.x:.2f}, {point.y:.2f}: {PASSED_M:g} m is near enough"
            )
            yield _breach("must_pass", PASSED_M, away_m, told)


def _breach(rule: str, asked: float, found: float, sentence: str, unit: str = "m") -> Breach:
    return Breach(
        work="stream",
        rule=rule,
        against="",
        asked=asked,
        found=found,
        unit=unit,
        sentence=sentence,
    )


def _ends(layout: Layout, place: Place) -> Iterator[Breach]:
    lip, end = (Point(layout.alignment.coords[i][:2]) for i in (0, -1))
    short_m = float(shapely.distance(place.footprint, end))
    if short_m > _ROUNDING:
        told = (
            f"the stream drawn ends {short_m:.2f} m short of the basin: draw it on, or delete it "
            "to have it worked out anew"
        )
        yield _breach("ends_in_basin", 0.0, short_m, told)
    if place.footprint.intersects(lip):
        yield _breach("starts_outside", 0.0, 0.0, "the stream drawn begins inside the basin", "-")
    if not layout.alignment.is_simple:
        yield _breach("crosses_itself", 0.0, 0.0, "the stream drawn crosses itself", "-")


def _between(
    words: str, found_m: float, least: tuple[str, float], greatest_m: float
) -> Iterator[Breach]:
    name, least_m = least
    if found_m < least_m - _ROUNDING:
        told = f"the {words} of {found_m:.2f} m is less than the {least_m:g} m of {name}"
        yield _breach(name, least_m, found_m, told)
    if found_m > greatest_m + _ROUNDING:
        name = name.replace("least", "greatest")
        told = f"the {words} of {found_m:.2f} m is more than the {greatest_m:g} m of {name}"
        yield _breach(name, greatest_m, found_m, told)


def _at_most(name: str, words: str, found_m: float, most_m: float) -> Iterator[Breach]:
    if found_m > most_m + _ROUNDING:
        told = f"the {words} is up to {found_m:.2f} m high, more than the {most_m:g} m of {name}"
        yield _breach(name, most_m, found_m, told.replace("cut for its bed is", "cut is"))


def _riffles(layout: Layout, parameters: LayoutParameters) -> Iterator[Breach]:
    steps_m = np.diff(layout.stations_m)
    slopes = -np.diff(layout.bed_m) / steps_m
    steep = slopes[layout.kinds[:-1] == "riffle"]
    most = parameters.steepest_riffle
    found = float(np.max(steep, initial=0.0))
    if found > most * (1.0 + _ROUNDING) + _ROUNDING:
        told = f"a riffle falls at {found:.3f}, steeper than the {most:g} of steepest_riffle"
        yield _breach("steepest_riffle", most, found, told, "-")


def _of_pool(pool: Pool, parameters: LayoutParameters) -> Iterator[Breach]:
    p, words = parameters, f"pool {pool.sequence}"
    yield from _between(
        f"depth of {words}", pool.depth_m, ("least_pool_depth", p.least_pool_depth),
        p.greatest_pool_depth,
    )  # fmt: skip
    length_m = pool.to_m - pool.from_m
    if length_m < p.least_pool_length - _ROUNDING:
        told = f"{words} is {length_m:.2f} m long, less than the {p.least_pool_length:g} m of "
        yield _breach(
            "least_pool_length", p.least_pool_length, length_m, f"{told}least_pool_length"
        )
