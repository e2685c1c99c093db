"""How likely a digging meets a line that may lie off where it is drawn.

In: the works that dig and the lines. Out: a :class:`Strike` for every pair that is near. Method:
the position uncertainty is read as the half-width that holds the line 95 times in 100, so one
standard deviation is its 1.96th part; the line as a whole is off by a normal error, alike in every
direction. Beside a straight line that runs past the digging only the sideways part counts, and the
chance is a closed form; any other line is drawn many times from a seeded generator. In plan: depth
plays no part, so a chance is that of digging over or through the line. Reference:
``geo_site.probability``.
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, box
from shapely.geometry.base import BaseGeometry

from geo_site.clearance.verdicts import Works
from geo_site.constraints import ConstraintParameters, position_of
from geo_site.constraints.rules import number
from geo_site.probability import sigma_of_half_width, strike_chance
from geo_site.site import Site

__all__ = ["Strike", "find_strikes"]

_STRAIGHT_M = 1e-3  # a line that bends less beside the work is straight
_PAST_SIGMAS = 5.0  # a straight line runs on so far beyond the work on both ends
_NEVER_M = 1e-6


@dataclass(frozen=True, kw_only=True)
class Strike:
    """The chance that one digging meets one line.

    Attributes
    ----------
    work, line_id : str
        The pair.
    distance_m : float
        From the work's edge to the line's outer edge as drawn, m; 0 where they touch.
    sigma_m : float
        Standard deviation of the line's position in each direction, m.
    probability : float
        Chance that they meet in plan, 0 to 1.
    standard_error : float
        Of the chance where it was sampled; 0 for a closed form.
    method : {"closed form", "sampled"}
        How it was found.
    samples : int
        How many positions were drawn; 0 for a closed form.
    """

    work: str
    line_id: str
    distance_m: float
    sigma_m: float
    probability: float
    standard_error: float
    method: Literal["closed form", "sampled"]
    samples: int


def find_strikes(site: Site, works: Works, parameters: ConstraintParameters) -> tuple[Strike, ...]:
    """Work out the chance of meeting a line for every near pair.

    Parameters
    ----------
    site : Site
        With the lines.
    works : Works
        What is dug; piles and ways dig nothing, and the pit stands for the basin.
    parameters : ConstraintParameters
        Position uncertainties, assumed diameter, and how to draw samples.

    Returns
    -------
    tuple of Strike
        Pairs nearer than ``parameters.strike.sigmas`` standard deviations, likeliest first.
    """
    found = [
        strike
        for work, geometry in _diggings(works)
        for line in site.objects["utilities"]
        for strike in _strike(work, geometry, line, parameters)
    ]
    return tuple(sorted(found, key=lambda one: (-one.probability, one.work, one.line_id)))


def _diggings(works: Works) -> Iterator[tuple[str, BaseGeometry]]:
    pit = works.basin if works.basin_excavation is None else works.basin_excavation
    told = (
        ("basin_excavation", pit),
        ("stream", works.stream),
        ("pipe", works.pipe),
        ("silt_fence", works.silt_fence),
    )
    for name, geometry in told:
        if geometry is not None and not geometry.is_empty:
            yield name, shapely.force_2d(geometry)


def _strike(
    work: str, geometry: BaseGeometry, line: Any, parameters: ConstraintParameters
) -> Iterator[Strike]:
    shape = shapely.force_2d(line.geometry)
    half_m = (number(line.diameter_m) or parameters.assumed_diameter) / 2.0
    sigma_m = sigma_of_half_width(position_of(line, parameters).uncertainty_m)
    distance_m = max(float(shape.distance(geometry)) - half_m, 0.0)
    if distance_m > parameters.strike.sigmas * sigma_m:
        return
    span = _span(geometry, shape, _PAST_SIGMAS * sigma_m + half_m)
    if span is not None:
        chance = strike_chance(span[0] - half_m, span[1] + half_m, sigma_m)
        error, samples = 0.0, 0
    else:
        samples = parameters.strike.samples
        seed = [parameters.strike.seed, zlib.crc32(f"{work} {line.id}".encode())]
        shifts = np.random.default_rng(seed).normal(0.0, sigma_m, (samples, 2))
        chance = _share_met(geometry, shape, half_m, shifts)
        error = math.sqrt(chance * (1.0 - chance) / samples)
    yield Strike(
        work=work,
        line_id=str(line.id),
        distance_m=distance_m,
        sigma_m=sigma_m,
        probability=chance,
        standard_error=error,
        method="closed form" if span is not None else "sampled",
        samples=samples,
    )


def _span(work: BaseGeometry, line: BaseGeometry, past_m: float) -> tuple[float, float] | None:
    """How a work in one piece lies across a straight line: signed, nearer side first; else None."""
    pieces = shapely.get_parts(work)
    west, south, east, north = work.bounds
    x, y = (west + east) / 2.0, (south + north) / 2.0
    # So wide that a chord near the work runs past it on both ends, whatever its direction.
    out_m = 2.0 * (math.hypot(east - west, north - south) / 2.0 + past_m)
    window = box(x - out_m, y - out_m, x + out_m, y + out_m)
    beside = shapely.intersection(line, window)
    if len(pieces) != 1 or not isinstance(beside, LineString) or beside.is_empty:
        return None
    corners = shapely.get_coordinates(beside)
    along = corners[-1] - corners[0]
    length_m = float(np.hypot(*along))
    if length_m < _NEVER_M:
        return None
    unit = along / length_m
    across = np.array([-unit[1], unit[0]])
    if np.abs((corners - corners[0]) @ across).max() > _STRAIGHT_M:
        return None
    outline = shapely.get_coordinates(work) - corners[0]
    ahead, aside = outline @ unit, outline @ across
    if ahead.min() < past_m or ahead.max() > length_m - past_m:
        return None
    low, high = float(aside.min()), float(aside.max())
    return (low, high) if low + high >= 0.0 else (-high, -low)


def _share_met(
    work: BaseGeometry, line: BaseGeometry, half_m: float, shifts: NDArray[np.float64]
) -> float:
    """Share of the positions in which they meet: the work is moved the other way."""
    shapely.prepare(line)
    met = shapely.dwithin(line, _copies(work, shifts), half_m)
    return float(met.mean())


def _copies(work: BaseGeometry, shifts: NDArray[np.float64]) -> NDArray[np.object_]:
    copies = np.array([work] * len(shifts), dtype=object)
    counts = shapely.get_num_coordinates(copies)
    corners = shapely.get_coordinates(copies) - np.repeat(shifts, counts, axis=0)
    return np.asarray(shapely.set_coordinates(copies, corners), dtype=object)
