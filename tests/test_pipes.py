"""Pipes: friction against a published table, the formulas against an independent library."""

import math

import fluids
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geo_site import pipes

FOOT = 0.3048
GPM = 6.30901964e-5

# Nominal size -> gpm -> ft lost in 100 ft.
FRICTION_TABLE = {
    "1-1/4": {10: 1.46, 20: 5.23},
    "1-1/2": {10: 0.70, 15: 1.45, 20: 2.46, 25: 3.75, 30: 5.22},
    "2": {10: 0.21, 15: 0.44, 20: 0.74, 25: 1.10, 30: 1.54, 35: 2.05, 40: 2.62, 45: 3.27, 50: 3.98},
    "3": {
        20: 0.12, 25: 0.16, 30: 0.23, 35: 0.30, 40: 0.39, 45: 0.48, 50: 0.58, 60: 0.81,
        70: 1.08, 80: 1.38, 90: 1.73, 100: 2.09,
    },
    "4": {
        40: 0.09, 45: 0.12, 50: 0.16, 60: 0.21, 70: 0.28, 80: 0.37, 90: 0.46, 100: 0.55,
        150: 1.17,
    },
    "6": {150: 0.16, 200: 0.28},
}  # fmt: skip
CELLS = [(size, gpm, loss) for size, row in FRICTION_TABLE.items() for gpm, loss in row.items()]


def loss_in_100_ft(formula, size, gpm):
    return formula(gpm * GPM, pipes.SCHEDULE_40_INSIDE_M[size], 100 * FOOT) / FOOT


@pytest.mark.parametrize(("size", "gpm", "loss_ft"), CELLS)
def test_published_friction_table(size, gpm, loss_ft):
    """PIP-01: Illinois Administrative Code, title 77, part 906, appendix A, exhibit I (C 150)."""
    found = loss_in_100_ft(pipes.hazen_williams_loss, size, gpm)
    assert found == pytest.approx(loss_ft, abs=max(0.04 * loss_ft, 0.015))


@pytest.mark.parametrize(("size", "gpm", "loss_ft"), CELLS)
def test_darcy_weisbach_is_near_the_published_table(size, gpm, loss_ft):
    """PIP-01: the same table (smooth plastic, 20 degrees C), within 12 % or 0.02 ft."""
    found = loss_in_100_ft(pipes.friction_loss, size, gpm)
    assert found == pytest.approx(loss_ft, abs=max(0.12 * loss_ft, 0.02))


def test_fifty_gallons_in_two_inches():
    """PIP-02: 2 in schedule 40, 50 gpm, 100 ft: three forms of Hazen-Williams, and Darcy."""
    diameter_m = pipes.SCHEDULE_40_INSIDE_M["2"]
    speed_ms = pipes.velocity(50 * GPM, diameter_m)
    reynolds = speed_ms * diameter_m / pipes.WATER_VISCOSITY_M2S
    assert loss_in_100_ft(pipes.hazen_williams_loss, "2", 50) == pytest.approx(3.975, rel=1e-3)
    assert loss_in_100_ft(pipes.friction_loss, "2", 50) == pytest.approx(3.956, rel=1e-3)
    assert speed_ms / FOOT == pytest.approx(4.78, rel=1e-3)
    assert reynolds == pytest.approx(76_200, rel=1e-3)
    roughness = pipes.PLASTIC_ROUGHNESS_M / diameter_m
    assert pipes.friction_factor(reynolds, roughness) == pytest.approx(0.01918, rel=1e-3)


def test_the_us_forms_of_the_formula_agree():
    """PIP-02: 0.2083 (100/C)^1.852 Q^1.852 / d^4.8655 gives 4.025 ft, within 1.5 % of ours."""
    us_form = 0.2083 * (100 / 150) ** 1.852 * 50**1.852 / 2.067**4.8655
    assert us_form == pytest.approx(4.025, rel=1e-3)
    assert loss_in_100_ft(pipes.hazen_williams_loss, "2", 50) == pytest.approx(us_form, rel=0.015)


def test_colebrook():
    """PIP-03: Re 1e5, e/D 1e-4: 0.0185138661, the worked value of `fluids`."""
    assert pipes.colebrook_factor(1e5, 1e-4) == pytest.approx(0.018513866077471648, abs=1e-8)


def test_swamee_jain():
    """PIP-04: Swamee and Jain (1976), same numbers: 0.0184524."""
    found = pipes.swamee_jain_factor(1e5, 1e-4)
    assert found == pytest.approx(0.0184524, abs=2e-7)
    assert found == pytest.approx(fluids.friction.Swamee_Jain_1976(1e5, 1e-4), abs=2e-7)


def haaland(reynolds, roughness):
    return (-1.8 * math.log10((roughness / 3.7) ** 1.11 + 6.9 / reynolds)) ** -2


def test_haaland_stays_near():
    """PIP-05: Haaland's explicit form, same numbers: 0.0182651; Colebrook is within 2 % of it."""
    assert haaland(1e5, 1e-4) == pytest.approx(0.0182651, abs=1e-7)
    assert haaland(1e5, 1e-4) == pytest.approx(fluids.friction.Haaland(1e5, 1e-4), abs=1e-12)
    for reynolds, roughness in ((4e3, 0.0), (1e5, 1e-4), (1e6, 1e-3), (1e7, 0.02)):
        explicit = haaland(reynolds, roughness)
        assert pipes.colebrook_factor(reynolds, roughness) == pytest.approx(explicit, rel=0.02)


def test_laminar():
    """PIP-06: 64/Re (definition)."""
    assert pipes.friction_factor(1000.0, 1e-4) == 0.064
    assert pipes.friction_factor(1000.0, 0.05) == 0.064


def test_minor_losses():
    """PIP-08: K 4.0 in 3 in schedule 40 at 100 gpm: 1.171 ft (arithmetic)."""
    found = pipes.minor_loss(100 * GPM, pipes.SCHEDULE_40_INSIDE_M["3"], 4.0)
    assert found / FOOT == pytest.approx(1.171, abs=1e-3)


@given(st.floats(2e3, 1e8), st.floats(0, 0.05))
def test_colebrook_agrees_with_an_independent_library(reynolds, roughness):
    expected = fluids.friction.Colebrook(reynolds, roughness)
    assert pipes.colebrook_factor(reynolds, roughness) == pytest.approx(expected, rel=1e-9)


@given(st.floats(5e3, 1e8), st.floats(1e-6, 0.05))
def test_the_explicit_form_stays_near(reynolds, roughness):
    explicit = pipes.swamee_jain_factor(reynolds, roughness)
    assert explicit == pytest.approx(pipes.colebrook_factor(reynolds, roughness), rel=0.035)


@given(st.floats(1e-5, 0.02), st.floats(0.02, 0.15), st.floats(0.1, 200))
def test_losses_grow_with_flow_and_length_and_shrink_with_size(flow, diameter, length):
    for formula in (pipes.friction_loss, pipes.hazen_williams_loss):
        loss = formula(flow, diameter, length)
        assert formula(1.1 * flow, diameter, length) > loss
        assert formula(flow, 1.1 * diameter, length) < loss
        assert formula(flow, diameter, 2 * length) == pytest.approx(2 * loss)


def test_between_laminar_and_turbulent_the_larger_factor_holds():
    for reynolds in (2000.0, 3000.0, 4000.0):
        assert pipes.friction_factor(reynolds, 1e-5) >= 64 / reynolds


def test_without_flow_there_is_no_loss():
    assert pipes.friction_loss(0.0, 0.05, 30.0) == 0.0
    assert pipes.hazen_williams_loss(0.0, 0.05, 30.0) == 0.0
    assert pipes.minor_loss(0.0, 0.05, 4.0) == 0.0


def test_larger_nominal_sizes_are_larger():
    sizes = list(pipes.SCHEDULE_40_INSIDE_M.values())
    assert sizes == sorted(sizes)


def test_absurd_pipes_are_refused():
    refused = [
        lambda: pipes.velocity(0.01, 0.0),
        lambda: pipes.velocity(0.01, math.nan),
        lambda: pipes.friction_loss(-0.01, 0.05, 1.0),
        lambda: pipes.friction_loss(math.nan, 0.05, 1.0),
        lambda: pipes.friction_factor(0.0, 0.01),
        lambda: pipes.friction_factor(1e5, -0.01),
        lambda: pipes.hazen_williams_loss(-0.01, 0.05, 1.0),
        lambda: pipes.hazen_williams_loss(0.01, 0.0, 1.0),
        lambda: pipes.hazen_williams_loss(0.01, 0.05, 1.0, 0.0),
    ]
    for call in refused:
        with pytest.raises(ValueError, match=r"diameter|flow|friction"):
            call()


@given(st.floats(1e-4, 0.02), st.floats(0.02, 0.16), st.floats(1, 100), st.floats(0, 1e-3))
def test_darcy_weisbach_agrees_with_an_independent_library(flow, diameter, length, roughness):
    speed_ms = 4 * flow / (math.pi * diameter**2)
    reynolds = speed_ms * diameter / 1.2e-6
    if reynolds < 2000:
        return
    factor = fluids.friction.Colebrook(reynolds, roughness / diameter)
    head_m = fluids.core.head_from_P(
        fluids.core.dP_from_K(factor * length / diameter, rho=998.2, V=speed_ms), 998.2
    )
    found = pipes.friction_loss(flow, diameter, length, roughness, 1.2e-6)
    assert found == pytest.approx(head_m, rel=1e-7)


@given(st.floats(0, 40))
def test_viscosity_is_near_a_formula_for_it(temperature_c):
    """Vogel's equation with the density of water, both from memory, is 2.5 % off at most."""
    dynamic_pas = 2.414e-5 * 10 ** (247.8 / (temperature_c + 273.15 - 140.0))
    density_kgm3 = 1000.0 - 0.0056 * (temperature_c - 4.0) ** 2
    expected = dynamic_pas / density_kgm3
    assert pipes.water_viscosity(temperature_c) == pytest.approx(expected, rel=0.025)


@given(st.floats(0, 39), st.floats(0.01, 1))
def test_warmer_water_drags_less(temperature_c, warmer):
    assert pipes.water_viscosity(temperature_c + warmer) < pipes.water_viscosity(temperature_c)


def test_viscosity_at_the_table_and_beyond():
    assert pipes.water_viscosity(20.0) == pipes.WATER_VISCOSITY_M2S
    assert pipes.water_viscosity(0.0) == 1.792e-6
    for temperature_c in (-0.1, 40.1, math.nan):
        with pytest.raises(ValueError, match="viscosity"):
            pipes.water_viscosity(temperature_c)


@pytest.mark.parametrize(("gph", "feet_each_second"), [(4000, 6.4), (7000, 11.2)])
def test_what_the_trade_pushes_through_two_inches(gph, feet_each_second):
    """PIP-09: 4,000 to 7,000 gph in 2 in pipe run at 0.4085 Q / d^2 = 6.4 to 11.2 ft/s."""
    by_hand = 0.4085 * gph / 60 / 2.067**2
    found = pipes.velocity(gph / 60 * GPM, pipes.SCHEDULE_40_INSIDE_M["2"]) / FOOT
    assert by_hand == pytest.approx(feet_each_second, abs=0.05)
    assert found == pytest.approx(by_hand, rel=1e-3)


def test_the_smallest_size_under_a_velocity():
    """50 gpm run at 4.78 ft/s in 2 in (PIP-02): wide enough for 5 ft/s, not for 4.7."""
    assert pipes.smallest_size(50 * GPM, 5 * FOOT)[0] == "2"
    assert pipes.smallest_size(50 * GPM, 4.7 * FOOT)[0] == "3"
    assert pipes.smallest_size(1.0, 1.0)[0] == "6"


def test_content_is_the_area_times_the_length():
    assert pipes.content(0.2, 3.0) == pytest.approx(math.pi * 0.01 * 3.0)
