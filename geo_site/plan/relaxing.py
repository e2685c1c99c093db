"""When nothing fits: the smallest change of each rule that opens a place.

Question
    No place satisfies the rules. Which one, weakened by how little, would open one?
In
    The job that found nothing.
Out
    A :class:`~geo_site.plan.results.Relaxation` for each rule that opens a place alone; where no
    rule does so alone, for the cheapest pairs; and the rules of law and of what is known that
    stand against it, named and not offered.
Method
    Whether the basin fits never turns false by taking less ground away, so the first step at
    which it does is found by halving. From there on each step is tried with its stream, a number
    of steps one by one, further ones by halving. Pairs are walked along their staircase: as one
    rule gives way, the other may hold more.
Reference
    Bisection on a monotone predicate; a number of searches bounds the time.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from geo_site.constraints import Ground, Work
from geo_site.plan.choosing import Job, has_place, has_room
from geo_site.plan.knobs import BINDING, KNOBS, Knob, value_at, with_values
from geo_site.plan.relaxing_parameters import RelaxingParameters
from geo_site.plan.results import Relaxation
from geo_site.siting import design_basin
from geo_site.water import first_need

__all__ = ["relax"]


@dataclass
class _Trials:
    """Tries settings, counts, and remembers."""

    job: Job
    left: int
    rooms: dict[tuple[tuple[str, Any], ...], bool] = field(default_factory=dict)
    places: dict[tuple[tuple[str, Any], ...], bool] = field(default_factory=dict)

    def has_room(self, values: Mapping[str, Any]) -> bool:
        """Whether the basin fits with some values changed."""
        return self._ask(self.rooms, has_room, values)

    def has_place(self, values: Mapping[str, Any]) -> bool:
        """Whether there is a place with its stream."""
        return self._ask(self.places, has_place, values)

    def _ask(
        self,
        known: dict[tuple[tuple[str, Any], ...], bool],
        ask: Callable[[Job], bool],
        values: Mapping[str, Any],
    ) -> bool:
        key = tuple(sorted(values.items()))
        if key not in known:
            if self.left <= 0:
                raise _OutOfSearches
            self.left -= 1
            known[key] = ask(_job_with(self.job, values))
        return known[key]


class _OutOfSearches(Exception):  # not a fault: the end of the search
    """The number of searches is used up."""


def _job_with(job: Job, values: Mapping[str, Any]) -> Job:
    used = with_values(job.used, values)
    design = design_basin(first_need(used.water, used.layout), used.siting)
    return replace(job, used=used, design=design, say=_quiet)


def _quiet(word: str) -> None:
    """Say nothing: the searches are many."""


def relax(
    job: Job, grounds: Mapping[Work, Ground], parameters: RelaxingParameters
) -> tuple[Relaxation, ...]:
    """Look for the smallest changes of rules that open a place.

    Parameters
    ----------
    job : Job
        That found no place, and in which nothing is drawn.
    grounds : mapping of str to Ground
        What it looked on: rules that take none of the lot are not tried.
    parameters : RelaxingParameters
        How far to go.

    Returns
    -------
    tuple of Relaxation
        What may be discussed first, the smallest share first; then what binds; a last row where
        the search was cut short.
    """
    if parameters.most_searches == 0 or job.site.fixed.has_works:
        return ()
    trials = _Trials(job=job, left=parameters.most_searches)
    found: list[Relaxation] = []
    try:
        knobs = _that_matter(trials, grounds)
        found += _singles(trials, knobs, parameters)
        binding = list(_binding(trials))
        if not found:
            found += _pairs(trials, knobs, parameters)
        found = sorted(found, key=lambda row: row.share) + binding
    except _OutOfSearches:
        found = [*sorted(found, key=lambda row: row.share), _cut_short(parameters)]
    return tuple(found)


def _cut_short(parameters: RelaxingParameters) -> Relaxation:
    return Relaxation(
        keys=("relaxing.most_searches",),
        from_values=(float(parameters.most_searches),),
        to_values=(math.nan,),
        units=("-",),
        share=math.nan,
        may_be_discussed=True,
        sentence=f"more rules were not searched: {parameters.most_searches} searches were made "
        "(relaxing.most_searches)",
    )


def _that_matter(trials: _Trials, grounds: Mapping[Work, Ground]) -> list[Knob]:
    """Rules that take ground of the lot, or limit basin or stream; none if all do not help."""
    job = trials.job
    kinds = {f"utility:{kind}" for kind in job.site.utilities["kind"]}
    if "utility:unknown" in kinds:
        kinds |= {knob.reason for knob in KNOBS if knob.reason.startswith("utility")}
    lot = job.site.parcel
    taking = {
        piece.reason
        for work in ("basin", "stream")
        for piece in grounds[work].pieces
        if piece.geometry.intersects(lot)
    }
    there = {"", *taking, *(kinds if "utility" in taking else ())}
    knobs = [knob for knob in KNOBS if knob.reason in there and knob.steps(job.used) > 0]
    weakest = {knob.key: knob.value(job.used, knob.steps(job.used)) for knob in knobs}
    return knobs if trials.has_room(weakest) and trials.has_place(weakest) else []


def _singles(
    trials: _Trials, knobs: list[Knob], parameters: RelaxingParameters
) -> Iterator[Relaxation]:
    has_room = bool(knobs) and trials.has_room({})
    for knob in knobs:
        if knob.is_of_stream and not has_room:
            continue  # it gives the basin no room
        step = _least_step(trials, knob, parameters)
        if step is not None:
            yield _offer(trials.job, ((knob, step),))


def _least_step(trials: _Trials, knob: Knob, parameters: RelaxingParameters) -> int | None:
    """First step of a rule that opens a place; None where no step does."""
    used, most = trials.job.used, knob.steps(trials.job.used)
    if most == 0:
        return None

    def room(step: int) -> bool:
        return trials.has_room({knob.key: knob.value(used, step)})

    def place(step: int) -> bool:
        return trials.has_place({knob.key: knob.value(used, step)})

    if not room(most):
        return None
    first = _first_true(room, 0, most)
    if not place(most) and not place(first):
        return None
    for step in range(first, min(first + parameters.steps_one_by_one, most) + 1):
        if place(step):
            return step
    if not place(most):
        return None
    return _first_true(place, min(first + parameters.steps_one_by_one, most), most)


def _first_true(holds: Callable[[int], bool], low: int, high: int) -> int:
    """First number for which a predicate holds that holds for ``high``, by halving."""
    if low >= high or holds(low):
        return low
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if holds(middle) else (middle, high)
    return high


def _binding(trials: _Trials) -> Iterator[Relaxation]:
    for rule in BINDING:
        if trials.has_room(rule.values) and trials.has_place(rule.values):
            nothing = tuple(math.nan for _ in rule.values)
            yield Relaxation(
                keys=tuple(rule.values),
                from_values=nothing,
                to_values=nothing,
                units=tuple("m" for _ in rule.values),
                share=math.nan,
                may_be_discussed=False,
                sentence=f"{rule.words} stands against a place; it is not ours to weaken",
            )


def _pairs(trials: _Trials, knobs: list[Knob], parameters: RelaxingParameters) -> list[Relaxation]:
    """Pairs that open a place together, the cheapest first."""
    used = trials.job.used
    found = []
    for one, other in itertools.combinations(knobs, 2):
        if one.is_of_stream and other.is_of_stream and not trials.has_room({}):
            continue
        ends = {knob.key: knob.value(used, knob.steps(used)) for knob in (one, other)}
        if trials.has_room(ends) and trials.has_place(ends):
            found.append(_walk(trials, one, other))
    offers = [_offer(trials.job, steps) for steps in found if steps is not None]
    return sorted(offers, key=lambda row: row.share)[: parameters.most_pairs]


def _walk(trials: _Trials, one: Knob, other: Knob) -> tuple[tuple[Knob, int], ...] | None:
    """Walk the staircase of a pair: every corner once, the cheapest that has its stream."""
    used = trials.job.used
    a, b = one.steps(used), other.steps(used)

    def values(i: int, j: int) -> dict[str, float]:
        return {one.key: one.value(used, i), other.key: other.value(used, j)}

    corners: list[tuple[float, int, int]] = []
    i, j = 0, b
    while i <= a and j >= 0:
        if trials.has_room(values(i, j)):
            corners.append((_share(used, ((one, i), (other, j))), i, j))
            j -= 1
        else:
            i += 1
    for _, i, j in sorted(corners):
        if trials.has_place(values(i, j)):
            return ((one, i), (other, j))
    return ((one, a), (other, b))


def _share(used: Any, steps: tuple[tuple[Knob, int], ...]) -> float:
    """Sum of the changes, each over the value in use."""
    total = 0.0
    for knob, step in steps:
        now = value_at(used, knob.key)
        total += abs(knob.value(used, step) - now) / abs(now) if now else float(step > 0)
    return total


def _offer(job: Job, steps: tuple[tuple[Knob, int], ...]) -> Relaxation:
    used = job.used
    units = {row.key: row.unit for row in used.rows()}
    keys = tuple(knob.key for knob, _ in steps)
    before = tuple(value_at(used, key) for key in keys)
    after = tuple(knob.value(used, step) for knob, step in steps)
    told = " and ".join(
        f"{knob.words} is {_said(new, units[knob.key])} instead of {_said(old, units[knob.key])} "
        f"({knob.key})"
        for (knob, _), old, new in zip(steps, before, after, strict=True)
    )
    return Relaxation(
        keys=keys,
        from_values=before,
        to_values=after,
        units=tuple(units[key] for key in keys),
        share=_share(used, steps),
        may_be_discussed=True,
        sentence=f"a place opens if {told}",
    )


def _said(value: float, unit: str) -> str:
    plain = f"{value:.2f}"
    return plain if unit in ("-", "m/m") else f"{plain} {unit}"
