"""Whole plans side by side as CSV and for a narrow terminal."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from geo_site.plan import RESPECTS
from geo_site.tables.lists import write_rows

if TYPE_CHECKING:
    from geo_site.plan import Plan

__all__ = ["compared_lines", "write_compared"]

_WIDTH = 60


def write_compared(plan: Plan, path: str | Path) -> Path:
    """Write one row per plan, SI; what is not known is an empty cell.

    Parameters
    ----------
    plan : Plan
        With its alternatives.
    path : str or Path
        Target.

    Returns
    -------
    Path
        The target.
    """
    names = [respect.name for respect in RESPECTS]
    columns = ["alternative", "rank", *names, "best_at", "nowhere_better_than", "sentence"]
    rows = (
        [
            one.number,
            one.rank,
            *(one.values.get(name, math.nan) for name in names),
            " ".join(one.best_at),
            " ".join(map(str, one.dominated_by)),
            one.sentence,
        ]
        for one in plan.compared
    )
    return write_rows(Path(path), columns, rows)


def compared_lines(plan: Plan) -> Iterator[str]:
    """Say what each plan is best at.

    Parameters
    ----------
    plan : Plan
        With its alternatives; without any, nothing is said.

    Yields
    ------
    str
        At most 60 characters.
    """
    for one in plan.compared:
        told = f"plan {one.number} (place {one.rank}): {one.sentence}"
        yield from textwrap.wrap(told, _WIDTH, subsequent_indent="  ")
