"""Weaker settings tried on a job: whether the basin fits, and whether there is a place.

In: a job that found nothing, and values to change. Out: yes or no, from memory where it was asked
before; a number of searches bounds the time. Reference: none.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from geo_site.plan.choosing import Job, has_place, has_room
from geo_site.plan.knobs import with_values
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
    rooms, places : dict
        What was asked, and the answer.
    """

    job: Job
    left: int
    rooms: dict[tuple[tuple[str, Any], ...], bool] = field(default_factory=dict)
    places: dict[tuple[tuple[str, Any], ...], bool] = field(default_factory=dict)

    def has_room(self, values: Mapping[str, Any]) -> bool:
        """Whether the basin fits with some values changed.

        Parameters
        ----------
        values : mapping
            Settings by their dotted names.

        Returns
        -------
        bool
            Never turns false by taking less ground away.

        Raises
        ------
        OutOfSearches
            None may be made any more.
        """
        return self._ask(self.rooms, has_room, values)

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
                raise OutOfSearches
            self.left -= 1
            known[key] = ask(_job_with(self.job, values))
        return known[key]


class OutOfSearches(Exception):  # not a fault: the end of the search
    """The number of searches is used up."""


def _job_with(job: Job, values: Mapping[str, Any]) -> Job:
    used = with_values(job.used, values)
    design = design_basin(first_need(used.water, used.layout), used.siting)
    return replace(job, used=used, design=design, say=_quiet)


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
