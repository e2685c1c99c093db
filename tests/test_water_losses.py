"""Losses by definition and by published weather; how long the water lasts."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from geo_site.water import WaterParameters
from geo_site.water.losses import air_gap_needed, fill_line_told, lose, losses

FOOT = 0.3048
GALLON = 231 * 0.0254**3
ALICE = {
    "latitude": -23.7951,
    "altitude": 546.0,
    "day_of_year": 202,
    "greatest_temperature": 21.0,
    "least_temperature": 2.0,
    "greatest_humidity": 71.0,
    "least_humidity": 25.0,
    "wind": 0.5903,
    "radiation": 17.194,
}


def test_eva_04_a_wet_area():
    """EVA-04: 150 ft2 and 0.25 in a day are 23.38 gal a day (definition)."""
    parameters = WaterParameters(evaporation=0.25 * 25.4, days_between_fills=3.0)
    found = lose(150 * FOOT**2, 1.0, parameters)
    assert found.evaporation_m3_per_day / GALLON == pytest.approx(23.38, abs=0.01)
    assert found.losses_m3 / GALLON == pytest.approx(3 * 23.38, abs=0.02)
    assert found.makeup_m3 / GALLON == pytest.approx(7 * 23.38, abs=0.04)
    assert losses(150 * FOOT**2, parameters) == found.losses_m3


def test_eva_01_from_the_settings():
    """EVA-01: the weather of McMahon et al. (2013) gives 2.98 mm/day."""
    found = lose(10.0, 1.0, WaterParameters(climate=ALICE))
    assert found.basis == "penman"
    assert found.evaporation_mm == pytest.approx(2.9797, rel=2e-3)
    assert found.evaporation_m3_per_day == pytest.approx(0.029797, rel=2e-3)
    assert not any("assumption" in told for told in found.warnings)


def test_eva_03_planting_from_the_settings():
    """EVA-03: FAO Irrigation and Drainage Paper 56, example 18: 3.88 mm/day; times 1.2 on 10 m2."""
    brussels = {
        "latitude": 50.8, "altitude": 100.0, "day_of_year": 187, "greatest_temperature": 21.5,
        "least_temperature": 12.3, "greatest_humidity": 84.0, "least_humidity": 63.0,
        "wind": 2.078, "radiation": 22.07,
    }  # fmt: skip
    parameters = WaterParameters(climate=brussels, losses={"plant_area": 10.0})
    assert lose(0.0, 1.0, parameters).planting_m3_per_day == pytest.approx(1.2 * 0.0388, rel=3e-3)


def test_a_pan_where_the_weather_is_not_given():
    found = lose(10.0, 1.0, WaterParameters(climate={"pan_evaporation": 10.0}))
    assert (found.basis, found.evaporation_mm) == ("pan", pytest.approx(7.0))


def test_the_flat_figure_is_said_to_be_an_assumption():
    found = lose(10.0, 1.0, WaterParameters())
    assert (found.basis, found.evaporation_mm) == ("flat", 6.0)
    assert any("6 mm/day (an assumption)" in told for told in found.warnings)
    assert any("splash" in told for told in found.warnings)


def test_weather_with_a_gap_is_not_guessed():
    gap = {name: value for name, value in ALICE.items() if name != "wind"}
    found = lose(10.0, 1.0, WaterParameters(climate=gap))
    assert found.basis == "flat"
    assert any("missing: wind" in told for told in found.warnings)


def test_everything_together_by_hand():
    """10 m2 of stream and 1.5 x 2 m2 of stone at 6 mm: 0.078; planting 5 m2 x 1.2 x 6 mm: 0.036;
    splash 0.02: 0.134 m3 a day; 0.67 m3 to spare last 5 days.
    """
    parameters = WaterParameters(splash_loss=0.02, losses={"stone_area": 2.0, "plant_area": 5.0})
    found = lose(10.0, 0.67, parameters)
    assert found.evaporation_m3_per_day == pytest.approx(0.078)
    assert found.planting_m3_per_day == pytest.approx(0.036)
    assert found.loss_m3_per_day == pytest.approx(0.134)
    assert found.days_without_rain == pytest.approx(5.0)
    assert any("after 5.0 days; 7 days" in told for told in found.warnings)
    assert not any("splash" in told for told in found.warnings)


@settings(max_examples=100, deadline=None)
@given(
    wet=st.floats(0.1, 100),
    spare=st.floats(0.001, 10),
    evaporation=st.floats(0.1, 15),
    splash=st.floats(0, 0.5),
    plants=st.floats(0, 20),
)
def test_days_times_the_daily_loss_is_what_is_to_spare(wet, spare, evaporation, splash, plants):
    parameters = WaterParameters(
        evaporation=evaporation, splash_loss=splash, losses={"plant_area": plants}
    )
    found = lose(wet, spare, parameters)
    assert found.days_without_rain * found.loss_m3_per_day == pytest.approx(spare)
    parts = found.evaporation_m3_per_day + found.planting_m3_per_day + found.splash_m3_per_day
    assert found.loss_m3_per_day == pytest.approx(parts)
    short = found.days_without_rain < parameters.days_between_fills
    assert short == any("sucks air" in told for told in found.warnings)


def test_a_basin_too_small_has_no_days():
    assert lose(10.0, -0.1, WaterParameters()).days_without_rain == 0.0
    assert lose(10.0, 0.0, WaterParameters()).days_without_rain == 0.0
    dry = lose(10.0, -0.1, WaterParameters(evaporation=0.0))  # though nothing evaporates
    assert dry.days_without_rain == 0.0
    assert any("after 0.0 days" in told for told in dry.warnings)


def test_where_nothing_is_lost_it_lasts():
    assert lose(10.0, 1.0, WaterParameters(evaporation=0.0)).days_without_rain == math.inf


class TestFillLine:
    @pytest.mark.parametrize(
        ("opening", "wall", "gap"),
        [(0.010, False, 0.025), (0.020, False, 0.040), (0.020, True, 0.060), (0.010, True, 0.0375)],
    )
    def test_gap(self, opening, wall, gap):
        """Twice the opening, at least 25 mm; three times near a wall (codes, from memory)."""
        assert air_gap_needed(opening, beside_wall=wall) == pytest.approx(gap)

    def test_no_line_no_word(self):
        assert fill_line_told(WaterParameters()) == ()

    def test_unknown_is_unknown(self):
        told = fill_line_told(WaterParameters(losses={"fill_opening": 0.02}))
        assert "is not known" in told[0]
        assert "40 mm" in told[0]

    def test_too_little_and_enough(self):
        low = WaterParameters(losses={"fill_opening": 0.02, "fill_air_gap": 0.03})
        assert "is 30 mm: it needs 40 mm" in fill_line_told(low)[0]
        assert (
            fill_line_told(WaterParameters(losses={"fill_opening": 0.02, "fill_air_gap": 0.04}))
            == ()
        )

    def test_no_opening_is_refused(self):
        with pytest.raises(ValueError, match="opening"):
            air_gap_needed(0.0, beside_wall=False)


@pytest.mark.parametrize(
    "wrong",
    [
        {"climate": {"greatest_temperature": 10.0, "least_temperature": 12.0}},
        {"climate": {"greatest_humidity": 30.0, "least_humidity": 60.0}},
        {"climate": {"latitude": 80.0}},
        {"intake": {"clogging_low": 0.4, "clogging_high": 0.3}},
        {"intake": {"litter_low": 0.4}},
    ],
)
def test_figures_the_wrong_way_round_are_refused(wrong):
    with pytest.raises(ValidationError):
        WaterParameters(**wrong)
