"""The ticket's report: dates by rules that were read, answers by member, and no date otherwise."""

from __future__ import annotations

import dataclasses
import datetime

import pytest
from made_sites import DAY, make_layer, make_site, make_ticket
from shapely.geometry import LineString

from geo_site.clearance import TicketReport, doubts_about, doubts_about_ticket, report_ticket
from geo_site.constraints import ConstraintParameters
from geo_site.site import PrivateLocate, Ticket

EAST = LineString([(-30.0, 15.0), (70.0, 15.0)])
LINE = {"id": "L", "geometry": EAST, "kind": "gas", "member": "Member", "side": "public"}
BARE = make_site()
FRIDAY = datetime.date(2026, 3, 6)
DAYS = datetime.timedelta


def report(ticket: Ticket, lines=(LINE,), locate: PrivateLocate | None = None) -> TicketReport:
    site = dataclasses.replace(
        BARE, ticket=ticket, private_locate=locate, utilities=make_layer("utilities", lines)
    )
    return report_ticket(site, ConstraintParameters())


def alabama(**changes) -> Ticket:
    given = {
        "state": "AL", "as_of": FRIDAY + DAYS(days=5), "requested_on": FRIDAY,
        "valid_until": None, "holidays": (),
    }  # fmt: skip
    return make_ticket(**{**given, **changes})


def test_digging_begins_after_two_whole_working_days_with_every_answer_in():
    """UTL-10: Friday 6 March and 2 working days end on Tuesday; digging may begin on Wednesday."""
    told = report(alabama())
    assert told.missing == ()
    assert told.notice_ends_on == datetime.date(2026, 3, 10)
    assert told.earliest_dig_on == datetime.date(2026, 3, 11)
    assert told.valid_until == datetime.date(2026, 4, 3)
    assert "20 working days" in told.valid_until_told
    holiday = report(alabama(holidays=(datetime.date(2026, 3, 9),)))
    assert holiday.earliest_dig_on == datetime.date(2026, 3, 12)
    assert holiday.valid_until == datetime.date(2026, 4, 6)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"responses": {}}, "no member has answered"),
        ({"responses": {"Member": "pending"}}, "answered pending"),
        ({"responses": {"Member": "clear"}}, "yet a line of theirs is drawn"),
        ({"responses": {"Member": "marked", "B": "marked"}}, "no line of theirs is drawn"),
        ({"responses": {"Member": "marked"}, "members": ("Member", "Water")}, "Water has not"),
        ({"number": ""}, "no one-call ticket"),
        ({"as_of": None}, "as_of"),
        ({"as_of": FRIDAY - DAYS(days=1)}, "later than the plan"),
        ({"as_of": datetime.date(2026, 4, 4)}, "ended on 2026-04-03"),
        ({"refreshed_on": datetime.date(2026, 3, 31)}, "later than the plan"),
    ],
)
def test_whatever_is_missing_leaves_no_day_to_dig(changes, words):
    told = report(alabama(**changes))
    assert told.earliest_dig_on is None
    assert any(words in clause for clause in told.missing), told.missing
    assert told.earliest_dig_told.startswith("unknown: ")
    assert words in told.earliest_dig_told


@pytest.mark.parametrize("changes", [{"holidays": None}, {"state": "PA"}, {"state": ""}])
def test_an_unread_rule_or_unknown_holidays_give_no_day_but_the_longest_notice(changes):
    told = report(alabama(**changes))
    assert told.earliest_dig_on is None
    assert told.notice_ends_on is None
    assert "3 working days, not before 2026-03-12" in told.earliest_dig_told


def test_the_last_day_is_stated_or_counted_by_a_rule_that_was_read_or_unknown():
    stated = report(make_ticket(state="CO"))
    assert (stated.valid_until, stated.valid_until_told) == (DAY + DAYS(days=20), "as stated")
    counted = report(make_ticket(state="Colorado", valid_until=None))
    assert counted.valid_until == DAY - DAYS(days=5) + DAYS(days=30)
    renewed = report(make_ticket(state="CO", valid_until=None, refreshed_on=DAY))
    assert renewed.valid_until == DAY + DAYS(days=30)
    for state in ("PA", "CA", "TX", "Narnia", ""):
        unread = report(make_ticket(state=state, valid_until=None))
        assert unread.valid_until is None
        assert "was not read" in unread.valid_until_told
        assert any("last day" in clause for clause in unread.missing)


def test_marks_made_anew_after_the_end_do_not_raise_a_ticket_from_the_dead():
    late = make_ticket(
        state="CO", valid_until=None, requested_on=DAY - DAYS(days=40), refreshed_on=DAY
    )
    told = report(late)
    assert told.valid_until == DAY - DAYS(days=10)
    assert any("ended on" in clause for clause in told.missing)
    in_time = dataclasses.replace(late, refreshed_on=DAY - DAYS(days=11))
    assert report(in_time).missing == ()


def test_every_member_told_answering_or_named_by_a_line_has_a_row():
    ticket = make_ticket(
        members=("member", "Water"), responses={"Member": "marked", "Cab": "clear"}
    )
    lines = [LINE, {**LINE, "id": "M", "member": "Gas"}, {**LINE, "id": "N", "member": None}]
    told = {one.member: one for one in report(ticket, lines).answers}
    assert {name: one.answer for name, one in told.items()} == {
        "member": "marked", "Water": "none", "Cab": "clear", "Gas": "none",
    }  # fmt: skip
    assert told["member"].lines == ("L",)
    assert [name for name, one in told.items() if one.missing] == ["Water", "Gas"]


def test_no_answer_may_be_contradicted_by_another():
    ticket = make_ticket(responses={"Member": "marked", " MEMBER": "pending"})
    (one,) = report(ticket).answers
    assert one.answer == "marked and pending"
    assert one.missing == "answered marked and pending"


def test_private_lines_are_vouched_for_by_the_private_locate_alone():
    assert any("does not cover" in clause for clause in report(make_ticket()).private_missing)
    held = PrivateLocate(by="A", on=DAY, valid_until=DAY)
    assert report(Ticket(as_of=DAY), locate=held).private_missing == ()


def test_marks_later_than_the_plan_or_older_than_the_ticket_are_doubted():
    site = dataclasses.replace(BARE, ticket=make_ticket())
    request = site.ticket.requested_on

    def doubts(**facts):
        (line,) = make_layer("utilities", [{**LINE, **facts}]).itertuples()
        return doubts_about(line, site)

    assert doubts(marked_on=request) == doubts(marked_on=None) == ()
    assert "later than the plan" in doubts(marked_on=DAY + DAYS(days=1))[0]
    old = request - DAYS(days=1)
    assert "older than the ticket" in doubts(marked_on=old)[0]
    assert doubts(marked_on=old, quality_level="QL-A") == ()


def test_a_member_that_was_told_and_is_silent_keeps_the_ticket_open():
    ticket = make_ticket(members=("Member", "Water"))
    assert doubts_about_ticket(ticket) == ("Water has not answered the ticket",)
    assert doubts_about_ticket(make_ticket(members=(" MEMBER",))) == ()
