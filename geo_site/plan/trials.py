"""Weaker settings tried on a job: whether the basin fits, and whether there is a place.

In: a job that found nothing, and values to change. Out: yes or no, from memory where it was asked
before; a number of searches bounds the time. Reference: none.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from geo_site.errors import SettingRefused
from geo_site.plan.choosing import Job, has_place, has_room
from geo_site.plan.knobs import Knob, with_values
from geo_site.siting import design_basin
from geo_site.water import first_need

__all__ = ["OutOfSearches", "Trials", "first_true"]


@dataclass
class Trials:
    """Tries settings, counts, and remembers.

    Attributes
    ----------
    job : Job
        Whose settings are changed.
    left : int
        Searches that may still be made.
    known : dict
        What was asked, and the answer.
    basins : dict
        Which basin a step of a limit of the stream asks for.
    """

    job: Job
    left: int
    known: dict[Hashable, bool] = field(default_factory=dict)
    basins: dict[tuple[str, int], Hashable] = field(default_factory=dict)

    def has_room(self, values: Mapping[str, Any]) -> bool:
        """Whether the basin fits with some values changed.

        Parameters
        ----------
        values : mapping
            Settings by their dotted names.

        Returns
        -------
        bool
            Never turns false by taking less ground away. False too where no basin can be made.

        Raises
        ------
        OutOfSearches
            None may be made any more.
        """
        job = self._job_with(values)
        return job is not None and self._ask(("room", *_read_by_room(job)), has_room, job)

    def has_place(self, values: Mapping[str, Any]) -> bool:
        """Whether there is a place with its stream.

        Parameters
        ----------
        values : mapping
            Settings by their dotted names.

        Returns
        -------
        bool
            Whether a proposal would be made.

        Raises
        ------
        OutOfSearches
            None may be made any more.
        """
        job = self._job_with(values)
        return job is not None and self._ask(("place", *sorted(values.items())), has_place, job)

    def nests(self, knob: Knob) -> bool:
        """Whether a rule's steps leave ever more room.

        Parameters
        ----------
        knob : Knob
            The rule.

        Returns
        -------
        bool
            As :meth:`geo_site.plan.knobs.Knob.nests` says of the job's site.
        """
        return knob.nests(beside_structures=len(self.job.site.structures) > 0)

    def unlike(self, knob: Knob, step: int) -> Iterator[int]:
        """Give steps up to one, so that each before it leaves no more room than one of them.

        Parameters
        ----------
        knob : Knob
            The rule.
        step : int
            The last.

        Yields
        ------
        int
            That step; of a limit of the stream also one step for each other basin that it asks
            for; of other rules whose steps do not leave ever more room all steps before.
        """
        seen: set[Hashable] = set()
        for before in range(step, -1, -1):
            basin = self._basin_of(knob, before) if knob.is_of_layout else before
            if basin not in seen:
                seen.add(basin)
                yield before
            if self.nests(knob):
                return

    def _basin_of(self, knob: Knob, step: int) -> Hashable:
        key = (knob.key, step)
        if key not in self.basins:
            job = self._job_with({knob.key: knob.value(self.job.used, step)})
            self.basins[key] = None if job is None else job.design
        return self.basins[key]

    def _job_with(self, values: Mapping[str, Any]) -> Job | None:
        """Give the job with some values changed; None where no basin can be made for them."""
        used = with_values(self.job.used, values)
        try:
            design = design_basin(first_need(used.water, used.layout), used.siting)
        except SettingRefused:  # more void units than a basin may have
            return None
        return replace(self.job, used=used, design=design, say=_quiet)

    def _ask(self, key: Hashable, ask: Callable[[Job], bool], job: Job) -> bool:
        if key not in self.known:
            if self.left <= 0:
                raise OutOfSearches
            self.left -= 1
            self.known[key] = ask(job)
        return self.known[key]


class OutOfSearches(Exception):  # not a fault: the end of the search
    """The number of searches is used up."""


def _read_by_room(job: Job) -> tuple[Hashable, ...]:
    """All that the room depends on, apart from site and terrain."""
    return (job.used.constraints.model_dump_json(), job.used.siting.model_dump_json(), job.design)


def _quiet(word: str) -> None:
    """Say nothing: the searches are many."""


def first_true(holds: Callable[[int], bool], low: int, high: int) -> int:
    """Find the first number for which a predicate holds, by halving.

    Parameters
    ----------
    holds : callable
        False up to some number, then true; true for ``high``.
    low, high : int
        Where to look.

    Returns
    -------
    int
        The number.

    Examples
    --------
    >>> first_true(lambda number: number >= 7, 0, 10)
    7
    """
    if low >= high or holds(low):
        return low
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if holds(middle) else (middle, high)
    return high
