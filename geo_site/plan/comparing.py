"""Whole plans of one site side by side: what each is best at, and which is best at nothing.

Question
    Fall against digging against clearance against view: which alternative gives what up for what?
In
    Plans of one site.
Out
    A row for each plan: its value in every respect, what it is best at, and which others are at
    least as good in every respect and better in one.
Method
    Respects are the plan's own figures and the marks that the ranking gave. A plan is dominated
    where another is nowhere worse and somewhere better; no weights enter. To add a respect: one
    row in :data:`RESPECTS`.
Reference
    Pareto dominance, as in any text on decisions with several aims.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from geo_site.plan.figures import figures_of
from geo_site.plan.results import Alternative, Plan

__all__ = ["RESPECTS", "Respect", "compare_plans", "compare_values"]

_EQUAL = 1e-9


@dataclass(frozen=True)
class Respect:
    """Something in which plans differ.

    Attributes
    ----------
    name : str
        Of a figure, or of a criterion of the ranking.
    words : str
        For a reader.
    unit : str
        ``-`` for a mark from 0 to 1 and for a count.
    praise : str
        What is said of the plan that is best in it.
    more_is_better : bool
        Which way is good.
    """

    name: str
    words: str
    unit: str
    praise: str
    more_is_better: bool = False


RESPECTS = (
    Respect("fall_m", "fall", "m", "most fall", more_is_better=True),
    Respect("excavation_m3", "pit to dig", "m3", "smallest pit"),
    Respect("hand_dig_m2", "pit in hand-dig ground", "m2", "least hand digging"),
    Respect("haul_m3", "soil to haul", "m3", "least soil to haul"),
    Respect("margin_m", "room to lines beyond the asked", "m", "most room to lines",
            more_is_better=True),
    Respect("clearances_not_met_count", "clearances not met", "-", "fewest clearances not met"),
    Respect("clearances_unknown_count", "clearances unknown", "-", "fewest clearances unknown"),
    Respect("run_on_m2", "ground that drains onto the works", "m2", "least run-on"),
    Respect("machine_way_m", "way of the machine", "m", "shortest way for the machine"),
    Respect("view", "mark for the view, 0 to 1", "-", "best view", more_is_better=True),
    Respect("leaves", "mark for few leaves, 0 to 1", "-", "fewest leaves", more_is_better=True),
    Respect("power", "mark for power near by, 0 to 1", "-", "nearest to power",
            more_is_better=True),
    Respect("cost_total", "cost at the prices given", "-", "lowest cost"),
)  # fmt: skip
"""In the order in which they are told."""


def compare_plans(plans: Sequence[Plan]) -> tuple[Alternative, ...]:
    """Set plans of one site side by side.

    Parameters
    ----------
    plans : sequence of Plan
        Each with a proposal.

    Returns
    -------
    tuple of Alternative
        In the order given.
    """
    values = [_values(plan) for plan in plans]
    ranks = [plan.proposal.best.rank if plan.proposal else 0 for plan in plans]
    return compare_values(values, ranks)


def _values(plan: Plan) -> dict[str, float]:
    figures = dict(figures_of(plan))
    if plan.proposal is not None:
        best = plan.proposal.best
        figures["margin_m"] = best.candidate.margin_m
        figures |= {mark.criterion: mark.score for mark in best.marks}
    names = [respect.name for respect in RESPECTS]
    return {name: figures[name] for name in names if math.isfinite(figures.get(name, math.nan))}


def compare_values(
    values: Sequence[Mapping[str, float]], ranks: Sequence[int]
) -> tuple[Alternative, ...]:
    """Compare by values alone; a respect that one of them lacks is left out for all.

    Parameters
    ----------
    values : sequence of mapping
        Of each plan, by name of :data:`RESPECTS`.
    ranks : sequence of int
        Of their places.

    Returns
    -------
    tuple of Alternative
        In the order given.

    Examples
    --------
    >>> rows = compare_values([{"fall_m": 1.0, "haul_m3": 2.0}, {"fall_m": 0.8, "haul_m3": 2.0}],
    ...                       [1, 2])
    >>> rows[0].best_at, rows[1].dominated_by
    (('fall_m',), (1,))
    """
    shared = [respect for respect in RESPECTS if all(respect.name in one for one in values)]
    goods = [
        {r.name: one[r.name] if r.more_is_better else -one[r.name] for r in shared}
        for one in values
    ]
    rows = []
    for number, good in enumerate(goods, 1):
        best_at = tuple(r.name for r in shared if _is_best(r.name, good, goods))
        above = tuple(other for other, one in enumerate(goods, 1) if _dominates(one, good))
        rows.append(
            Alternative(
                number=number,
                rank=ranks[number - 1],
                values=dict(values[number - 1]),
                best_at=best_at,
                dominated_by=above,
                sentence=_told(best_at, above),
            )
        )
    return tuple(rows)


def _is_best(name: str, good: Mapping[str, float], all_of: Sequence[Mapping[str, float]]) -> bool:
    others = [one[name] for one in all_of]
    return good[name] >= max(others) - _EQUAL and good[name] > min(others) + _EQUAL


def _dominates(one: Mapping[str, float], other: Mapping[str, float]) -> bool:
    apart = [one[name] - other[name] for name in one]
    return all(more >= -_EQUAL for more in apart) and any(more > _EQUAL for more in apart)


def _told(best_at: tuple[str, ...], above: tuple[int, ...]) -> str:
    praise = {respect.name: respect.praise for respect in RESPECTS}
    if len(above) == 1:
        return f"best at nothing: plan {above[0]} is nowhere worse"
    if above:
        return f"best at nothing: plans {' and '.join(map(str, above))} are nowhere worse"
    if best_at:
        return f"best in this: {', '.join(praise[name] for name in best_at)}"
    return "a middle way: best at nothing, and none is better in all"
