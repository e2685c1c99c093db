"""Results of steps that are worked out once and used again where nothing that they read changed.

In: what a step reads, as something that can be told equal. Out: its result, made at the first
asking. A keeper belongs to one site: the site itself is not part of what is compared.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable
from typing import Any, TypeVar

__all__ = ["Kept"]

T = TypeVar("T")


class Kept:
    """Results by step and by what the step read.

    Results are frozen, so one that was kept may be handed out again.

    Examples
    --------
    >>> kept = Kept()
    >>> kept.get("sum", (1, 2), lambda: 3), kept.get("sum", (1, 2), lambda: 4)
    (3, 3)
    """

    def __init__(self) -> None:
        self._made: dict[str, dict[Hashable, Any]] = {}

    def get(self, step: str, read: Hashable, make: Callable[[], T], *, most: float = math.inf) -> T:
        """Give a step's result.

        Parameters
        ----------
        step : str
            Its name.
        read : hashable
            All that the result depends on, apart from the site.
        make : callable
            Works it out.
        most : float
            How many results of this step are kept, the last asked for: some are large.

        Returns
        -------
        T
            As made before with the same step and reading, if it was kept.

        Examples
        --------
        >>> kept = Kept()
        >>> [kept.get("sum", n, lambda n=n: [n], most=2) for n in (1, 2, 3)]
        [[1], [2], [3]]
        >>> kept.get("sum", 2, lambda: ["anew"], most=2), kept.get("sum", 1, list, most=2)
        ([2], [])
        """
        kept = self._made.setdefault(step, {})
        made: T = kept.pop(read) if read in kept else make()
        kept[read] = made  # the last of all: a dict remembers the order
        while len(kept) > most:
            del kept[next(iter(kept))]
        return made
