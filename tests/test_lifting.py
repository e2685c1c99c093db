"""The pipe and the pumps on one lift: sizes, fittings, prices, and which pump is chosen."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError
from shapely.affinity import rotate
from shapely.geometry import LineString

from geo_site import pipes, pumps
from geo_site.prices import Price, PriceList
from geo_site.pumps import PumpCurve
from geo_site.water import WaterParameters
from geo_site.water.lifting import bends, choose_pipe, with_pumps
from geo_site.water.lifting_records import Lift
from geo_site.water.lifting_settings import PipeParameters, PumpParameters
from geo_site.water.pumping import PumpStudy, study_pumps

FOOT = 0.3048
GPM = 6.30901964e-5
GPH = GPM / 60.0
STRAIGHT = LineString([(0, 0, 0), (40 * FOOT, 0, 0)])
BARE = {"entrance": 0}


def parameters_of(**pipe) -> WaterParameters:
    pump = pipe.pop("pump", {})
    top = {key: pipe.pop(key) for key in ("minor_losses", "pipe_velocity_limit") if key in pipe}
    return WaterParameters(pipe=PipeParameters(**pipe), pump=PumpParameters(**pump), **top)


def lift_of(route=STRAIGHT, flow_m3s=100 * GPM, prices=None, **settings) -> Lift:
    return choose_pipe(route, flow_m3s, parameters_of(**settings), prices)


def price_list(**prices: float) -> PriceList:
    """Prices of pipe by nominal size in m (``p2``), and of a kilowatt hour (``kwh``)."""
    rows = [
        Price(item="electricity", unit="kWh", price=value)
        if name == "kwh"
        else Price(item=f"pipe {name[1:].replace('_', '-')} in", unit="m", price=value)
        for name, value in prices.items()
    ]
    return PriceList(prices=tuple(rows), currency="X")


class TestSizes:
    def test_every_size_is_told_the_smallest_first(self):
        sizes = lift_of().sizes
        assert [size.nominal for size in sizes] == list(pipes.SCHEDULE_40_INSIDE_M)
        lost = [size.lost_m for size in sizes]
        assert lost == sorted(lost, reverse=True)

    def test_losses_are_those_of_the_formulas(self):
        """PIP-02: 2 in, 50 gpm, 100 ft: Darcy-Weisbach 3.956 ft, Hazen-Williams 3.975 ft."""
        route = LineString([(0, 0, 0), (100 * FOOT, 0, 0)])
        lift = lift_of(route, 50 * GPM, fittings=BARE)
        assert lift.pipe.nominal == "2"
        assert lift.pipe.friction_loss_m / FOOT == pytest.approx(3.956, rel=1e-3)
        assert lift.size.hazen_williams_loss_m / FOOT == pytest.approx(3.975, rel=1e-3)
        assert lift.pipe.minor_loss_m == 0.0

    def test_fittings_cost_what_their_sum_costs(self):
        """PIP-08: K 4.0 in 3 in at 100 gpm: 1.171 ft; here an exit and a check valve and a K."""
        lift = lift_of(fittings={"exit": 1, "check_valve": 1, "entrance": 1}, nominal="3")
        assert lift.pipe.loss_coefficient == pytest.approx(4.0)
        assert lift.pipe.minor_loss_m / FOOT == pytest.approx(1.171, abs=1e-3)

    def test_a_sum_of_k_that_is_given_stands_for_all_fittings(self):
        lift = lift_of(fittings={"globe_valve_open": 3}, nominal="3", minor_losses=4.0)
        assert lift.pipe.minor_loss_m / FOOT == pytest.approx(1.171, abs=1e-3)

    @given(st.floats(1e-4, 0.02))
    def test_what_the_next_size_saves(self, flow_m3s):
        sizes = lift_of(flow_m3s=flow_m3s).sizes
        for size, above in pairwise(sizes):
            assert size.next_saves_m == pytest.approx(size.lost_m - above.lost_m)
            assert size.next_saves_m > 0.0
            power_w = 998.2 * 9.80665 * flow_m3s * size.next_saves_m
            assert size.next_saves_w == pytest.approx(power_w)
        assert math.isnan(sizes[-1].next_saves_m)

    @given(st.floats(1e-4, 0.02))
    def test_the_pipe_at_its_own_flow_loses_what_its_size_loses(self, flow_m3s):
        lift = lift_of(flow_m3s=flow_m3s)
        assert lift.pipe.head_lost(flow_m3s) == pytest.approx(lift.size.lost_m)
        assert lift.pipe.head_lost(0.5 * flow_m3s) < lift.size.lost_m

    def test_cold_water_drags_more(self):
        warm, cold = lift_of(temperature=20.0), lift_of(temperature=5.0)
        assert cold.pipe.viscosity_m2s == 1.519e-6
        assert cold.pipe.friction_loss_m > 1.05 * warm.pipe.friction_loss_m

    def test_length_is_in_space_and_more_may_be_added(self):
        route = LineString([(0, 0, 0), (3, 0, 4)])
        assert lift_of(route).pipe.length_m == pytest.approx(5.0)
        assert lift_of(route, extra_length=1.5).pipe.length_m == pytest.approx(6.5)
        more = choose_pipe(route, 100 * GPM, parameters_of(extra_length=1.5), None, 0.75)
        assert more.pipe.length_m == pytest.approx(7.25)
        assert lift_of(route, nominal="2").pipe.content_m3 == pytest.approx(
            math.pi / 4 * (2.067 * 0.0254) ** 2 * 5.0
        )


class TestChoice:
    def test_without_prices_the_smallest_under_the_limit(self):
        lift = lift_of()
        fit = [size for size in lift.sizes if size.velocity_ms <= 1.5]
        assert lift.pipe.nominal == fit[0].nominal == "3"
        assert not lift.is_cheapest
        assert "no cheapest is claimed" in lift.basis
        assert all(math.isnan(size.whole_cost) for size in lift.sizes)

    def test_the_cheapest_by_hand(self):
        """3 in at 1 a metre or 4 in at 10: what decides is the price of energy."""
        sizes = {size.nominal: size for size in lift_of().sizes}
        saved_m = sizes["3"].lost_m - sizes["4"].lost_m
        years_kwh = 998.2 * 9.80665 * 100 * GPM * saved_m / 0.35 / 1000 * 24 * 365 * 10
        even = 9.0 * 40 * FOOT / years_kwh
        cheap = lift_of(prices=price_list(p3=1.0, p4=10.0, kwh=0.99 * even))
        dear = lift_of(prices=price_list(p3=1.0, p4=10.0, kwh=1.01 * even))
        assert (cheap.pipe.nominal, dear.pipe.nominal) == ("3", "4")
        assert cheap.is_cheapest
        assert dear.is_cheapest

    def test_later_money_counts_less(self):
        lists = price_list(p3=1.0, p4=10.0, kwh=1.0)
        now, later = lift_of(prices=lists), lift_of(prices=lists, pump={"discount_rate": 0.05})
        assert later.size.energy_cost < now.size.energy_cost
        factor = (1 - 1.05**-10) / 0.05 / 10
        assert later.sizes[4].energy_cost == pytest.approx(factor * now.sizes[4].energy_cost)

    def test_sizes_without_a_price_are_named(self):
        lift = lift_of(prices=price_list(p4=10.0, kwh=0.2))
        assert lift.pipe.nominal == "4"
        assert "3 in, 6 in: no price" in lift.basis

    def test_too_fast_a_pipe_is_never_the_cheapest(self):
        assert lift_of(prices=price_list(p1=0.01, p3=5.0, kwh=1e-6)).pipe.nominal == "3"

    def test_fittings_of_a_larger_size_may_cost_more_than_they_save(self):
        """4 in saves energy for 6; its check valve costs 20 more than that of 3 in."""
        one = {"check_valve": 1}
        plain = lift_of(prices=price_list(p3=0.0, p4=0.0, kwh=1.0), fittings=one)
        costs = {size.nominal: size.whole_cost for size in plain.sizes}
        assert plain.pipe.nominal == "4"
        assert "without its fittings" in plain.basis
        dear = 1.01 * (costs["3"] - costs["4"])
        bare = price_list(p3=0.0, p4=0.0, p6=0.0, kwh=1.0)
        valves = tuple(
            Price(item=f"check valve {size} in", unit="count", price=price)
            for size, price in (("3", 5.0), ("4", 5.0 + dear))
        )
        priced = lift_of(prices=PriceList(prices=(*bare.prices, *valves)), fittings=one)
        assert priced.pipe.nominal == "3"
        assert "6 in: no price" in priced.basis
        assert "with its fittings" in priced.basis
        assert priced.size.pipe_cost == pytest.approx(5.0)

    def test_pipe_without_energy_is_no_comparison(self):
        assert not lift_of(prices=price_list(p3=1.0, p4=0.1)).is_cheapest
        assert lift_of(prices=price_list(p3=1.0, p4=0.1)).pipe.nominal == "3"

    def test_the_users_own_size_is_kept(self):
        lift = lift_of(nominal="4", prices=price_list(p3=0.01, p4=10.0, kwh=1e-6))
        assert lift.pipe.nominal == "4"
        assert not lift.is_cheapest

    def test_too_much_for_one_pipe(self):
        lift = lift_of(flow_m3s=0.05)
        assert lift.pipe.nominal == "6"
        assert any("more than one" in told for told in lift.warnings)

    @pytest.mark.parametrize("gph", [4000, 7000])
    def test_what_the_trade_pushes_through_two_inches(self, gph):
        """PIP-09: 4,000 to 7,000 gph in 2 in: past 5 ft/s, told with what the next size saves.

        By hand for 25 ft at 7,000 gph: Hazen-Williams US form 0.2083 (100/150)^1.852
        116.67^1.852 / 2.067^4.8655 / 4 ft along, and 5.8 x (11.15 ft/s)^2 / 64.35 in fittings.
        """
        route = LineString([(0, 0, 0), (25 * FOOT, 0, 0)])
        lift = lift_of(route, gph * GPH, nominal="2")
        gpm = gph / 60
        along_ft = 0.25 * 0.2083 * (100 / 150) ** 1.852 * gpm**1.852 / 2.067**4.8655
        fittings_ft = 5.8 * (0.4085 * gpm / 2.067**2) ** 2 / 64.35
        assert lift.pipe.loss_coefficient == pytest.approx(5.8)
        assert lift.size.lost_m / FOOT == pytest.approx(along_ft + fittings_ft, rel=0.02)
        (told,) = lift.warnings
        assert "past the usual limit of 1.5 m/s: common on short runs" in told
        assert f"take {lift.size.lost_m:.2f} m of head" in told
        assert f"save {lift.size.next_saves_m:.2f} m" in told

    def test_no_check_valve_lets_the_pipe_run_back(self):
        (told,) = lift_of(fittings={"exit": 1}).warnings
        content_l = 1000 * math.pi / 4 * (3.068 * 0.0254) ** 2 * 40 * FOOT
        assert f"{content_l:.0f} L run back through the pump" in told
        assert lift_of().warnings == ()


def bent(*degrees: float, leg_m: float = 5.0) -> LineString:
    """Straight legs, each turned from the one before by an angle, left and right in turn."""
    xy, heading = [(0.0, 0.0)], 0.0
    for turn in (0.0, *degrees):
        heading += math.radians(turn)
        x, y = xy[-1]
        xy.append((x + leg_m * math.cos(heading), y + leg_m * math.sin(heading)))
    return LineString([(x, y, 0.0) for x, y in xy])


class TestBends:
    @given(st.lists(st.floats(16.0, 140.0), max_size=5), st.floats(0.0, 360.0))
    def test_angles_of_a_route_are_found_wherever_it_points(self, turns, heading):
        signed = [turn * (-1) ** n for n, turn in enumerate(turns)]
        route = rotate(bent(*signed), heading, origin=(0, 0))
        assert bends(route, PipeParameters()) == pytest.approx(turns, abs=1e-6)

    def test_what_the_pipe_takes_itself(self):
        assert bends(bent(10.0, -14.0), PipeParameters()) == ()
        assert len(bends(bent(10.0, -14.0), PipeParameters(least_bend=5.0))) == 2

    def test_a_wriggle_within_the_tolerance_is_laid_straight(self):
        x = np.linspace(0.0, 10.0, 41)
        wriggle = LineString(np.column_stack([x, 0.04 * np.sin(3 * x), 0 * x]))
        assert bends(wriggle, PipeParameters()) == ()
        assert len(bends(wriggle, PipeParameters(bend_tolerance=0.001, least_bend=3))) > 3

    @pytest.mark.parametrize(
        ("turn", "quarters", "eighths"),
        [(20, 0, 1), (45, 0, 1), (66, 0, 1), (69, 1, 0), (90, 1, 0), (110, 1, 0), (135, 1, 1)],
    )
    def test_elbows_by_angle(self, turn, quarters, eighths):
        lift = lift_of(bent(turn), fittings={"elbow_90": 2})
        counts = {fitting.kind: fitting.count for fitting in lift.fittings}
        assert counts == {
            kind: count
            for kind, count in (("elbow_90", 2 + quarters), ("elbow_45", eighths))
            if count
        }
        assert lift.pipe.loss_coefficient == pytest.approx(0.8 * (2 + quarters) + 0.4 * eighths)

    def test_fittings_that_nobody_knows_are_refused(self):
        for wrong in ({"flange": 1}, {"exit": -1}):
            with pytest.raises(ValidationError, match="fitting"):
                PipeParameters(fittings=wrong)
        with pytest.raises(ValidationError, match="size"):
            PipeParameters(nominal="2.5")
        for speeds in ([], [0.1], [1.5]):
            with pytest.raises(ValidationError, match="speed"):
                PumpParameters(speeds=speeds)


def pump(name: str, shutoff_m: float, run_out_ls: float, power_w: float | None = None, **others):
    """A straight curve from shut-off to no head, its power the same all along."""
    flows = (0.0, 0.5e-3 * run_out_ls, 1e-3 * run_out_ls)
    powers = () if power_w is None else (power_w,) * 3
    return PumpCurve(
        name=name, flows_m3s=flows, heads_m=(shutoff_m, 0.5 * shutoff_m, 0.0), powers_w=powers,
        **others,
    )  # fmt: skip


def study(*curves: PumpCurve, wanted_ls=5.0, lift_m=4.0, price=math.nan, **settings) -> PumpStudy:
    return study_pumps(
        curves, lambda flow: lift_m, 1e-3 * wanted_ls, PumpParameters(**settings), price
    )


class TestPumps:
    def test_the_one_with_the_least_power_that_gives_the_flow(self):
        """At 4 m: A gives 5 L/s with 400 W, B 5 L/s with 300 W, C only 2.5 L/s with 100 W."""
        found = study(pump("A", 8, 10, 400), pump("B", 8, 10, 300), pump("C", 8, 5, 100))
        assert found.chosen is not None
        assert found.chosen.pump == "B"
        assert [answer.fit for answer in found.answers] == ["enough", "enough", "too_little"]
        assert found.chosen.point.flow_m3s == pytest.approx(0.005)
        assert "50% less than is wanted" in found.answers[2].reason

    def test_a_pump_whose_power_is_not_told_comes_last(self):
        found = study(pump("A", 8, 10), pump("B", 8, 10.2, 900))
        assert found.chosen.pump == "B"
        alone = study(pump("A", 8, 10))
        assert alone.chosen.pump == "A"
        assert any("power of A is not told" in told for told in alone.warnings)

    def test_too_much_is_not_chosen(self):
        found = study(pump("A", 8, 20, 400))
        assert found.chosen is None
        assert found.answers[0].fit == "too_much"
        (told,) = found.warnings
        assert "100% more than is wanted: throttle it or run it slower" in told

    def test_at_a_lower_speed_it_may_fit(self):
        """At 80 %: shut-off 12.8 x 0.64 = 8.192 m, run-out 9.6 L/s: 4.9 L/s at 4 m."""
        fast = pump("A", 12.8, 12, 500)
        assert study(fast).chosen is None
        found = study(fast, speeds=[1.0, 0.8])
        assert found.chosen.speed_ratio == 0.8
        assert found.chosen.point.flow_m3s == pytest.approx(9.6e-3 * (1 - 4 / 8.192))
        assert found.chosen.point.power_w == pytest.approx(500 * 0.512)
        assert found.chosen.told == "A at 80%"

    def test_no_pump_reaches_the_lift(self):
        (told,) = study(pump("A", 3.9, 10), pump("B", 3.0, 10)).warnings
        assert told.startswith(
            "None of the pumps given fits 5.00 L/s on this lift. A: its shut-off"
        )
        assert "B: its shut-off head of 3.00 m does not reach the lift of 4.00 m" in told

    def test_energy_and_its_cost(self):
        found = study(pump("A", 8, 10, 500), price=0.2, hours_per_day=12)
        assert found.chosen.energy_kwh == pytest.approx(0.5 * 12 * 365)
        assert found.chosen.yearly_cost == pytest.approx(0.5 * 12 * 365 * 0.2)
        assert math.isnan(study(pump("A", 8, 10, 500)).chosen.yearly_cost)
        assert math.isnan(study(pump("A", 8, 10)).chosen.energy_kwh)

    def test_an_assumed_curve_is_told(self):
        curve = pumps.one_point_curve("A", 0.005, 4.0)
        (power, assumed) = sorted(study(curve).warnings)
        assert "assumed through one point" in power
        assert "not told" in assumed

    def test_an_efficiency_that_no_pump_has(self):
        """5 L/s at 4 m are 196 W in the water: 200 W of electricity are too few."""
        (told,) = study(pump("A", 8, 10, 200)).warnings
        assert "98% of its power" in told
        assert "units" in told

    def test_the_ends_of_its_curve(self):
        answer = study(pump("A", 8, 10)).answers[0]
        assert answer.shutoff_head_m == 8.0
        assert (answer.least_flow_m3s, answer.greatest_flow_m3s) == (0.0, 0.01)

    def test_none_given_is_no_warning(self):
        assert study().warnings == ()
        assert study().chosen is None

    def test_the_pumps_of_a_site_on_its_pipe(self):
        lift, used = lift_of(flow_m3s=5e-3), WaterParameters(pump=PumpParameters(greatest_excess=1))
        prices = price_list(kwh=0.3)
        found = with_pumps(lift, [pump("A", 8, 10, 400)], lambda flow: 2.0, used, prices)
        assert found.pumps.chosen.yearly_cost == pytest.approx(0.4 * 24 * 365 * 0.3)
        assert found.pipe == lift.pipe
        assert with_pumps(lift, [], lambda flow: 2.0, used).pumps is None
        unpriced = with_pumps(lift, [pump("A", 8, 10, 400)], lambda flow: 2.0, used)
        assert math.isnan(unpriced.pumps.chosen.yearly_cost)

    def test_a_pump_that_gives_more_than_the_pipe_was_chosen_for(self):
        """2.5 L/s are 1.15 m/s in 2 in; a pump that gives 3.7 L/s there makes them 1.7."""
        lift = lift_of(flow_m3s=2.5e-3)
        used = WaterParameters(pump=PumpParameters(greatest_excess=1))
        fast = with_pumps(lift, [pump("A", 12, 6)], lambda flow: 2.0, used)
        speed_ms = pipes.velocity(fast.pumps.chosen.point.flow_m3s, lift.pipe.inside_diameter_m)
        assert speed_ms > 1.5
        (told,) = fast.warnings
        assert f"runs at {speed_ms:.1f} m/s in 2 in pipe" in told
        slow = with_pumps(lift, [pump("A", 5, 6)], lambda flow: 2.0, used)
        assert slow.pumps.chosen is not None
        assert slow.warnings == ()

    def test_on_the_lift_the_point_lies_on_pump_and_pipe(self):
        lift = lift_of(flow_m3s=5e-3)
        system = lift.system(lambda flow: 2.0 + 10.0 * flow)
        found = study_pumps([pump("A", 8, 10)], system, 5e-3, PumpParameters(greatest_excess=1))
        point = found.answers[0].point
        expected = 2.0 + 10.0 * point.flow_m3s + lift.pipe.head_lost(point.flow_m3s)
        assert point.head_m == pytest.approx(expected, abs=1e-6)
