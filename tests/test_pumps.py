"""Pumps: the worked system of the checks, an independent pipe network, laws of curves."""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from geo_site import pipes, pumps
from geo_site.pumps import NoPoint, OperatingPoint, PumpCurve

FOOT = 0.3048
GPM = 6.30901964e-5
HORSEPOWER = 745.699872
THREE_INCH = pipes.SCHEDULE_40_INSIDE_M["3"]

System = Callable[[float], float]


def worked_system(flow_m3s: float) -> float:
    """Lift 12 ft; 120 ft of 3 in schedule 40, C 150; K 4.0 (the system of PMP-01)."""
    along_m = pipes.hazen_williams_loss(flow_m3s, THREE_INCH, 120 * FOOT)
    return 12 * FOOT + along_m + pipes.minor_loss(flow_m3s, THREE_INCH, 4.0)


def met(curve: PumpCurve, system: System) -> OperatingPoint:
    point = pumps.operating_point(curve, system)
    assert isinstance(point, OperatingPoint), point
    return point


def refused(curve: PumpCurve, system: System) -> str:
    point = pumps.operating_point(curve, system)
    assert isinstance(point, NoPoint), point
    return point.reason


def curve_of(*points: tuple[float, float], **others) -> PumpCurve:
    flows, heads = zip(*points, strict=True)
    return PumpCurve(name="A", flows_m3s=flows, heads_m=heads, **others)


PLAIN = curve_of((0.0, 8.0), (0.002, 7.0), (0.004, 5.0), (0.006, 2.0))


class TestWorkedValues:
    def test_system_head(self):
        """PMP-01: 12 + 2.552 + 1.171 = 15.72 ft at 100 gpm (arithmetic).

        The 2.552 ft are those of the US form; the SI form gives 1.5 % less (PIP-02).
        """
        us_ft = 1.2 * 0.2083 * (100 / 150) ** 1.852 * 100**1.852 / 3.068**4.8655
        minor_ft = pipes.minor_loss(100 * GPM, THREE_INCH, 4.0) / FOOT
        assert 12 + us_ft + minor_ft == pytest.approx(15.72, abs=0.02)
        assert worked_system(100 * GPM) / FOOT == pytest.approx(15.72, abs=0.015 * 2.552)

    def test_operating_point(self):
        """PMP-02: one-point curve (100 gpm, 20 ft): 119.2 gpm, 17.20 ft (arithmetic)."""
        point = met(pumps.one_point_curve("A", 100 * GPM, 20 * FOOT), worked_system)
        assert point.flow_m3s / GPM == pytest.approx(119.2, rel=3e-3)
        assert point.head_m / FOOT == pytest.approx(17.20, rel=3e-3)

    def test_operating_point_as_epanet_finds_it(self):
        """PMP-02: EPANET 2.2 finds 119.39 gpm and 17.165 ft in the same system."""
        point = met(pumps.one_point_curve("A", 100 * GPM, 20 * FOOT), worked_system)
        assert point.flow_m3s / GPM == pytest.approx(119.39, rel=3e-3)
        assert point.head_m / FOOT == pytest.approx(17.165, rel=3e-3)

    def test_one_point_curve(self):
        """PMP-03: shut-off at 4/3 of the head, nothing at twice the flow (EPANET 2 manual)."""
        curve = pumps.one_point_curve("A", 100 * GPM, 20 * FOOT)
        assert curve.heads_m[0] / FOOT == pytest.approx(80 / 3)
        assert curve.flows_m3s[-1] / GPM == pytest.approx(200)
        assert curve.heads_m[-1] == pytest.approx(0.0, abs=1e-12)
        for share in (0.013, 0.31, 0.77, 1.49, 1.93):
            exact = 20 * FOOT * (4 - share**2) / 3
            assert curve.head_at(share * 100 * GPM) == pytest.approx(exact, rel=1e-4, abs=1e-4)
        assert curve.is_assumed

    def test_power(self):
        """PMP-05: 100 gpm at 20 ft: 0.5051 water hp, 0.3765 kW; at 0.50 18.07 kWh a day."""
        power_w = pumps.water_power(100 * GPM, 20 * FOOT)
        assert power_w == pytest.approx(376.5, rel=1e-3)
        assert power_w / HORSEPOWER == pytest.approx(100 * 20 / 3960, rel=5e-3)
        assert power_w / 0.50 == pytest.approx(753, rel=1e-3)
        assert pumps.energy_kwh(power_w / 0.50, 24.0, 1.0) == pytest.approx(18.07, rel=1e-3)


class TestAffinity:
    @given(st.floats(0.3, 1.2))
    def test_exponents(self, ratio):
        """PMP-04: Q ~ N, H ~ N^2, P ~ N^3, curve to curve (definition)."""
        curve = curve_of((0.0, 8.0), (0.004, 5.0), powers_w=(150.0, 300.0), speed_rpm=2900.0)
        moved = pumps.at_speed(curve, ratio)
        assert moved.flows_m3s[1] == ratio * 0.004
        assert moved.heads_m == (ratio**2 * 8.0, ratio**2 * 5.0)
        assert moved.powers_w == (ratio**3 * 150.0, ratio**3 * 300.0)
        assert moved.speed_rpm == ratio * 2900.0

    @given(st.floats(0.3, 1.2), st.floats(0.0, 1.0))
    def test_interpolation_moves_with_the_points(self, ratio, share):
        moved, flow = pumps.at_speed(PLAIN, ratio), share * 0.006
        assert moved.head_at(ratio * flow) == pytest.approx(
            ratio**2 * PLAIN.head_at(flow), rel=1e-9
        )

    def test_no_speed(self):
        for ratio in (0.0, -1.0, math.nan, math.inf):
            with pytest.raises(ValueError, match="speed"):
                pumps.at_speed(PLAIN, ratio)


class TestCurve:
    def test_passes_through_its_points_and_says_nothing_beyond_them(self):
        for flow, head in zip(PLAIN.flows_m3s, PLAIN.heads_m, strict=True):
            assert PLAIN.head_at(flow) == pytest.approx(head)
        assert math.isnan(PLAIN.head_at(0.0060001))
        assert math.isnan(PLAIN.head_at(-1e-9))
        assert math.isnan(PLAIN.power_at(0.003))

    @given(st.lists(st.floats(0.1, 5.0), min_size=2, max_size=8), st.data())
    def test_falls_between_falling_points(self, drops, data):
        heads = list(itertools.accumulate(drops, initial=0.0))[::-1]
        curve = curve_of(*((0.001 * n, head) for n, head in enumerate(heads)))
        ends = st.floats(0.0, 0.001 * (len(heads) - 1))
        low, high = sorted((data.draw(ends), data.draw(ends)))
        assert curve.head_at(high) <= curve.head_at(low) + 1e-12

    def test_what_is_no_curve(self):
        wrong = [
            {"flows_m3s": (0.0,), "heads_m": (5.0,)},
            {"flows_m3s": (), "heads_m": ()},
            {"flows_m3s": (0.0, 1.0), "heads_m": (5.0,)},
            {"flows_m3s": (0.0, 1.0), "heads_m": (5.0, -1.0)},
            {"flows_m3s": (0.0, math.nan), "heads_m": (5.0, 1.0)},
            {"flows_m3s": (0.0, 1.0), "heads_m": (5.0, 1.0), "powers_w": (3.0,)},
        ]
        for fields in wrong:
            with pytest.raises(ValueError, match="pump curve"):
                PumpCurve(name="A", **fields)


class TestOperatingPoint:
    @given(st.floats(2.0, 7.9), st.floats(0.0, 2e5))
    def test_lies_on_both_curves(self, lift_m, drag):
        def system(flow_m3s: float) -> float:
            return lift_m + drag * flow_m3s**2

        point = met(PLAIN, system)
        assert point.head_m == pytest.approx(PLAIN.head_at(point.flow_m3s), abs=1e-9)
        assert point.head_m == pytest.approx(system(point.flow_m3s), abs=1e-6)
        assert 0.0 < point.flow_m3s <= 0.006

    @given(st.floats(2.0, 7.5), st.floats(0.001, 0.4))
    def test_more_lift_less_water(self, lift_m, more_m):
        low = met(PLAIN, lambda flow: lift_m + 1000 * flow)
        high = met(PLAIN, lambda flow: lift_m + more_m + 1000 * flow)
        assert high.flow_m3s < low.flow_m3s

    @given(st.floats(0.5, 1.2), st.floats(2.5, 7.5))
    def test_a_system_without_lift_keeps_the_affinity_laws(self, ratio, head_m):
        """With drag alone (~Q^2) flow goes with the speed, head with its square."""
        full = met(PLAIN, lambda flow: head_m * (flow / 0.004) ** 2)
        part = met(pumps.at_speed(PLAIN, ratio), lambda flow: head_m * (flow / 0.004) ** 2)
        assert part.flow_m3s == pytest.approx(ratio * full.flow_m3s, rel=1e-6)
        assert part.head_m == pytest.approx(ratio**2 * full.head_m, rel=1e-6)

    def test_the_lift_may_depend_on_the_flow(self):
        """A straight curve and a lift that rises with the flow: worked out in the head."""
        straight = curve_of((0.0, 8.0), (0.008, 0.0))
        point = met(straight, lambda flow: 2.0 + 500.0 * flow)
        assert point.flow_m3s == pytest.approx(6.0 / 1500.0)
        assert point.head_m == pytest.approx(4.0)

    def test_efficiency_is_that_of_water_over_electricity(self):
        curve = curve_of((0.0, 8.0), (0.008, 0.0), powers_w=(400.0, 400.0))
        point = met(curve, lambda flow: 4.0)
        water_w = 998.2 * 9.80665 * 0.004 * 4.0
        assert point.water_power_w == pytest.approx(water_w)
        assert point.efficiency == pytest.approx(water_w / 400.0)
        assert math.isnan(met(PLAIN, lambda flow: 4.0).efficiency)

    def test_at_a_point_of_the_curve(self):
        assert met(PLAIN, lambda flow: 5.0).flow_m3s == pytest.approx(0.004)

    def test_at_the_last_point(self):
        assert met(PLAIN, lambda flow: 2.0).flow_m3s == pytest.approx(0.006)


class TestNoPoint:
    def test_shut_off_below_the_lift(self):
        assert "shut-off head of 8.00 m does not reach the lift of 8.50 m" in refused(
            PLAIN, lambda flow: 8.5
        )

    def test_shut_off_equal_to_the_lift_gives_no_water(self):
        assert "no water comes" in refused(PLAIN, lambda flow: 8.0 + flow)

    def test_beyond_the_curve(self):
        reason = refused(PLAIN, lambda flow: 1.0)
        assert "1.00 m more than is asked at 6 L/s" in reason
        assert "not claimed" in reason

    def test_below_the_curve(self):
        late = curve_of((0.002, 7.0), (0.004, 5.0))
        assert "least flow of its curve" in refused(late, lambda flow: 7.5)

    def test_a_curve_that_rises(self):
        hump = curve_of((0.0, 6.0), (0.002, 7.0), (0.004, 3.0))
        assert "rises between 0 and 2 L/s" in refused(hump, lambda flow: 6.5)

    def test_a_curve_that_crosses_itself(self):
        back = curve_of((0.0, 8.0), (0.004, 6.0), (0.002, 5.0))
        assert "crosses itself" in refused(back, lambda flow: 5.5)
        again = curve_of((0.0, 8.0), (0.002, 6.0), (0.002, 5.0))
        assert "crosses itself" in refused(again, lambda flow: 5.5)

    def test_a_system_that_meets_it_more_than_once(self):
        straight = curve_of((0.0, 8.0), (0.008, 0.0))

        def wave(flow: float) -> float:
            """Below the pump at no flow, above it at the end, across it three times."""
            return straight.head_at(flow) + math.sin(3 * math.pi * flow / 0.008 - math.pi / 2)

        assert "more than once" in refused(straight, wave)

    def test_a_system_that_is_not_known(self):
        assert "not known" in refused(PLAIN, lambda flow: math.nan)


class TestMoney:
    @given(st.floats(0.0, 0.3), st.integers(0, 40))
    def test_annuity_is_the_sum_of_its_years(self, rate, years):
        summed = sum((1 + rate) ** -n for n in range(1, years + 1))
        assert pumps.annuity(rate, years) == pytest.approx(summed, rel=1e-9)

    def test_absurd(self):
        for rate, years in ((-0.1, 1.0), (0.1, -1.0), (math.nan, 1.0)):
            with pytest.raises(ValueError, match="rate"):
                pumps.annuity(rate, years)


def network_flow(
    folder: Path, curve: Sequence[tuple[float, float]], pipe: dict[str, float], formula: str
) -> float:
    """Flow in m3/s that EPANET finds between two reservoirs with a pump between them."""
    import wntr  # takes seconds: only where it is needed

    network = wntr.network.WaterNetworkModel()
    network.options.hydraulic.headloss = formula
    network.options.hydraulic.viscosity = 1.004e-6 / (1.1e-5 * FOOT**2)  # over EPANET's own
    network.options.hydraulic.accuracy = 1e-6
    network.options.time.duration = 0
    network.add_reservoir("basin", base_head=0.0)
    network.add_junction("pump_out", base_demand=0.0, elevation=0.0)
    network.add_reservoir("spillway", base_head=pipe["lift"])
    network.add_curve("curve", "HEAD", list(curve))
    network.add_pump("pump", "basin", "pump_out", "HEAD", "curve")
    network.add_pipe(
        "pipe", "pump_out", "spillway", length=pipe["length"], diameter=pipe["diameter"],
        roughness=pipe["roughness"], minor_loss=pipe["loss"],
    )  # fmt: skip
    results = wntr.sim.EpanetSimulator(network).run_sim(file_prefix=str(folder / "net"))
    return float(results.link["flowrate"]["pipe"].iloc[0])


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("formula", ["H-W", "D-W"])
def test_against_an_independent_network(tmp_path, seed, formula):
    """PMP-02, PMP-06: EPANET (through `wntr`) on random systems: flow within 0.2 % or 0.5 %.

    It interpolates curves by straight lines, takes 4.871 as Hazen-Williams' exponent and Swamee
    and Jain's friction factor: the tolerances are for that.
    """
    draw = random.Random(seed)
    best_m3s, best_m = draw.uniform(0.001, 0.012), draw.uniform(3.0, 12.0)
    curve = [
        (best_m3s * n / 12, best_m * (4 - (n / 12) ** 2) / 3) for n in range(25)
    ]  # fmt: skip
    system = {
        "lift": draw.uniform(0.2, 1.1) * best_m,
        "length": draw.uniform(5.0, 60.0),
        "diameter": draw.choice([0.0525, 0.0779, 0.1023]),
        "loss": draw.uniform(0.0, 10.0),
        "roughness": 150.0 if formula == "H-W" else pipes.PLASTIC_ROUGHNESS_M,
    }
    friction = pipes.hazen_williams_loss if formula == "H-W" else pipes.friction_loss

    def asked(flow_m3s: float) -> float:
        along_m = friction(flow_m3s, system["diameter"], system["length"])
        return (
            system["lift"]
            + along_m
            + pipes.minor_loss(flow_m3s, system["diameter"], system["loss"])
        )

    ours = pumps.operating_point(curve_of(*curve), asked)
    assert isinstance(ours, OperatingPoint)
    theirs_m3s = network_flow(tmp_path, curve, system, formula)
    assert ours.flow_m3s == pytest.approx(theirs_m3s, rel=2e-3 if formula == "H-W" else 5e-3)


@given(st.floats(0.0, 8.0))
def test_any_answer_is_a_point_or_a_reason(lift_m):
    assume(lift_m != 2.0)
    found = pumps.operating_point(PLAIN, lambda flow: lift_m)
    assert isinstance(found, OperatingPoint) == (2.0 <= lift_m < 8.0 - 1e-9)
