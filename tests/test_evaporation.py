"""Evaporation against published worked examples."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geo_site import evaporation
from geo_site.evaporation import MJ_PER_DAY_W, PLANT_ALBEDO, WATER_ALBEDO, Weather

ALICE = Weather(
    latitude_deg=-23.7951,
    altitude_m=546.0,
    day=202,
    greatest_c=21.0,
    least_c=2.0,
    vapour_pa=evaporation.vapour_from_humidity(21.0, 2.0, 0.71, 0.25),
    wind_ms=0.5903,
    radiation_wm2=17.194 * MJ_PER_DAY_W,
)
BRUSSELS = Weather(
    latitude_deg=50.80,
    altitude_m=100.0,
    day=187,
    greatest_c=21.5,
    least_c=12.3,
    vapour_pa=evaporation.vapour_from_humidity(21.5, 12.3, 0.84, 0.63),
    wind_ms=2.078,
    radiation_wm2=evaporation.radiation_from_sunshine(50.80, 187, 9.25),
)


class TestOpenWater:
    def test_eva_01_parts(self):
        """EVA-01: McMahon et al. (2013), HESS 17, supplement, worked examples 1 to 3."""
        assert ALICE.vapour_pa / 1000 == pytest.approx(0.5614, rel=1e-3)
        assert (ALICE.deficit_pa + ALICE.vapour_pa) / 1000 == pytest.approx(1.5963, rel=1e-3)
        above = evaporation.extraterrestrial_radiation(-23.7951, 202) / MJ_PER_DAY_W
        assert above == pytest.approx(23.618, rel=1e-3)
        net = evaporation.net_radiation(ALICE, WATER_ALBEDO) / MJ_PER_DAY_W
        assert net == pytest.approx(8.640, rel=1e-3)
        # what is sent back as long waves: 0.92 x 17.194 - Rn
        assert 0.92 * 17.194 - net == pytest.approx(7.178, rel=2e-3)

    def test_eva_01_penman(self):
        """EVA-01: 2.9797 mm/day with the wind function of 1956."""
        wind = evaporation.penman_1956_wind(ALICE.wind_ms)
        assert evaporation.open_water_evaporation(ALICE, wind) == pytest.approx(2.9797, rel=2e-3)

    def test_eva_02_another_wind_function(self):
        """EVA-02: 3.55 mm/day with the wind function of Shuttleworth: a fifth more."""
        wind = evaporation.shuttleworth_wind(ALICE.wind_ms)
        assert evaporation.open_water_evaporation(ALICE, wind) == pytest.approx(3.55, rel=5e-3)

    @settings(max_examples=100, deadline=None)
    @given(
        latitude=st.floats(-60, 60),
        day=st.integers(1, 366),
        warm=st.floats(5, 45),
        span=st.floats(2, 20),
        humid=st.floats(0.1, 1.0),
        wind=st.floats(0, 8),
    )
    def test_windier_takes_more(self, latitude, day, warm, span, humid, wind):
        sun = 0.6 * evaporation.extraterrestrial_radiation(latitude, day)
        vapour = evaporation.vapour_from_humidity(warm, warm - span, humid, 0.6 * humid)
        plain = Weather(
            latitude_deg=latitude, altitude_m=100.0, day=day, greatest_c=warm, least_c=warm - span,
            vapour_pa=vapour, wind_ms=wind, radiation_wm2=sun,
        )  # fmt: skip

        def leaves(weather):
            factor = evaporation.penman_1956_wind(weather.wind_ms)
            return evaporation.open_water_evaporation(weather, factor)

        base = leaves(plain)
        assert base >= 0.0
        assert leaves(replace(plain, wind_ms=wind + 1.0)) >= base
        # Net radiation on open water never exceeds the sun's.
        assert evaporation.net_radiation(plain, WATER_ALBEDO) < sun

    def test_a_sunnier_day_takes_more(self):
        """A tenth more sun at Alice Springs, by hand.

        0.92 x 1.7194 = 1.582 MJ more kept; the sky is then clear (17.97 MJ): the cloud factor goes
        from 1.35 x 0.9567 - 0.35 = 0.9416 to 1, and 7.178 x 0.0584 / 0.9416 = 0.445 MJ more leave;
        1.137 MJ / 2.45 = 0.464 mm; D 0.0898, g 0.0631 kPa: x 0.587 = 0.272 mm.
        """
        sunny = replace(ALICE, radiation_wm2=1.1 * ALICE.radiation_wm2)
        base = evaporation.open_water_evaporation(ALICE, 2.0)
        more = evaporation.open_water_evaporation(sunny, 2.0) - base
        assert more == pytest.approx(0.272, abs=0.004)

    def test_a_saturated_calm_night_takes_nothing(self):
        dark = replace(ALICE, radiation_wm2=0.0, wind_ms=0.0, vapour_pa=5000.0)
        assert dark.deficit_pa == 0.0
        assert evaporation.open_water_evaporation(dark, 1.3) == pytest.approx(0.0, abs=0.2)


class TestPlanting:
    def test_eva_03_parts(self):
        """EVA-03: FAO Irrigation and Drainage Paper 56, example 18, Brussels, 6 July."""
        assert BRUSSELS.vapour_pa / 1000 == pytest.approx(1.409, abs=1e-3)
        assert (BRUSSELS.deficit_pa + BRUSSELS.vapour_pa) / 1000 == pytest.approx(1.997, abs=2e-3)
        above = evaporation.extraterrestrial_radiation(50.80, 187) / MJ_PER_DAY_W
        assert above == pytest.approx(41.09, abs=0.01)
        assert BRUSSELS.radiation_wm2 / MJ_PER_DAY_W == pytest.approx(22.07, abs=0.01)
        net = evaporation.net_radiation(BRUSSELS, PLANT_ALBEDO) / MJ_PER_DAY_W
        assert net == pytest.approx(13.28, abs=0.01)

    def test_eva_03_reference(self):
        """EVA-03: 3.88 mm/day (printed 3.9)."""
        found = evaporation.reference_evapotranspiration(BRUSSELS)
        assert found == pytest.approx(3.88, abs=0.01)

    def test_hours_of_sun_end_at_the_length_of_the_day(self):
        """EVA-03: the day has 16.1 hours; no sun leaves a quarter, all of it three."""
        above = evaporation.extraterrestrial_radiation(50.80, 187)
        sunny = evaporation.radiation_from_sunshine(50.80, 187, 24.0)
        assert evaporation.radiation_from_sunshine(50.80, 187, 0.0) == pytest.approx(0.25 * above)
        assert sunny == pytest.approx(0.75 * above)
        nearly = evaporation.radiation_from_sunshine(50.80, 187, 16.0)
        assert nearly < sunny == evaporation.radiation_from_sunshine(50.80, 187, 16.2)

    def test_more_wind_and_drier_air(self):
        base = evaporation.reference_evapotranspiration(BRUSSELS)
        assert evaporation.reference_evapotranspiration(replace(BRUSSELS, vapour_pa=900.0)) > base


def test_the_sun_over_the_equator_and_in_step_with_the_hemispheres():
    """At an equinox the equator's day has 12 hours; June in the north is December in the south."""
    june = evaporation.extraterrestrial_radiation(45.0, 172)
    december = evaporation.extraterrestrial_radiation(-45.0, 172 + 182)
    assert december == pytest.approx(june, rel=0.08)  # the sun is nearer in December
    assert december > june
    assert evaporation.extraterrestrial_radiation(45.0, 355) < 0.35 * june


def test_a_pan():
    assert evaporation.pan_to_open_water(8.0, 0.7) == pytest.approx(5.6)


@pytest.mark.parametrize(
    "refused",
    [
        lambda: replace(ALICE, latitude_deg=70.0),
        lambda: replace(ALICE, least_c=30.0),
        lambda: replace(ALICE, wind_ms=-1.0),
        lambda: evaporation.pan_to_open_water(-1.0, 0.7),
    ],
)
def test_nonsense_is_refused(refused):
    with pytest.raises(ValueError, match=r".+"):
        refused()
