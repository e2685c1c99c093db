"""Bed levels on an alignment: the cheapest bed that keeps every limit, or which limit fails."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geo_site.bed_levels import (
    FALL,
    POOL,
    BedLimits,
    BedPath,
    BedRules,
    best_bed,
    even_hollow,
    kinds_along,
    rules_along,
    step_steepness_ratio,
)
from geo_site.layout.alignment import Alignment
from geo_site.layout.parameters import LayoutParameters
from geo_site.layout.place import Place
from geo_site.layout.sections import crown_width, cut_areas, fill_areas

__all__ = ["Profile", "fit_bed", "why_no_bed"]

Floats = NDArray[np.float64]

_ROUNDING = 1e-9
_FIRMER = (1.0, 4.0, 16.0, 64.0)  # how much more steps count, until their steepness is natural
_NATURAL = (1.0, 2.0)


@dataclass(frozen=True, kw_only=True)
class Profile:
    """A bed on an alignment.

    Attributes
    ----------
    bed_m : ndarray, shape (n,)
        Sill levels.
    kinds : ndarray of int, shape (n - 1,)
        Of each step: ``POOL``, ``RIFFLE``, ``FALL`` of ``bed_levels``.
    cost : float
        Of the levels, m3 of cut.
    hollow_m : float
        Depth of the pools' hollows.
    step_ratio : float
        Step steepness over mean slope; NaN where it means nothing.
    """

    bed_m: Floats
    kinds: NDArray[np.int64]
    cost: float
    hollow_m: float
    step_ratio: float

    @property
    def fall_m(self) -> float:
        """First level less the last."""
        return float(self.bed_m[0] - self.bed_m[-1])


def fit_bed(alignment: Alignment, place: Place, parameters: LayoutParameters) -> Profile | None:
    """Find the cheapest bed whose steps are as steep as natural ones where that can be.

    Returns
    -------
    Profile or None
        None where no bed keeps the limits.
    """
    rules = _rules(alignment, parameters)
    station_cost = _station_costs(alignment, place, parameters)
    start_cost = _start_costs(parameters)
    first: Profile | None = None
    for firmness in _FIRMER:
        path = best_bed(
            station_cost,
            start_cost,
            rules,
            riffle_cost=firmness * parameters.riffle_cost * parameters.level_step,
            fall_cost=_fall_costs(rules, firmness, parameters),
        )
        if path is None:
            return None
        profile = _profile(path, alignment, rules, place, parameters)
        first = profile if first is None else first
        if _is_natural(profile, alignment):
            return profile
    return first


def _rules(alignment: Alignment, parameters: LayoutParameters) -> BedRules:
    limits = BedLimits(
        level_step_m=parameters.level_step,
        steepest_riffle=parameters.steepest_riffle,
        least_fall_m=parameters.least_fall_height,
        greatest_fall_m=parameters.greatest_fall_height,
        least_pool_m=parameters.least_pool_length,
    )
    return rules_along(alignment.stations_m, alignment.pool_end, limits)


def _station_costs(alignment: Alignment, place: Place, parameters: LayoutParameters) -> Floats:
    """Earth that each level moves at each station, as cost; inf beyond a limit."""
    levels = np.arange(len(_start_costs(parameters))) * parameters.level_step
    above_m = place.end_level_m + levels[np.newaxis, :] - alignment.ground_m[:, np.newaxis]
    pit = alignment.in_pit[:, np.newaxis]
    lowest_m, highest_m = _heights_allowed(alignment, parameters)
    allowed = (above_m <= highest_m[:, np.newaxis] + _ROUNDING) & (
        above_m >= lowest_m[:, np.newaxis] - _ROUNDING
    )
    cut = np.where(pit, 0.0, cut_areas(above_m, parameters))
    per_metre = cut + parameters.fill_cost * fill_areas(above_m, parameters)
    shares_m = _shares(alignment.stations_m)[:, np.newaxis]
    cost: Floats = np.where(allowed, per_metre * shares_m, np.inf)
    return cost


def _heights_allowed(alignment: Alignment, parameters: LayoutParameters) -> tuple[Floats, Floats]:
    """Least and greatest height above the ground: the limits, and the room for the sides.

    Over the excavation the ground is dug and filled anyway: no least height, no foot of a berm.
    """
    p = parameters
    berm_room_m = (alignment.room_m - crown_width(p) / 2.0) / p.berm_side
    highest_m = np.minimum(p.berm_limit, np.maximum(berm_room_m, 0.0))
    deep_m = (alignment.room_m - p.bed_width / 2.0) / max(p.cut_side, _ROUNDING)
    lowest_m = np.maximum(-p.cut_limit, p.bed_thickness - deep_m)
    lowest_m = np.where(alignment.in_pit, -np.inf, lowest_m)
    return lowest_m, np.where(alignment.in_pit, p.berm_limit, highest_m)


def _shares(stations_m: Floats) -> Floats:
    """Length that each station stands for (trapezoidal rule)."""
    half_m = np.diff(stations_m) / 2.0
    return np.asarray(np.pad(half_m, (0, 1)) + np.pad(half_m, (1, 0)))


def _start_costs(parameters: LayoutParameters) -> Floats:
    p = parameters
    count = int(p.greatest_fall / p.level_step + _ROUNDING) + 1
    fall_m = np.arange(count) * p.level_step
    short_m, over_m = np.maximum(p.wanted_fall - fall_m, 0.0), np.maximum(fall_m - p.wanted_fall, 0)
    cost = p.shortfall_cost * short_m + p.excess_cost * over_m
    return np.where(fall_m >= p.least_fall - _ROUNDING, cost, np.inf)


def _fall_costs(rules: BedRules, firmness: float, parameters: LayoutParameters) -> Floats:
    height_m = np.arange(rules.greatest_fall_levels + 1) * parameters.level_step
    low_m = np.maximum(parameters.least_pool_depth - height_m, 0.0)
    return np.asarray(parameters.fall_cost + firmness * parameters.step_cost * low_m)


def _profile(
    path: BedPath,
    alignment: Alignment,
    rules: BedRules,
    place: Place,
    parameters: LayoutParameters,
) -> Profile:
    kinds = kinds_along(
        path.levels,
        alignment.stations_m,
        rules,
        pool_end=alignment.pool_end,
        least_pool_m=parameters.least_pool_length,
    )
    bed_m: Floats = np.asarray(place.end_level_m + path.levels * parameters.level_step)
    falls = np.flatnonzero(kinds == FALL)
    heights_m = bed_m[falls] - bed_m[falls + 1]
    lands = np.array([kinds[i + 1] == POOL if i + 1 < len(kinds) else False for i in falls], bool)
    bounds_m = (parameters.least_pool_depth, parameters.greatest_pool_depth)
    drop_m = float(bed_m[0] - bed_m[-1])
    hollow_m = even_hollow(heights_m, int(np.sum(lands)), drop_m, bounds_m)
    return Profile(
        bed_m=bed_m,
        kinds=kinds,
        cost=path.cost,
        hollow_m=hollow_m,
        step_ratio=step_steepness_ratio(heights_m + hollow_m * lands, alignment.length_m, drop_m),
    )


def _is_natural(profile: Profile, alignment: Alignment) -> bool:
    """Whether the steps are as steep as natural ones, or the stream too gentle for steps."""
    slope = profile.fall_m / alignment.length_m
    if np.isnan(profile.step_ratio):
        return bool(np.isnan(step_steepness_ratio(np.ones(1), 1.0, slope)))
    return _NATURAL[0] - _ROUNDING <= profile.step_ratio <= _NATURAL[1] + _ROUNDING


def why_no_bed(alignment: Alignment, place: Place, parameters: LayoutParameters) -> str:
    """Say which limit, if lifted alone, would give a bed."""
    if np.any(np.isnan(alignment.ground_m)):
        return "the terrain has no data along the way"
    loose = {
        "cut_limit": {"cut_limit": 100.0},
        "berm_limit": {"berm_limit": 100.0},
        "least_pool_length": {"least_pool_length": parameters.station_step},
        "greatest_fall_height": {"greatest_fall_height": parameters.greatest_fall},
        "least_fall_height": {"least_fall_height": parameters.level_step},
    }
    for name, lifted in loose.items():
        if fit_bed(alignment, place, parameters.model_copy(update=lifted)) is not None:
            value = getattr(parameters, name)
            return (
                f"no bed fits the ground on the best way: {name} of {value:g} m stands against it"
            )
    return (
        "no bed fits the best way within the limits of cut, berm, falls, pools and room beside it"
    )
