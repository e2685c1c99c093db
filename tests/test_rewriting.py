"""Metric quantities in sentences, said in feet and gallons: never the wrong way, never twice."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from geo_site.units import in_report

FOOT = Fraction(3048, 10_000)
WORDS = st.text(alphabet="abcdefgh ,;.", max_size=12)
LENGTHS = st.decimals(0, 5000, places=2)


def feet(text: str) -> list[Fraction]:
    return [Fraction(number) * FOOT for number in re.findall(r"([\d.]+) ft", text)]


@given(LENGTHS, LENGTHS, LENGTHS, LENGTHS)
def test_a_clearance_never_grows_and_a_demand_never_shrinks(found, asked, rule, position) -> None:
    text = f"{found} m found, {asked} m asked (rule {rule} m, position {position} m)"
    got = feet(in_report(text, "us"))
    assert got[0] <= Fraction(str(found))
    assert all(g >= Fraction(str(w)) for g, w in zip(got[1:], (asked, rule, position), strict=True))
    # A step of the printed number is 0.01 ft: nothing is off by more than that.
    wanted = [Fraction(str(value)) for value in (found, asked, rule, position)]
    assert all(abs(g - w) < FOOT / 100 for g, w in zip(got, wanted, strict=True))


@given(WORDS, LENGTHS, st.sampled_from(["m", "mm", "m2", "m3", "L/s", "kg", "t/m3"]), WORDS)
def test_twice_is_once_and_words_stay(before: str, number, unit: str, after: str) -> None:
    text = f"{before} {number} {unit} {after}"
    once = in_report(text, "us")
    assert in_report(once, "us") == once
    assert once.startswith(before)
    assert once.endswith(after)
    assert in_report(text, "si") == text


@given(st.text(max_size=60))
def test_text_without_a_metric_quantity_is_left_alone(text: str) -> None:
    if not re.search(r"\d (?:[a-zL])", text):
        assert in_report(text, "us") == text


@given(st.decimals(0, 900, places=1))
def test_other_lengths_go_to_the_nearest(value) -> None:
    (got,) = feet(in_report(f"a berm of {value} m", "us"))
    assert abs(got - Fraction(str(value))) <= FOOT / 20


@pytest.mark.parametrize(
    ("metric", "told"),
    [
        ("1.00 m3 of soil", "1.31 yd\u00b3 of soil"),  # 1 yd3 = 0.764554858 m3 (SP 811)
        ("a store of 1.000 m3", "a store of 264.2 gal"),  # 1 gal = 3.785411784 L
        ("3.1 m3 to dig below the water", "4.1 yd\u00b3 to dig below the water"),
        ("the pump can draw 1.00 m3: fill the pools", "the pump can draw 264 gal: fill the pools"),
        ("25.4 mm deep", "1.000 in deep"),
        ("6.31 L/s", "100.0 gpm"),
        ("100 kg", "220 lb"),
        ("6 mm/day", "0.24 in/day"),
        ("1.50 m/s", "4.92 ft/s"),
        ("119 m2 runs", "1281 ft\u00b2 runs"),
        ("0.69 to 1.11 m", "2.26 to 3.64 ft"),
        ("4 of about 0.40 m", "4 of about 1.31 ft"),
        ("house056, 33 m on", "house056, 108 ft on"),
    ],
)
def test_published_factors(metric: str, told: str) -> None:
    assert in_report(metric, "us") == told


@pytest.mark.parametrize(
    "text",
    [
        "bed 6.9, banks 6.1, folds 1.9 m2",  # the first two are areas too
        "20 mm deep (19 to 29)",  # so is the range
        "2 x 3 m",  # two of three metres, or two metres by three
        "10, 20 or 30 m",
        "18 in, 8 in to an outdoor appliance",
        "E1 3M tape, 5mm, 1:4 m, 3 m^2",
        "version 1.2.3 m",
        "25 kPa",
        "boundary.basin 0.2 m (default 1.5)",
    ],
)
def test_what_is_not_sure_stays_as_it_is(text: str) -> None:
    assert in_report(text, "us") == text
