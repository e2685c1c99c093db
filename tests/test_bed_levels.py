"""Bed levels: the programme against enumeration, rules by hand, step steepness."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geo_site.bed_levels import (
    FALL,
    POOL,
    RIFFLE,
    BedLimits,
    best_bed,
    even_hollow,
    kinds_along,
    rules_along,
    step_steepness_ratio,
)

STEP_M = 0.1


def is_allowed(
    levels: tuple[int, ...], stations: np.ndarray, pool_end: int, limits: BedLimits
) -> bool:
    """The rules in metres, told again without the arrays of the programme."""
    last = len(levels) - 1
    for i in range(last):
        drop_m = (levels[i] - levels[i + 1]) * limits.level_step_m
        run_m = stations[i + 1] - stations[i]
        if drop_m < -1e-9:
            return False
        if drop_m <= limits.steepest_riffle * run_m + 1e-7:
            continue
        if not limits.least_fall_m - 1e-7 <= drop_m <= limits.greatest_fall_m + 1e-7:
            return False
        if i + 1 == last:
            continue
        run_end = i + 1
        while run_end < last and levels[run_end + 1] == levels[i + 1]:
            run_end += 1
        reach = min(run_end, pool_end)
        if stations[reach] - stations[i + 1] < limits.least_pool_m - 1e-7:
            return False
    return True


def total_cost(
    levels: tuple[int, ...],
    stations: np.ndarray,
    costs: tuple[np.ndarray, np.ndarray],
    limits: BedLimits,
    fall_costs: tuple[float, np.ndarray],
) -> float:
    station_cost, start_cost = costs
    riffle, falls = fall_costs
    total = start_cost[levels[0]] + sum(station_cost[i, k] for i, k in enumerate(levels))
    for i in range(len(levels) - 1):
        drop = levels[i] - levels[i + 1]
        gentle = drop * limits.level_step_m <= (
            limits.steepest_riffle * (stations[i + 1] - stations[i]) + 1e-7
        )
        total += drop * riffle if gentle else falls[drop]
    return total


@st.composite
def problems(draw: st.DrawFn) -> dict:
    n = draw(st.integers(3, 7))
    k = draw(st.integers(2, 5))
    runs = draw(st.lists(st.sampled_from([0.5, 1.0, 1.25]), min_size=n - 1, max_size=n - 1))
    number = st.sampled_from([0.0, 0.25, 0.5, 1.0, 2.0, 3.5, np.inf])
    station_cost = draw(st.lists(number, min_size=n * k, max_size=n * k))
    least = draw(st.integers(1, 3))
    return {
        "stations": np.concatenate([[0.0], np.cumsum(runs)]),
        "station_cost": np.array(station_cost).reshape(n, k),
        "start_cost": np.array(draw(st.lists(number, min_size=k, max_size=k))),
        "pool_end": draw(st.integers(0, n - 1)),
        "limits": BedLimits(
            level_step_m=STEP_M,
            steepest_riffle=draw(st.sampled_from([0.0, 0.1, 0.2])),
            least_fall_m=least * STEP_M,
            greatest_fall_m=(least + draw(st.integers(0, 2))) * STEP_M,
            least_pool_m=draw(st.sampled_from([0.4, 0.5, 1.0, 1.6])),
        ),
        "riffle_cost": draw(st.sampled_from([0.0, 0.3])),
        "fall_cost": np.array([0.0, *(draw(st.sampled_from([0.0, 0.2, 0.7])) for _ in range(6))]),
    }


@settings(max_examples=400, deadline=None)
@given(problems())
def test_same_cost_as_trying_every_bed(problem: dict) -> None:
    stations, limits, pool_end = problem["stations"], problem["limits"], problem["pool_end"]
    costs = problem["station_cost"], problem["start_cost"]
    steps = problem["riffle_cost"], problem["fall_cost"]
    rules = rules_along(stations, pool_end, limits)
    found = best_bed(*costs, rules, riffle_cost=steps[0], fall_cost=steps[1])
    n, k = costs[0].shape
    every = (
        (*levels, 0)
        for levels in product(range(k), repeat=n - 1)
        if is_allowed((*levels, 0), stations, pool_end, limits)
    )
    least = min((total_cost(bed, stations, costs, limits, steps) for bed in every), default=np.inf)
    if found is None:
        assert least == np.inf
        return
    bed = tuple(int(level) for level in found.levels)
    assert is_allowed(bed, stations, pool_end, limits)
    assert found.cost == pytest.approx(least, abs=1e-9)
    assert total_cost(bed, stations, costs, limits, steps) == pytest.approx(least, abs=1e-9)


def limits(**changes: float) -> BedLimits:
    usual = {
        "level_step_m": 0.02,
        "steepest_riffle": 0.08,
        "least_fall_m": 0.10,
        "greatest_fall_m": 0.45,
        "least_pool_m": 0.9,
    }
    return BedLimits(**{**usual, **changes})


def test_limits_met_exactly_are_met() -> None:
    rules = rules_along(np.arange(9) * 0.25, 8, limits(least_pool_m=1.0))
    assert rules.riffle_levels.tolist() == [1] * 8  # 0.08 x 0.25 = 0.02, one level
    assert rules.pool_steps.tolist() == [4, 4, 4, 4, 4, -1, -1, -1, 0]
    assert (rules.least_fall_levels, rules.greatest_fall_levels) == (5, 22)


def test_a_pool_must_end_where_pools_may() -> None:
    rules = rules_along(np.arange(9) * 0.25, 6, limits(least_pool_m=1.0))
    assert rules.pool_steps.tolist() == [4, 4, 4, -1, -1, -1, -1, -1, 0]


def test_no_start_gives_no_bed() -> None:
    stations = np.arange(9) * 0.25
    rules = rules_along(stations, 8, limits())
    nowhere = np.full(30, np.inf)
    free = np.zeros((9, 30))
    assert best_bed(free, nowhere, rules, riffle_cost=0.0, fall_cost=np.zeros(23)) is None


def test_two_falls_need_two_pools() -> None:
    stations = np.arange(11) * 0.25
    rules = rules_along(stations, 10, limits(steepest_riffle=0.0, greatest_fall_m=0.30))
    start = np.full(40, np.inf)
    start[30] = 0.0  # 0.6 m to fall, 0.3 m at most at once
    found = best_bed(np.zeros((11, 40)), start, rules, riffle_cost=0.0, fall_cost=np.ones(16))
    assert found is not None
    assert found.cost == 2.0
    drops = -np.diff(found.levels)
    assert sorted(drops[drops > 0]) == [15, 15]
    first, second = np.flatnonzero(drops)
    assert second - first > 4 or second == 9


def test_the_bed_follows_the_ground_where_nothing_else_counts() -> None:
    stations = np.arange(13) * 0.25
    wanted = np.array([20, 20, 20, 20, 20, 8, 8, 8, 8, 8, 8, 0, 0])
    wanted[-2:] = [8, 0]
    station_cost = np.abs(np.arange(25)[np.newaxis, :] - wanted[:, np.newaxis]).astype(float)
    rules = rules_along(stations, 12, limits(steepest_riffle=0.0))
    found = best_bed(station_cost, np.zeros(25), rules, riffle_cost=0.0, fall_cost=np.zeros(23))
    assert found is not None
    assert found.levels.tolist() == wanted.tolist()
    assert found.cost == 0.0


def test_the_result_is_read_only_and_the_same_each_time() -> None:
    rng = np.random.default_rng(7)
    station_cost = rng.integers(0, 3, (20, 30)).astype(float)  # many ties
    rules = rules_along(np.arange(20) * 0.25, 19, limits())
    twice = [
        best_bed(station_cost, np.zeros(30), rules, riffle_cost=0.0, fall_cost=np.zeros(23))
        for _ in range(2)
    ]
    assert twice[0] is not None
    assert twice[1] is not None
    assert twice[0].levels.tolist() == twice[1].levels.tolist()
    with pytest.raises(ValueError, match="read-only"):
        twice[0].levels[0] = 1


def test_short_level_steps_are_riffle() -> None:
    stations = np.arange(12) * 0.25
    rules = rules_along(stations, 9, limits())
    levels = np.array([21, 20, 20, 19, 9, 9, 9, 9, 9, 9, 9, 0])
    kinds = kinds_along(levels, stations, rules, pool_end=9, least_pool_m=0.9)
    assert kinds.tolist() == [RIFFLE] * 3 + [FALL] + [POOL] * 5 + [RIFFLE] + [FALL]


def test_step_ratio_of_regular_steps() -> None:
    """Regular steps without hollows are exactly as steep as the stream: ratio 1."""
    for slope in (0.04, 0.1, 0.3):
        spacing_m = 1.25
        heights = np.full(6, slope * spacing_m)
        assert step_steepness_ratio(heights, 6 * spacing_m, 6 * slope * spacing_m) == (
            pytest.approx(1.0)
        )
        assert step_steepness_ratio(2 * heights, 6 * spacing_m, 6 * slope * spacing_m) == (
            pytest.approx(2.0)
        )


def test_step_ratio_means_nothing_on_gentle_streams_and_without_steps() -> None:
    assert np.isnan(step_steepness_ratio(np.array([]), 10.0, 1.0))
    assert np.isnan(step_steepness_ratio(np.array([0.1]), 10.0, 0.3))
    assert not np.isnan(step_steepness_ratio(np.array([0.1]), 10.0, 0.31))


@given(
    st.lists(st.floats(0.1, 0.45), min_size=1, max_size=8),
    st.floats(0.0, 0.4),
)
def test_the_hollow_brings_the_ratio_as_near_the_middle_as_its_bounds_allow(
    heights: list[float], riffle_m: float
) -> None:
    falls = np.array(heights)
    drop_m = float(falls.sum()) + riffle_m
    depth_m = even_hollow(falls, len(falls), drop_m, (0.15, 0.30))
    assert 0.15 <= depth_m <= 0.30

    def off(depth: float) -> float:
        return abs(step_steepness_ratio(falls + depth, 1.0, drop_m) - 1.5)

    assert off(depth_m) <= min(off(d) for d in np.linspace(0.15, 0.30, 31)) + 1e-9


def test_without_pools_the_hollow_is_the_least() -> None:
    assert even_hollow(np.array([0.3]), 0, 0.3, (0.15, 0.30)) == 0.15
