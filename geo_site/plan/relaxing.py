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
    which it does is found by halving; rules that change the basin itself are gone through step by
    step. Whether it has a stream may come and go with a rule: steps are tried from the first with
    room upwards, every one, until one opens a place. A few steps further on are looked at before,
    and the way there is halved, so that a search that is cut short has an answer too, which then
    says that smaller changes were not all tried. Pairs of steps are tried in the order of what
    they cost, those without room left out by halving; two limits of the stream are no pair where
    the basin does not fit.
Reference
    Bisection on a monotone predicate; best-first search with a lower bound (branch and bound).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from geo_site.constraints import Ground, Work
from geo_site.plan.choosing import Job
from geo_site.plan.knobs import BINDING, KNOBS, Knob, share_of, value_at
from geo_site.plan.pairing import cheapest
from geo_site.plan.relaxing_parameters import RelaxingParameters
from geo_site.plan.results import Relaxation
from geo_site.plan.settings import Settings
from geo_site.plan.trials import OutOfSearches, Trials, first_true

__all__ = ["relax"]

_GLANCES = 4  # steps looked at beyond the first with room before every step is tried


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
    return _found(Trials(job=job, left=parameters.most_searches), grounds, parameters)


def _found(
    trials: Trials, grounds: Mapping[Work, Ground], parameters: RelaxingParameters
) -> tuple[Relaxation, ...]:
    """Look from the cheapest question to the dearest, as far as the searches reach."""
    job = trials.job
    turns: list[_Turn] = []
    binding: list[Relaxation] = []
    pairs: list[Relaxation] = []
    told: tuple[Relaxation, ...] = ()
    try:
        knobs = _that_matter(trials, grounds)
        turns += _turns(trials, knobs)
        for look in (_Turn.at_first, _Turn.here_and_there, _Turn.nearer):
            for turn in turns:
                look(turn, trials)
        binding += _binding(trials)
        for turn in sorted(turns, key=lambda turn: turn.order(job.used)):
            turn.below(trials)
        if parameters.most_pairs and all(turn.found is None for turn in turns):
            pairs += _pairs(trials, knobs, parameters)
    except OutOfSearches:
        told = (_cut_short(parameters),)
    singles = [turn.offer(job) for turn in turns if turn.found is not None]
    return (*sorted(singles, key=lambda row: row.share), *pairs, *binding, *told)


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


def _that_matter(trials: Trials, grounds: Mapping[Work, Ground]) -> list[Knob]:
    """Rules that take ground of the lot, or limit basin or stream; none if no pit has room."""
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
    # The least pit lies inside every other, and nothing keeps it further off structures.
    least = {"siting.units": job.used.siting.layers, "constraints.structure.basin_per_depth": 0.0}
    return knobs if trials.has_room({**weakest, **least}) else []


@dataclass
class _Turn:
    """One rule, and what is known of its steps."""

    knob: Knob
    first: int  # no step before it has room
    most: int
    is_nested: bool = True  # whether every step from there on has room
    tried: int = 0  # no step before it opens a place
    found: int | None = None

    def share(self, used: Settings) -> float:
        """The change that opens a place, or the least that may, over the value in use."""
        step = self.first if self.found is None else self.found
        return share_of(used, ((self.knob, step),))

    def order(self, used: Settings) -> tuple[bool, bool, float]:
        """Where something is known first; last where room has to be looked for at every step."""
        return self.found is None, not self.is_nested, self.share(used)

    def at_first(self, trials: Trials) -> None:
        """Try the first step with room."""
        self.tried = self.first
        self._try(self.first, trials)

    def here_and_there(self, trials: Trials) -> None:
        """Try a few steps further on, as long as none is known."""
        for part in range(1, _GLANCES + 1):
            step = self.first + (self.most - self.first) * part // _GLANCES
            if self.found is None:
                self._try(step, trials)

    def nearer(self, trials: Trials) -> None:
        """Halve the way from what is known not to open a place to what does."""
        if self.found is None or self.found == self.tried:
            return
        low, high = self.tried, self.found
        while high - low > 1:
            middle = (low + high) // 2
            self._try(middle, trials)
            low, high = (low, middle) if self.found == middle else (middle, high)

    def below(self, trials: Trials) -> None:
        """Try every step before the one that is known, or all."""
        while self.tried <= self.most and self.tried != self.found:
            self._try(self.tried, trials)
            self.tried += self.tried != self.found

    def offer(self, job: Job) -> Relaxation:
        """Say what is known; as the smallest change only where all before it were tried."""
        offered = _offer(job, ((self.knob, self.found or 0),))
        if self.tried == self.found:
            return offered
        return replace(offered, sentence=f"{offered.sentence}; smaller ones were not all tried")

    def _try(self, step: int, trials: Trials) -> None:
        values = {self.knob.key: self.knob.value(trials.job.used, step)}
        if (self.is_nested or trials.has_room(values)) and trials.has_place(values):
            self.found = step


def _turns(trials: Trials, knobs: list[Knob]) -> Iterator[_Turn]:
    """Rules that alone may give the basin room, each from the first step that may."""
    used = trials.job.used
    for knob in knobs:
        if not trials.nests(knob):
            yield _Turn(knob=knob, first=1, most=knob.steps(used), is_nested=False)
            continue

        def room(step: int, knob: Knob = knob) -> bool:
            return trials.has_room({knob.key: knob.value(used, step)})

        most = knob.steps(used)
        if room(most):
            yield _Turn(knob=knob, first=max(first_true(room, 0, most), 1), most=most)


def _binding(trials: Trials) -> Iterator[Relaxation]:
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


def _pairs(trials: Trials, knobs: list[Knob], parameters: RelaxingParameters) -> list[Relaxation]:
    """Pairs that open a place together, the cheapest first."""
    found: list[Relaxation] = []
    in_turn = sorted(knobs, key=lambda knob: not trials.nests(knob))  # quick ones first
    for one, other in itertools.combinations(in_turn, 2):
        if one.is_of_layout and other.is_of_layout and not trials.has_room({}):
            continue  # together they ask for too many basins to be looked for
        most = found[-1].share if len(found) == parameters.most_pairs else math.inf
        steps = cheapest(trials, one, other, most)
        if steps is not None:
            found.append(_offer(trials.job, steps))
            found = sorted(found, key=lambda row: row.share)[: parameters.most_pairs]
    return found


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
        share=share_of(used, steps),
        may_be_discussed=True,
        sentence=f"a place opens if {told}",
    )


def _said(value: float, unit: str) -> str:
    plain = f"{value:.2f}"
    return plain if unit in ("-", "m/m") else f"{plain} {unit}"
