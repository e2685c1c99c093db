"""Two rules turned together: the cheapest pair of steps that opens a place.

In: trials and two rules. Out: a step of each. Method: best first. Columns are steps of the first
rule. In each, some pair up to a step of the second has room, and that step never grows from
column to column, so that a stretch between two columns costs at least what its first column
costs with that step of its last; stretches are halved, pairs of steps tried, always what may
cost least. Reference: branch and bound, as in any text on discrete optimisation.
"""

from __future__ import annotations

import heapq
import math
from dataclasses import dataclass, field

from geo_site.plan.knobs import Knob, share_of
from geo_site.plan.trials import Trials, first_true

__all__ = ["cheapest"]


def cheapest(
    trials: Trials, one: Knob, other: Knob, most: float = math.inf
) -> tuple[tuple[Knob, int], ...] | None:
    """Find the pair of steps that costs least of all that open a place.

    Parameters
    ----------
    trials : Trials
        What opens a place.
    one, other : Knob
        The rules.
    most : float
        What costs as much or more is not looked for.

    Returns
    -------
    tuple of (Knob, int), or None
        The rules with their steps; None where no pair of steps below ``most`` opens a place.

    Raises
    ------
    OutOfSearches
        The searches are used up before it is known.
    """
    stairs = _Stairs(trials, one, other)
    while stairs.ahead:
        cost, i, j, last = heapq.heappop(stairs.ahead)
        if cost >= most:
            return None
        if last >= 0:
            stairs.halve(i, last)
        elif stairs.has_place(i, j):
            return ((one, i), (other, j))
        else:
            stairs.add_pair(i, j + 1)
    return None


@dataclass
class _Stairs:
    """Where two rules together give room, as far as it is known."""

    trials: Trials
    one: Knob
    other: Knob
    rooms: dict[int, int] = field(default_factory=dict)  # first step of the other, by column
    # what it costs at least, column, step of the other; last column of a stretch, or -1: a pair
    ahead: list[tuple[float, int, int, int]] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Begin with the first and the last column, and all between."""
        used = self.trials.job.used
        self.columns, self.rows = self.one.steps(used), self.other.steps(used)
        if self._room_from(self.columns, 0, self.rows) <= self.rows:
            self._room_from(0, self.rooms[self.columns], self.rows)
            for column in dict.fromkeys((0, self.columns)):
                self.add_pair(column, self.rooms[column])
            self._add_stretch(0, self.columns)

    def values(self, i: int, j: int) -> dict[str, float]:
        """Values of both rules."""
        used = self.trials.job.used
        return {self.one.key: self.one.value(used, i), self.other.key: self.other.value(used, j)}

    def has_place(self, i: int, j: int) -> bool:
        """Whether a pair of steps opens a place; where room comes and goes it is asked first."""
        values, nest = self.values(i, j), self.trials.nests
        if not (nest(self.one) and nest(self.other)) and not self.trials.has_room(values):
            return False
        return self.trials.has_place(values)

    def add_pair(self, i: int, j: int) -> None:
        """Look at a pair of steps when its turn comes."""
        if j <= self.rows:
            heapq.heappush(self.ahead, (self._cost(i, j), i, j, -1))

    def halve(self, first: int, last: int) -> None:
        """Find the room of the column in the middle of a stretch."""
        middle = (first + last) // 2
        self._room_from(middle, self.rooms[last], min(self.rooms[first], self.rows))
        self.add_pair(middle, self.rooms[middle])
        if self.rooms[middle] <= self.rows:  # else no column before it has room
            self._add_stretch(first, middle)
        self._add_stretch(middle, last)

    def _add_stretch(self, first: int, last: int) -> None:
        if last - first > 1:
            least = self._cost(first + 1, self.rooms[last])
            heapq.heappush(self.ahead, (least, first, self.rooms[last], last))

    def _room_from(self, i: int, low: int, high: int) -> int:
        """First step of the other rule before which no pair up to a column has room.

        One step too many: none does.
        """

        def room(j: int) -> bool:
            return any(
                self.trials.has_room(self.values(before, below))
                for before in self.trials.unlike(self.one, i)
                for below in self.trials.unlike(self.other, j)
            )

        self.rooms[i] = first_true(room, low, high) if room(high) else self.rows + 1
        return self.rooms[i]

    def _cost(self, i: int, j: int) -> float:
        return share_of(self.trials.job.used, ((self.one, i), (self.other, j)))
