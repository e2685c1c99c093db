"""What to check on site before anything is dug: what was assumed, unknown, or nearest.

In: the site as read and the clearances found. Out: rows of subject, what to check and why, the
gravest first. Method: everything that the plan took for granted is asked for by name. Lines that
a lot like this usually has and nobody marked are asked for too: common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from geo_site.clearance import Clearance, doubts_about
from geo_site.constraints import ConstraintParameters
from geo_site.probability import drop_sigma, interval_95
from geo_site.site import Site

__all__ = ["Visit", "list_visits"]

_NEAREST = 3
_UNMARKED = (
    ("septic", "septic tank, field and their pipes"),
    ("irrigation", "irrigation pipes and valve wires"),
    ("yard lighting", "low-voltage lighting cables"),
    ("propane", "a propane tank and its line"),
    ("outbuilding", "feeds to outbuildings, pumps and gates"),
    ("pet fence", "a buried pet fence wire"),
    ("drains", "roof, foundation and yard drains"),
)


@dataclass(frozen=True, kw_only=True)
class Visit:
    """One thing to check on site.

    Attributes
    ----------
    subject : str
        A line's id, ``terrain``, ``boundary`` ...
    check : str
        What to do there.
    why : str
        What rests on it.
    """

    subject: str
    check: str
    why: str


def list_visits(
    site: Site, clearances: Sequence[Clearance], rules: ConstraintParameters, fall_m: float | None
) -> tuple[Visit, ...]:
    """List what to check on site.

    Parameters
    ----------
    site : Site
        What was read.
    clearances : sequence of Clearance
        Of the works proposed; may be empty.
    rules : ConstraintParameters
        The rules in use.
    fall_m : float or None
        The fall that the stream counts on, m.

    Returns
    -------
    tuple of Visit
        Conflicts and unknowns first, then nearest lines, then what was assumed.
    """
    rows = [
        *_conflicts(clearances),
        *_unknown_lines(site),
        *_rules(rules),
        *_nearest_lines(clearances),
        *_ground(site, fall_m),
        *_never_marked(site),
    ]
    return tuple(rows)


def _conflicts(clearances: Sequence[Clearance]) -> Iterator[Visit]:
    for row in clearances:
        if row.verdict in {"not_met", "hand_dig"}:
            yield Visit(
                subject=row.against,
                check=f"expose or measure {row.against} beside the {row.work.replace('_', ' ')}",
                why=f"{row.verdict.replace('_', ' ')}: {row.reason}",
            )


def _unknown_lines(site: Site) -> Iterator[Visit]:
    for line in site.utilities.itertuples():
        found = doubts_about(line, site)
        if found:
            yield Visit(
                subject=str(line.id),
                check="have the line located and answered for before digging",
                why="; ".join(found),
            )


def _rules(rules: ConstraintParameters) -> Iterator[Visit]:
    if not rules.tolerance_zone.is_known:
        yield Visit(
            subject="tolerance zone",
            check="read the width that the one-call law here asks, and state it with its source",
            why=f"{rules.tolerance_zone.width_in_use_m:.2f} m was drawn; nothing is cleared by it",
        )


def _nearest_lines(clearances: Sequence[Clearance]) -> Iterator[Visit]:
    beside = [row for row in clearances if row.work == "basin_excavation"]
    lines = sorted(
        (row for row in beside if row.verdict in {"met", "unknown"} and row.required_m > 0.0),
        key=lambda row: (row.clearance_m - row.required_m, row.against),
    )
    for row in lines[:_NEAREST]:
        yield Visit(
            subject=row.against,
            check=f"measure from the staked pit edge to {row.against}",
            why=f"{row.clearance_m:.2f} m on the map, {row.required_m:.2f} m asked",
        )


def _ground(site: Site, fall_m: float | None) -> Iterator[Visit]:
    if math.isnan(site.rmse_z_m):
        yield Visit(
            subject="terrain",
            check="take levels of spillway, basin and one point between",
            why="how well the terrain is known is not stated",
        )
    elif fall_m is not None:
        likely = interval_95(fall_m, drop_sigma(site.rmse_z_m))
        yield Visit(
            subject="terrain",
            check="take levels of spillway and basin",
            why=f"fall of {fall_m:.2f} m, 95 %: {max(likely.low, 0.0):.2f} to {likely.high:.2f} m "
            "from the terrain's error alone",
        )
    if math.isnan(site.parcel_accuracy_m):
        yield Visit(
            subject="boundary",
            check="find the parcel's corners",
            why="how well the parcel lines are known is not stated",
        )


def _never_marked(site: Site) -> Iterator[Visit]:
    asked = [told for name, told in _UNMARKED if name != "septic" or site.septic.empty]
    yield Visit(
        subject="private lines",
        check=f"ask the owner for {'; '.join(asked)}",
        why="a public ticket marks none of these",
    )
