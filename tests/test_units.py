"""Units: exact factors, what people write, and what documents say."""

import math
from fractions import Fraction

import pyproj
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants

from geo_site import units

FINITE = st.floats(-1e6, 1e6, allow_nan=False)

EXACT = [
    ("ft", "length", 0.3048),
    ("us-ft", "length", 0.3048006096012192),
    ("gal", "volume", 3.785411784e-3),
    ("gpm", "flow", 6.30901964e-5),
    ("gph", "flow", 1.0515033e-6),
    ("cfs", "flow", 0.028316846592),
    ("yd3", "volume", 0.764554857984),
    ("ac", "area", 4046.8564224),
    ("hp", "power", 745.699872),
    ("lb/ft3", "density", 16.0184634),
    ("short-ton/yd3", "density", 1186.55284),
]


@pytest.mark.parametrize(("name", "dimension", "expected"), EXACT)
def test_published_factors(name, dimension, expected):
    """UNT-01: NIST SP 811 and NIST Handbook 44, appendix C."""
    assert units.unit_factor(name, dimension) == pytest.approx(expected, rel=1e-8)


def test_derived_conversions():
    """UNT-01: NIST SP 811: gallons in a cubic foot, gpm in a cfs, gallons in an acre-inch."""
    assert pytest.approx(7.48051948, rel=1e-8) == units.CUBIC_FOOT_M3 / units.GALLON_M3
    assert pytest.approx(448.8311688, rel=1e-9) == units.CFS_M3S / units.GPM_M3S
    assert units.parse_volume("1 ac-in") / units.GALLON_M3 == pytest.approx(27_154.2857, rel=1e-8)
    assert units.unit_factor("gpm/ft", "flow_per_width") == pytest.approx(0.20699e-3, rel=1e-4)
    assert units.exact_factor("gph/in", "flow_per_width") * 5 == units.exact_factor(
        "gpm/ft", "flow_per_width"
    )


@pytest.mark.parametrize(
    ("ours", "theirs"),
    [
        (units.FOOT_M, constants.foot),
        (units.US_SURVEY_FOOT_M, constants.survey_foot),
        (units.INCH_M, constants.inch),
        (units.GALLON_M3, constants.gallon_US),
        (units.ACRE_M2, constants.acre),
        (units.POUND_KG, constants.pound),
        (units.SHORT_TON_KG, constants.short_ton),
        (units.HORSEPOWER_W, constants.hp),
        (units.STANDARD_GRAVITY_MS2, constants.g),
    ],
)
def test_agrees_with_an_independent_library(ours, theirs):
    """UNT-01: the same constants of scipy."""
    assert ours == pytest.approx(theirs, rel=1e-12)


def test_survey_foot_is_not_the_foot():
    """GEOD-01: 2,000,000 ft read in the wrong foot moves a point by 1.219202 m (definition)."""
    shift_m = 2_000_000 * (units.US_SURVEY_FOOT_M - units.FOOT_M)
    assert shift_m == pytest.approx(1.219202, abs=1e-6)
    assert shift_m / units.FOOT_M == pytest.approx(4.000008, abs=1e-6)
    assert units.exact_factor("us-ft", "length") == Fraction(1200, 3937)


@pytest.mark.parametrize(
    ("code", "name"),
    [
        (2264, "us-ft"),
        (2227, "us-ft"),
        (2269, "ft"),
        (2913, "ft"),
        (26918, "m"),
        (32618, "m"),
        (6360, "us-ft"),
        (8228, "ft"),
        (5703, "m"),
    ],
)
def test_units_of_the_registry(code, name):
    """GEOD-08: units of grids and heights in the EPSG registry."""
    axis = pyproj.CRS.from_epsg(code).axis_info[-1]
    assert units.VERTICAL_UNITS[name] == pytest.approx(axis.unit_conversion_factor, rel=1e-14)


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        (0.7, 0.7),
        (3, 3.0),
        ("2.75 ft", 0.8382),
        ("18 in", 0.4572),
        ("2.5 us-ft", 2.5 * 1200 / 3937),
        ("30 cm", 0.3),
        ("610 mm", 0.61),
        ("1.2 m", 1.2),
        ("2 ft 9 in", 0.8382),
        ("2'9\"", 0.8382),
        ("-2 ft 6 in", -0.762),
        ("+1 FT", 0.3048),
        ("3/4 in", 0.01905),
        ("1-1/2 in", 0.0381),
        ("1 1/2 ft", 0.4572),
        (".5ft", 0.1524),
        ("1e3 mm", 1.0),
    ],
)
def test_lengths_as_people_write_them(text, metres):
    assert units.parse_length(text) == pytest.approx(metres, rel=1e-15)


@pytest.mark.parametrize(
    "value",
    [
        True,
        False,
        None,
        [1.0],
        math.nan,
        math.inf,
        -math.inf,
        10**400,
        "9" * 400 + " m",
        "2.75",
        "",
        " ",
        "ft",
        "3 cubits",
        "2 gal",
        "nan m",
        "inf m",
        "1e999999999 m",
        "1,200 ft",
        "2 ft,",
        "2 ft 14 in",
        "9 in 2 ft",
        "2 ft -3 in",
        "1/0 in",
        "2 ft 3 ft",
    ],
)
def test_what_is_no_length_is_refused(value):
    with pytest.raises(ValueError, match=r".+"):
        units.parse_length(value)


@pytest.mark.parametrize("text", ["2.75", "3 cubits", "2 m3"])
def test_refusal_names_the_units_that_would_do(text):
    with pytest.raises(ValueError, match=r"use m, cm|one of m, cm"):
        units.parse_length(text)


def test_flows_volumes_areas_and_angles():
    assert units.parse_flow("20 gpm") == pytest.approx(20 * 6.30901964e-5, rel=1e-8)
    assert units.parse_flow("4000 gph") == pytest.approx(units.parse_flow("66.6666667 gpm"))
    assert units.parse_flow("1.2 L/s") == 0.0012
    assert units.parse_flow("3 m3/h") == pytest.approx(3 / 3600)
    assert units.parse_volume("2 yd3") == 2 * 0.764554857984
    assert units.parse_volume("2 yd³") == units.parse_volume("2 yd3")
    assert units.parse_volume("300 gal") == pytest.approx(1.1356235352)
    assert units.parse_volume("900 L") == 0.9
    assert units.parse_area("280 ft2") == pytest.approx(26.0128512)
    assert units.parse_angle("30 deg") == units.parse_angle("30°") == units.parse_angle(30) == 30.0


def test_slope_is_rise_over_run():
    for text in (0.25, "25 %", "1:4", "1V:4H", "4H:1V", "4h : 1v", "3 in/ft"):
        assert units.parse_slope(text) == 0.25


def test_batter_is_run_over_rise():
    for text in (1.5, "1.5:1", "1-1/2:1", "1.5H:1V", "1V:1.5H"):
        assert units.parse_batter(text) == 1.5
    assert units.parse_batter("0:1") == 0.0


@pytest.mark.parametrize("text", ["2:1", "1.5:1", "3:4", "1V:2V", "1:0", "1V:0H", "0.25"])
def test_slope_that_can_be_read_two_ways_is_refused(text):
    """The trade reads "2:1" as 2 out for 1 up as well as the reverse: four times the slope."""
    with pytest.raises(ValueError, match=r"two ways|zero|not a slope"):
        units.parse_slope(text)


@pytest.mark.parametrize("text", ["1:1.5", "1:0", "25 %", "1.5"])
def test_batter_that_can_be_read_two_ways_is_refused(text):
    with pytest.raises(ValueError, match=r"two ways|not a batter"):
        units.parse_batter(text)


def test_lengths_in_documents():
    assert units.format_length(1.1, "us") == "3.6 ft"
    assert units.format_length(0.4572, "us") == "18 in"
    assert units.format_length(0.019, "us") == "0.7 in"
    assert units.format_length(0.6096, "us") == "2.0 ft"
    assert units.format_length(3.0, "us", 3) == "9.843 ft"
    assert units.format_length(1.1, "si") == "1.10 m"
    assert units.format_length(0.019, "si") == "19 mm"
    assert units.format_length(-0.0004, "us") == "0 in"
    assert units.format_length(-0.5, "si") == "-0.50 m"


def test_other_quantities_in_documents():
    assert units.format_area(26.0128512, "us") == "280 ft²"
    assert units.format_area(4046.8564224 * 2, "us") == "2.00 ac"
    assert units.format_area(12_345.0, "si") == "1.23 ha"
    assert units.format_volume(25.679 * 0.764554857984, "us") == "25.7 yd³"
    assert units.format_liquid(538.6 * 3.785411784e-3, "us") == "539 gal"
    assert units.format_liquid(2.0389, "si") == "2039 L"
    assert units.format_flow(100 * 6.30901964e-5, "us") == "100.0 gpm"
    assert units.format_velocity(1.524, "us") == "5.0 ft/s"
    assert units.format_mass(907.18474, "us") == "1.0 short ton"


@pytest.mark.parametrize("unknown", [math.nan, math.inf])
def test_what_is_not_known_says_so(unknown):
    assert units.format_length(unknown, "us") == "unknown"
    assert units.format_flow(unknown, "si") == "unknown"


@given(FINITE)
def test_numbers_are_si_already(value):
    assert units.parse_length(value) == value


@given(FINITE, st.sampled_from(["si", "us"]))
def test_what_a_document_says_reads_back(value, system):
    pairs = (
        (units.format_length, units.parse_length),
        (units.format_area, units.parse_area),
        (units.format_volume, units.parse_volume),
        (units.format_liquid, units.parse_volume),
        (units.format_flow, units.parse_flow),
    )
    for write, read in pairs:
        text = write(value, system, 9)
        assert read(text) == pytest.approx(value, rel=1e-9, abs=1e-5)


@given(st.integers(0, 500), st.integers(0, 11), st.integers(0, 15))
def test_feet_and_inches_add_up(feet, inches, sixteenths):
    text = f"{feet} ft {inches} {sixteenths}/16 in"
    exact = (feet * 12 + inches + Fraction(sixteenths, 16)) * Fraction(254, 10_000)
    assert units.parse_length(text) == float(exact)


@given(st.text(max_size=12))
def test_any_text_is_read_or_refused(text):
    try:
        found = units.parse_length(text)
    except ValueError:
        return
    assert math.isfinite(found)
