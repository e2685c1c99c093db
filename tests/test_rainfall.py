"""Rain: published relations, tables read between their figures and not beyond, and the reader."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from site_files import SiteFolder

from geo_site.errors import InputRefused
from geo_site.rainfall import (
    DAY_S,
    RainfallTable,
    annual_maximum_years,
    chance_in_years,
    depth_of_10_minutes,
    depth_of_10_years,
    depth_of_25_years,
    depth_of_30_minutes,
    partial_duration_years,
)
from geo_site.readers import read_site
from geo_site.readers.rainfall_files import read_rainfall

INCH = 0.0254
TMP = settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=50)

SERVER = """Point precipitation frequency estimates (inches)
An invented table, Volume 0
Data type: Precipitation depth
Time series type: Partial duration
Location name: nowhere
Latitude: 40.0 Degree

PRECIPITATION FREQUENCY ESTIMATES
by duration for ARI (years):, 1,2,10,100
5-min:, 0.300,0.40,0.60,0.90
15-min:, 0.600,0.75,1.10,1.70
60-min:, 1.00,1.30,2.00,3.20
2-hr:, 1.20,1.50,2.40,3.90
24-hr:, 2.20,2.70,4.00,6.50
2-day:, 2.50,3.10,4.50,7.10

Date/time (GMT):  Mon Jan  1 00:00:00 2026
"""


def table_of(**changes) -> RainfallTable:
    given_ = {
        "durations_s": (300.0, 900.0, 3600.0),
        "return_years": (1.0, 10.0, 100.0),
        "depths_m": ((0.008, 0.012, 0.016), (0.014, 0.022, 0.030), (0.024, 0.040, 0.060)),
    }
    return RainfallTable(**{**given_, **changes})


def read(folder: Path, text: str) -> RainfallTable:
    path = folder / "rain.csv"
    path.write_text(text, encoding="utf-8")
    return read_rainfall(path, "rain.csv")


class TestRelations:
    def test_short_durations(self):
        """RUN-50: NWS HYDRO-35."""
        assert depth_of_10_minutes(0.50, 1.00) == pytest.approx(0.795, abs=1e-3)
        assert depth_of_30_minutes(1.00, 2.00) == pytest.approx(1.490, abs=1e-3)

    def test_return_periods_between_2_and_100_years(self):
        """The weights of HYDRO-35 (from memory): equal depths stay nearly as they are."""
        assert depth_of_10_years(1.0, 1.0) == pytest.approx(0.945)
        assert depth_of_25_years(1.0, 1.0) == pytest.approx(0.962)

    def test_between_durations(self):
        """RUN-51: log-log, 15 to 30 minutes."""
        table = RainfallTable(
            durations_s=(900.0, 1800.0),
            return_years=(10.0,),
            depths_m=((1.00 * INCH,), (1.40 * INCH,)),
        )
        assert table.depth(1200.0, 10.0) / INCH == pytest.approx(1.1499, abs=1e-3)
        assert table.intensity(1200.0, 10.0) / INCH * 3600.0 == pytest.approx(3.450, abs=1e-3)

    @pytest.mark.parametrize(("annual", "partial"), [(2, 1.443), (5, 4.481), (10, 9.491)])
    def test_annual_maxima_and_all_storms(self, annual, partial):
        """RUN-53: Langbein (1949)."""
        assert partial_duration_years(annual) == pytest.approx(partial, abs=1e-3)
        assert annual_maximum_years(partial_duration_years(annual)) == pytest.approx(annual)

    def test_chance_of_a_rare_event(self):
        """RUN-54: the 100-year event in 30 years."""
        assert chance_in_years(100.0, 30) == pytest.approx(0.2603, abs=1e-4)
        assert chance_in_years(1.0, 1) == 1.0
        assert chance_in_years(5.0, 0) == 0.0

    @pytest.mark.parametrize(
        "call",
        [
            lambda: partial_duration_years(1.0),
            lambda: annual_maximum_years(0.0),
            lambda: chance_in_years(0.5, 1),
            lambda: chance_in_years(5.0, -1),
        ],
    )
    def test_what_cannot_be_is_refused(self, call):
        with pytest.raises(ValueError, match="return"):
            call()


class TestTable:
    def test_its_own_figures_come_back(self):
        table = table_of()
        for row, duration_s in enumerate(table.durations_s):
            for column, years in enumerate(table.return_years):
                assert table.depth(duration_s, years) == pytest.approx(table.depths_m[row][column])

    def test_halfway_between_return_periods_by_their_logarithm(self):
        """sqrt(10 x 100) years lie halfway between 10 and 100."""
        table = table_of()
        assert table.depth(3600.0, math.sqrt(1000.0)) == pytest.approx(0.050)

    def test_halfway_between_durations_by_their_logarithm(self):
        """The geometric mean of the durations has the geometric mean of the depths."""
        table = table_of()
        at_s = math.sqrt(900.0 * 3600.0)
        assert table.depth(at_s, 10.0) == pytest.approx(math.sqrt(0.022 * 0.040))

    @given(st.floats(300.0, 3600.0), st.floats(300.0, 3600.0), st.floats(1.0, 100.0))
    def test_more_time_more_rain_and_never_more_intense(self, one_s, other_s, years):
        short_s, long_s = sorted((one_s, other_s))
        table = table_of()
        assert table.depth(short_s, years) <= table.depth(long_s, years) * (1 + 1e-12)
        assert table.intensity(short_s, years) >= table.intensity(long_s, years) * (1 - 1e-12)

    @given(st.floats(300.0, 3600.0), st.floats(1.0, 100.0), st.floats(1.0, 100.0))
    def test_rarer_is_more(self, duration_s, one, other):
        table = table_of()
        low, high = sorted((one, other))
        assert table.depth(duration_s, low) <= table.depth(duration_s, high) * (1 + 1e-12)

    @pytest.mark.parametrize(("duration_s", "years"), [(299.0, 10.0), (3601.0, 10.0), (900.0, 101)])
    def test_nothing_beyond(self, duration_s, years):
        assert not table_of().holds(duration_s, years)
        with pytest.raises(ValueError, match="outside the rainfall table"):
            table_of().depth(duration_s, years)

    @pytest.mark.parametrize(
        "changes",
        [
            {"durations_s": (900.0, 300.0, 3600.0)},
            {"return_years": (0.0, 10.0, 100.0)},
            {"depths_m": ((0.01, 0.02, 0.03),)},
            {"depths_m": ((0.01,) * 3, (0.02, 0.01, 0.02), (0.03,) * 3)},
            {"depths_m": ((0.03,) * 3, (0.02,) * 3, (0.03,) * 3)},
            {"depths_m": ((0.0, 0.01, 0.02), (0.02,) * 3, (0.03,) * 3)},
            {"depths_m": ((math.nan, 0.01, 0.02), (0.02,) * 3, (0.03,) * 3)},
        ],
    )
    def test_a_table_that_cannot_be_is_refused(self, changes):
        with pytest.raises(ValueError, match=r"depth|durations"):
            table_of(**changes)


class TestReader:
    def test_as_the_server_gives_it(self, tmp_path):
        table = read(tmp_path, SERVER)
        assert table.durations_s == (300.0, 900.0, 3600.0, 7200.0, DAY_S, 2 * DAY_S)
        assert table.return_years == (1.0, 2.0, 10.0, 100.0)
        assert table.depth(3600.0, 100.0) == pytest.approx(3.20 * INCH)
        assert table.series == "partial_duration"
        assert "An invented table" in table.source
        assert table.notes == () == table.lower_m == table.upper_m

    def test_annual_maxima_by_their_chance_in_millimetres(self, tmp_path):
        text = (
            SERVER.replace("inches", "millimeters")
            .replace("Partial duration", "Annual maximum")
            .replace("ARI (years):, 1,2,10,100", "AEP:, 1/2,1/5,1/10,1/100")
        )
        table = read(tmp_path, text)
        assert table.series == "annual_maximum"
        assert table.return_years == (2.0, 5.0, 10.0, 100.0)
        assert table.depth(300.0, 2.0) == pytest.approx(0.0003)

    def test_bounds_that_follow_are_read_and_others_named(self, tmp_path):
        rows = SERVER.partition("PRECIPITATION FREQUENCY ESTIMATES\n")[2].partition("\n\n")[0]
        text = (
            SERVER
            + f"\nUPPER BOUND OF 90% CONFIDENCE INTERVAL\n{rows}"
            + f"\n\nLOWER BOUND OF 90% CONFIDENCE INTERVAL\n{rows}\n\nSOMETHING ELSE\n{rows}\n"
        )
        table = read(tmp_path, text)
        assert table.upper_m == table.depths_m == table.lower_m
        assert table.notes == ("a further table (SOMETHING ELSE) was not read",)

    def test_a_bound_alone_is_not_the_estimate(self, tmp_path):
        text = SERVER.replace("PRECIPITATION FREQUENCY ESTIMATES", "UPPER BOUND OF 90% CONFIDENCE")
        with pytest.raises(InputRefused, match="first table is the upper bound"):
            read(tmp_path, text)

    def test_plain(self, tmp_path):
        table = read(tmp_path, "duration_min,2_year_mm,10_year_mm\n5,10,15\n60,30,50\n")
        assert table.durations_s == (300.0, 3600.0)
        assert table.return_years == (2.0, 10.0)
        assert np.array(table.depths_m) == pytest.approx(np.array([[0.010, 0.015], [0.03, 0.05]]))
        assert table.series == "unknown"
        assert "only annual maxima" in table.notes[0]

    @TMP
    @given(st.lists(st.integers(1, 999), min_size=6, max_size=6))
    def test_what_falls_is_refused_and_all_else_read(self, tmp_path, cells):
        a, b, c, d, e, f = cells
        text = f"duration_min,2_year_mm,10_year_mm\n5,{a},{b}\n10,{c},{d}\n60,{e},{f}\n"
        if a <= b and c <= d and e <= f and a <= c <= e and b <= d <= f:
            assert read(tmp_path, text).depth(3600.0, 10.0) == pytest.approx(f / 1000)
        else:
            with pytest.raises(InputRefused, match="less rain for a longer"):
                read(tmp_path, text)

    def test_a_site_holds_it_and_one_without_has_none(self, tmp_path):
        site = SiteFolder(tmp_path)
        (tmp_path / "rain.csv").write_text(SERVER, encoding="utf-8")
        assert read_site(site.write()).rainfall is None
        site.inputs["rainfall"] = {"path": "rain.csv"}
        found = read_site(site.write())
        assert found.rainfall is not None
        assert found.rainfall.depth(DAY_S, 10.0) == pytest.approx(4.00 * INCH)
        assert (found.records[-1].name, found.records[-1].count) == ("rainfall", 6)
