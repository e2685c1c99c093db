"""Tables of pumps and prices: what is read is what is written, in SI; cells are never run."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from site_files import SiteFolder

from geo_site.errors import InputRefused
from geo_site.prices import Price, PriceList
from geo_site.pumps import curve_fault
from geo_site.readers import read_site
from geo_site.readers.csv_rows import read_rows
from geo_site.readers.price_files import PRICE_UNITS, read_prices
from geo_site.readers.pump_files import read_pumps

FOOT = 0.3048
GPM = 6.30901964e-5
TMP = settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60)


def pumps_of(folder: Path, text: str, **options):
    path = folder / "pumps.csv"
    path.write_text(text, encoding="utf-8")
    return read_pumps(path, "pumps.csv", **options)


def prices_of(folder: Path, text: str) -> PriceList:
    path = folder / "prices.csv"
    path.write_text(text, encoding="utf-8")
    return read_prices(path, "prices.csv")


class TestPumps:
    def test_gallons_and_feet(self, tmp_path):
        (curve,) = pumps_of(tmp_path, "pump,flow_gpm,head_ft\nA,0,20\nA,50,15\nA,100,5\n")
        assert curve.name == "A"
        assert curve.flows_m3s == pytest.approx((0.0, 50 * GPM, 100 * GPM), rel=1e-8)
        assert curve.heads_m == pytest.approx((20 * FOOT, 15 * FOOT, 5 * FOOT))
        assert curve.powers_w == ()
        assert math.isnan(curve.speed_rpm)

    @pytest.mark.parametrize(
        ("column", "one_m3s"),
        [
            ("flow_m3s", 1.0), ("flow_m3h", 1 / 3600), ("flow_lps", 1e-3), ("flow_lpm", 1e-3 / 60),
            ("flow_lph", 1e-3 / 3600), ("flow_gpm", GPM), ("flow_gph", GPM / 60),
        ],
    )  # fmt: skip
    def test_every_unit_of_flow(self, tmp_path, column, one_m3s):
        (curve,) = pumps_of(tmp_path, f"pump,{column},head_m\nA,0,8\nA,1,5\nA,3,2\n")
        assert curve.flows_m3s == pytest.approx((0.0, one_m3s, 3 * one_m3s), rel=1e-8)
        assert curve.heads_m == (8.0, 5.0, 2.0)

    def test_several_pumps_speeds_and_power(self, tmp_path):
        text = (
            "Pump, Flow_lps, Head_m, Power_kW, Speed_rpm\n"
            "B,4,2,0.5,2900\nB,0,8,0.3,2900\nB,2,6,0.4,2900\n"
            "A,0,5,0.1,1450\nA,1,4,0.1,1450\nA,2,2,0.1,1450\n\n"
            "B,0,2,0.1,1450\nB,1,1.5,0.1,1450\nB,2,0.5,0.1,1450\n"
        )
        first, second, third = pumps_of(tmp_path, text)
        assert (first.name, first.speed_rpm) == ("B", 2900.0)
        assert first.flows_m3s == (0.0, 0.002, 0.004)
        assert first.powers_w == (300.0, 400.0, 500.0)
        assert (second.name, third.name, third.speed_rpm) == ("A", "B", 1450.0)

    def test_one_point_only_where_the_user_says_so(self, tmp_path):
        text = "pump,flow_gpm,head_ft\nA,100,20\n"
        with pytest.raises(InputRefused, match="1 points"):
            pumps_of(tmp_path, text)
        (curve,) = pumps_of(tmp_path, text, one_point=True)
        assert curve.is_assumed
        assert curve.heads_m[0] / FOOT == pytest.approx(80 / 3)
        for zero in ("A,0,20", "A,100,0"):
            with pytest.raises(InputRefused, match="only point"):
                pumps_of(tmp_path, f"pump,flow_gpm,head_ft\n{zero}\n", one_point=True)

    def test_a_rising_curve_is_read(self, tmp_path):
        (curve,) = pumps_of(tmp_path, "pump,flow_lps,head_m\nA,0,5\nA,1,6\nA,2,2\n")
        assert curve.heads_m == (5.0, 6.0, 2.0)

    def test_power_and_speed_may_be_told_of_some_pumps_only(self, tmp_path):
        text = (
            "pump,flow_lps,head_m,power_w,speed_rpm\n"
            "A,0,5,100,\nA,1,4,110,\nA,2,2,115,\nB,0,5,,1450\nB,1,4,,1450\nB,2,2,,1450\n"
        )
        told, untold = pumps_of(tmp_path, text)
        assert told.powers_w == (100.0, 110.0, 115.0)
        assert math.isnan(told.speed_rpm)
        assert untold.powers_w == ()
        assert untold.speed_rpm == 1450.0

    def test_no_power_is_refused(self, tmp_path):
        """A pump that seems to take nothing would be the cheapest of all."""
        for power, words in (("0", "0 is not possible"), ("", "at other points, none here")):
            with pytest.raises(InputRefused, match=f"row 3, column power_w: .*{words}"):
                pumps_of(
                    tmp_path, f"pump,flow_lps,head_m,power_w\nA,0,5,9\nA,1,4,{power}\nA,2,2,9\n"
                )

    def test_no_speed_is_refused(self, tmp_path):
        with pytest.raises(InputRefused, match="row 2, column speed_rpm"):
            pumps_of(tmp_path, "pump,flow_lps,head_m,speed_rpm\nA,0,5,0\nA,1,4,0\nA,2,2,0\n")


class TestPrices:
    def test_as_written(self, tmp_path):
        found = prices_of(
            tmp_path,
            'item,unit,price,currency,note\nLiner,m2,8.50,EUR,"rubber, 1 mm"\nsod,m2,0,EUR,\n',
        )
        assert found.currency == "EUR"
        assert found.prices[0] == Price(
            item="Liner", unit="m2", price=8.5, told="8.50 per m2", note="rubber, 1 mm"
        )
        assert found.prices[1].price == 0.0

    @pytest.mark.parametrize(
        ("unit", "si", "per_si"),
        [
            ("yd3", "m3", 1 / 0.764554857984), ("ft3", "m3", 1 / 0.028316846592),
            ("short-ton", "t", 1 / 0.90718474), ("lb", "t", 1 / 0.00045359237), ("kg", "t", 1000),
            ("ft", "m", 1 / 0.3048), ("ft2", "m2", 1 / 0.09290304), ("t", "t", 1),
            ("count", "count", 1), ("kWh", "kWh", 1), ("m³", "m3", 1), ("gal", "m3", 264.172052),
        ],
    )  # fmt: skip
    def test_a_price_is_for_one_si_unit(self, tmp_path, unit, si, per_si):
        """Exact factors: one of the unit in the price, many of it in a cubic metre or tonne."""
        found = prices_of(tmp_path, f"item,unit,price\nstone,{unit},40\n").prices[0]
        assert found.unit == si
        assert found.price == pytest.approx(40 * per_si, rel=1e-8)
        assert found.told == f"40 per {unit}"

    def test_every_unit_has_a_factor(self, tmp_path):
        for unit in PRICE_UNITS:
            assert prices_of(tmp_path, f"item,unit,price\nx,{unit},1\n").prices[0].price > 0.0

    def test_names_are_found_however_they_are_written(self, tmp_path):
        found = prices_of(tmp_path, "item,unit,price\n Pipe  2 IN ,m,3\n")
        assert found.price_of("pipe 2 in", "m") == 3.0
        assert math.isnan(found.price_of("pipe 2 in", "m2"))
        assert math.isnan(found.price_of("pipe 3 in", "m"))
        assert found.find("pipe 3 in") is None


CELLS = [
    "=1+1", "+1", "@x", "-", "1e3", "1e999", "nan", "inf", "0x1", "1_000", "１", "", " 5 ",
    "1,5", "5.",
]  # fmt: skip


def refusal_of(reader, path: Path) -> str:
    """What a file is told; "" for one that is read."""
    try:
        reader(path, path.name)
    except InputRefused as refused:
        return str(refused)
    return ""


class TestText:
    @TMP
    @given(
        st.sampled_from(["", "pump,flow_lps,head_m\n", "item,unit,price\n"]), st.text(max_size=60)
    )
    def test_any_text_is_read_or_refused_in_one_line(self, tmp_path, header, text):
        for name, reader in (("pumps.csv", read_pumps), ("prices.csv", read_prices)):
            path = tmp_path / name
            path.write_text(header + text, encoding="utf-8", errors="replace", newline="")
            told = refusal_of(reader, path)
            assert "\n" not in told
            assert told == "" or told.startswith(name)

    @TMP
    @given(st.lists(st.sampled_from(CELLS), min_size=1, max_size=3))
    def test_only_plain_numbers_are_numbers(self, tmp_path, cells):
        plain = {"+1": 1.0, "1e3": 1000.0, "5": 5.0, "5.": 5.0}
        text = "item,unit,price\n" + "".join(f'x{n},m,"{cell}"\n' for n, cell in enumerate(cells))
        told = [cell.strip() for cell in cells]
        if all(cell in plain for cell in told):
            prices = [price.price for price in prices_of(tmp_path, text).prices]
            assert prices == [plain[cell] for cell in told]
        else:
            with pytest.raises(InputRefused, match="column price"):
                prices_of(tmp_path, text)

    def test_a_mark_at_the_beginning_and_other_line_ends(self, tmp_path):
        path = tmp_path / "t.csv"
        path.write_bytes("\ufeffItem,unit\r\na,b\r\n,\r\n\r\nc,d".encode())
        columns, rows = read_rows(path, "t.csv")
        assert columns == ("item", "unit")
        assert [(row.line, row.cells["item"]) for row in rows] == [(2, "a"), (5, "c")]

    def test_columns_that_are_no_columns(self, tmp_path):
        path = tmp_path / "t.csv"
        for text, words in (
            ("a,a\n1,2\n", "column a stands twice"),
            ("a,\n1,2\n", "a column has no name"),
            ("\n\n", "the table is empty"),
            ("a\n\x00\n", "no text"),
            ("a\n\x07b\n", "no plain text"),
            ("a\n" + 2001 * "x" + "\n", "no plain text"),
        ):
            path.write_text(text, encoding="utf-8")
            with pytest.raises(InputRefused, match=words):
                read_rows(path, "t.csv")

    def test_too_large(self, tmp_path):
        path = tmp_path / "t.csv"
        path.write_text("a\n" + "1\n" * 20_001, encoding="utf-8")
        with pytest.raises(InputRefused, match="20000 rows"):
            read_rows(path, "t.csv")
        path.write_bytes(b"a" * (4 * 1024**2 + 1))
        with pytest.raises(InputRefused, match="4 MiB"):
            read_rows(path, "t.csv")


def test_a_site_holds_what_its_tables_hold(tmp_path):
    site = SiteFolder(tmp_path)
    (tmp_path / "pumps.csv").write_text("pump,flow_gpm,head_ft\nA,100,20\n", encoding="utf-8")
    (tmp_path / "prices.csv").write_text("item,unit,price\nliner,m2,5\n", encoding="utf-8")
    site.inputs["pumps"] = {"path": "pumps.csv", "one_point": True}
    site.inputs["prices"] = {"path": "prices.csv"}
    found = read_site(site.write())
    assert [curve.name for curve in found.pumps] == ["A"]
    assert found.prices is not None
    assert found.prices.price_of("liner", "m2") == 5.0
    pumps, prices = found.records[-2:]
    assert (pumps.name, pumps.count, pumps.crs) == ("pumps", 1, "")
    assert pumps.notes == ("A: one point was given, its curve is assumed",)
    assert (prices.name, prices.count, len(prices.sha256)) == ("prices", 1, 64)


def test_a_site_without_tables_has_none(tmp_path):
    found = read_site(SiteFolder(tmp_path).write())
    assert found.pumps == ()
    assert found.prices is None


def test_the_lists_of_the_sample():
    """Invented, and read: three falling curves; one price for each size of each fitting."""
    folder = Path(__file__).parent.parent / "sample_data" / "hillside"
    curves = read_pumps(folder / "pumps.csv", "pumps.csv")
    assert [curve.name for curve in curves] == ["Pump A", "Pump B", "Pump C"]
    assert [curve_fault(curve) for curve in curves] == ["", "", ""]
    prices = read_prices(folder / "prices.csv", "prices.csv")
    assert {price.note for price in prices.prices} == {"invented"}
    for size in ("2", "3", "4"):
        assert prices.price_of(f"pipe {size} in", "m") > 0.0
        assert prices.price_of(f"check valve {size} in", "count") > 0.0
