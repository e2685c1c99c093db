"""How sure the answer is: figures with their ranges, chances, and what to measure first.

In: a plan with its certainty. Out: a page of a booklet. Method: ranges and chances as they were
found; what is unknown is said to be. Reference: none.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from geo_site.certainty import Certainty, PlaceCertainty, Range
from geo_site.plan import Plan
from geo_site.sheets.booklet import Booklet
from geo_site.sheets.flow import Column, Flow, ListRow
from geo_site.sheets.paper import Lettering
from geo_site.units import FOOT_M, System, format_area, format_length, format_volume, in_report

__all__ = ["add_sureness", "chance_told"]

_MOST_WORTH = 8
_GAIN = (
    "Settles: the expected gain of the best choice, counted in plans that work (a place's score "
    "times its chance of working, less what a failure costs), on average over what may be found; "
    "0: whatever is found, the choice stays."
)
_FIGURES = (
    Column(title="figure", share=2.2),
    Column(title="as planned", share=1.0, align="right"),
    Column(title="at least (95 %)", share=1.0, align="right"),
    Column(title="at most (95 %)", share=1.0, align="right"),
    Column(title="how found", share=1.0),
)
_PLACES = (
    Column(title="place", share=0.6),
    Column(title="fall of the ground, 95 %", share=1.8),
    Column(title="chance of the fall", share=1.2, align="right"),
    Column(title="chance that no other is better", share=1.4, align="right"),
    Column(title="digging, 95 %", share=1.8),
    Column(title="run-on, 95 %", share=1.8),
)
_WORTH = (
    Column(title="measure", share=3.0),
    Column(title="at", share=1.4),
    Column(title="of place", share=0.6, align="right"),
    Column(title="settles", share=1.4, align="right"),
)


def add_sureness(book: Booklet, plan: Plan) -> None:
    """Add the page, where it was worked out how sure the answer is.

    Parameters
    ----------
    book : Booklet
        To add to.
    plan : Plan
        With or without its certainty.
    """
    sure, system = plan.certainty, plan.site.report_units
    if sure is None:
        return
    flow = Flow(lambda: book.add("how sure it is: ranges, chances, and what to measure first"))
    flow.skip(1.0)
    flow.paragraph(_story(sure, system), Lettering(size_pt=9.0))
    flow.skip(2.5)
    flow.rows(_FIGURES, list(_figures(sure, system)), size_pt=8.0)
    if sure.places:
        flow.skip(4.0)
        flow.heading("The places, as sure as they are")
        flow.rows(_PLACES, [_place(one, system) for one in sure.places], size_pt=8.0)
    if sure.worth:
        flow.skip(4.0)
        flow.heading("What to measure first")
        rows = [
            ListRow(cells=(one.measurement, one.subject, str(one.rank), f"{one.settles:.3f}"))
            for one in sure.worth[:_MOST_WORTH]
        ]
        flow.rows(_WORTH, rows, size_pt=8.0)
        flow.skip(1.0)
        flow.paragraph(_GAIN, Lettering(size_pt=7.5))
    flow.skip(3.0)
    for note in sure.notes:
        flow.paragraph(in_report(note, system), Lettering(size_pt=7.5))


def chance_told(chance: float) -> str:
    """Print a chance, rounded down, so that nothing short of certain looks certain.

    Parameters
    ----------
    chance : float
        0 to 1; NaN unknown.

    Returns
    -------
    str
        Percent.

    Examples
    --------
    >>> chance_told(0.9169), chance_told(0.9999), chance_told(0.0), chance_told(float("nan"))
    ('91 %', 'over 99 %', 'under 1 %', 'unknown')
    """
    if math.isnan(chance):
        return "unknown"
    if chance < 0.01:
        return "under 1 %"
    return "over 99 %" if chance > 0.99 else f"{math.floor(100.0 * chance + 1e-9)} %"


def _story(sure: Certainty, system: System) -> str:
    error = format_length(sure.rmse_z_m, system)
    if sure.is_assumed:
        return (
            f"Nobody has stated the terrain's error. {error} is assumed here to show ranges; "
            "nothing is asserted from it. Take levels on site."
        )
    asserted = format_length(sure.asserted_fall_m, system)
    return (
        f"For a vertical error of the terrain of {error} (root mean square), as stated, alike at "
        f"near points. The greatest fall that the ground gives with a chance of 97.5 % is "
        f"{asserted}. A range holds what the terrain can tell and how exactly a floor is dug; what "
        "nobody mapped is not in it."
    )


def _figures(sure: Certainty, system: System) -> Iterator[ListRow]:
    yield _row("fall of the stream", sure.fall, system)
    for one in sure.catchments:
        yield _row(f"ground that drains onto the {one.work.replace('_', ' ')}", one.range, system)
    yield _row("soil left over, loose", sure.spoil, system)
    yield _row("soil piled, loose", sure.pile, system)
    yield _row("soil hauled away, loose", sure.haul, system)
    for row in sure.clearances:
        if row.chance_of_rule < 1.0 - 1e-4:
            words = f"clearance {row.number}: {row.work.replace('_', ' ')} to {row.against}"
            told = f"{words} (chance that the rule is kept: {chance_told(row.chance_of_rule)})"
            yield _row(told, row.range, system)


def _row(words: str, one: Range, system: System) -> ListRow:
    ends = (_told(one.low, one.unit, system), _told(one.high, one.unit, system))
    low, high = ends if one.is_known else ("unknown", "unknown")
    return ListRow(cells=(words, _told(one.value, one.unit, system), low, high, one.how))


def _place(one: PlaceCertainty, system: System) -> ListRow:
    return ListRow(
        cells=(
            str(one.rank),
            _range(one.fall, system),
            chance_told(one.chance_of_fall),
            chance_told(one.chance_best),
            _range(one.excavation, system),
            _range(one.catchment, system),
        )
    )


def _range(one: Range, system: System) -> str:
    if not one.is_known:
        return "unknown"
    return f"{_told(one.low, one.unit, system)} to {_told(one.high, one.unit, system)}"


def _told(value: float, unit: str, system: System) -> str:
    if math.isnan(value):
        return "unknown"
    if unit == "m":
        return f"{value / FOOT_M:.2f} ft" if system == "us" else f"{value:.2f} m"
    return (format_area if unit == "m2" else format_volume)(value, system)
