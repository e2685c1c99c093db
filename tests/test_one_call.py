"""One-call laws as data: what was read may clear, what was not is drawn and clears nothing."""

from __future__ import annotations

import pytest

from geo_site.constraints import ToleranceZone, zone_in_use
from geo_site.one_call import (
    TICKET_RULES,
    WIDEST_ZONE_M,
    ZONE_RULES,
    ticket_rule_of,
    zone_rule_of,
)

INCH = 0.0254
NONE = ToleranceZone()

READ = {
    18: ("CO", "NM", "SD", "WI", "MA", "RI", "NH", "ME", "MS", "PA"),
    24: ("MN", "ND", "NY", "FL", "CA", "VA"),
    48: ("MI",),
}  # fmt: skip
MEMORY = {
    18: ("IL", "MD", "OH"),
    24: ("AZ", "GA", "IN", "NJ", "OR", "SC", "TN", "UT", "WA"),
}


def test_utl_20_widths_that_were_read_may_clear():
    """UTL-20: widths by state, each from a one-call centre or a copy that names the law."""
    for inches, states in READ.items():
        for state in states:
            rule = ZONE_RULES[state]
            assert rule.width_m == pytest.approx(inches * INCH), state
            assert rule.may_clear
            assert rule.confidence in {"read", "transcription"}
            found = zone_in_use(state, NONE)
            assert found.is_known
            assert found.width_m == rule.width_m
            assert rule.read_on.isoformat() in found.note


def test_utl_20_widths_from_memory_are_drawn_and_clear_nothing():
    for inches, states in MEMORY.items():
        for state in states:
            rule = ZONE_RULES[state]
            assert rule.width_m == pytest.approx(inches * INCH), state
            assert rule.confidence == "memory"
            found = zone_in_use(state, NONE)
            assert not found.is_known
            assert "from memory" in found.note


def test_a_conflict_draws_the_wider_and_no_width_in_law_the_widest():
    carolina, texas = zone_in_use("NC", NONE), zone_in_use("Texas", NONE)
    assert carolina.width_m == pytest.approx(30 * INCH)
    assert texas.width_m == pytest.approx(48 * INCH)
    assert not carolina.is_known
    assert not texas.is_known
    assert "differently" in carolina.note
    assert "the law gives no width" in texas.note


@pytest.mark.parametrize("state", ["", "  ", "ZZ", "Narnia", "AL"])
def test_a_state_without_a_row_draws_the_widest_and_clears_nothing(state):
    found = zone_in_use(state, NONE)
    assert found.rule is None
    assert not found.is_known
    assert found.width_m == pytest.approx(WIDEST_ZONE_M) == pytest.approx(48 * INCH)


@pytest.mark.parametrize("state", ["", "PA", "OH", "NC", "TX"])
def test_the_users_own_width_comes_first_and_a_narrower_one_is_said(state):
    own = ToleranceZone(width=0.30, source="the county's code")
    found = zone_in_use(state, own)
    assert found.is_known
    assert (found.width_m, found.source) == (0.30, "the county's code")
    assert ("narrower" in found.note) == (state in {"PA", "OH", "NC"})
    wide = zone_in_use(state, ToleranceZone(width=2.0, source="x"))
    assert (wide.width_m, wide.note) == (2.0, "")


@pytest.mark.parametrize("written", ["PA", "pa", " Pennsylvania ", "PENNSYLVANIA"])
def test_a_state_is_found_by_letters_or_name(written):
    rule = zone_rule_of(written)
    assert rule is not None
    assert rule.state == "PA"
    new_york = zone_rule_of("new  york")
    assert new_york is not None
    assert new_york.state == "NY"


def test_every_row_says_where_it_is_from_and_no_width_is_beyond_the_widest():
    for state, rule in ZONE_RULES.items():
        assert rule.state == state
        assert rule.source
        assert rule.width_m is None or 0.4 < rule.width_m <= WIDEST_ZONE_M
        assert rule.may_clear == (rule.confidence in {"read", "transcription"})
    for state, times in TICKET_RULES.items():
        assert times is ticket_rule_of(state)
        assert times.source
        assert times.notice_days or times.life_days
    alabama = ticket_rule_of("Alabama")
    assert alabama is not None
    assert (alabama.notice_days, alabama.life_days, alabama.life_counts) == (2, 20, "working")
