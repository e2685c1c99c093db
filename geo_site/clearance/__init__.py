"""How near does each work come to everything that asks for a distance, and what does that mean.

In: the works of a plan and the requirements of the constraints. Out: one row for each pair with
the exact shortest distance, its connector and a verdict. Method: the distance counts from the
work's edge to the object's outer edge as drawn; the verdict compares it with rule plus position
uncertainty, and then asks what is not known. Missing facts only make an answer worse: ``met`` and
``hand_dig`` become ``unknown``, ``not_met`` stays. Nothing in this file leads from a missing fact
to ``met``. Reference: the practice of one-call law (positive response of every member, private
lines not covered by a public ticket).
"""

from __future__ import annotations

from geo_site.clearance.asked import AskedFor, list_asked_for
from geo_site.clearance.days import member_key
from geo_site.clearance.doubts import (
    doubts_about,
    doubts_about_fixture,
    doubts_about_private_locate,
    doubts_about_ticket,
)
from geo_site.clearance.exposed import (
    BeforeAfter,
    Exposure,
    as_exposed,
    compare,
    exposures_of,
)
from geo_site.clearance.figures import rounded_down, rounded_up
from geo_site.clearance.lines import LineFacts, facts_of_lines
from geo_site.clearance.strikes import Strike, find_strikes
from geo_site.clearance.stubs import LooseEnd, find_loose_ends
from geo_site.clearance.ticket import MemberAnswer, TicketReport, report_ticket
from geo_site.clearance.verdicts import WORK_RULES, Clearance, Verdict, Works, judge

__all__ = [
    "WORK_RULES",
    "AskedFor",
    "BeforeAfter",
    "Clearance",
    "Exposure",
    "LineFacts",
    "LooseEnd",
    "MemberAnswer",
    "Strike",
    "TicketReport",
    "Verdict",
    "Works",
    "as_exposed",
    "compare",
    "doubts_about",
    "doubts_about_fixture",
    "doubts_about_private_locate",
    "doubts_about_ticket",
    "exposures_of",
    "facts_of_lines",
    "find_loose_ends",
    "find_strikes",
    "judge",
    "list_asked_for",
    "member_key",
    "report_ticket",
    "rounded_down",
    "rounded_up",
]
