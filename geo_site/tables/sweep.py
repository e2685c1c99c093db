"""A sweep as CSV and for a narrow terminal: a row for each combination of settings."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from geo_site.plan import told_figure, words_of
from geo_site.tables.lists import write_rows

if TYPE_CHECKING:
    from geo_site.plan import Sweep, SweepRun
    from geo_site.units import System

__all__ = ["sweep_lines", "write_sweep_table"]

_TOLD = ("fall_m", "flow_m3s", "excavation_m3")
_WIDTH = 60
_SPELT = re.compile(r"\d+\.\d{5,}")  # a step of a range, to its last digit


def write_sweep_table(sweep: Sweep, path: str | Path) -> Path:
    """Write one row per combination; settings and figures in SI.

    Parameters
    ----------
    sweep : Sweep
        What was found.
    path : str or Path
        Target.

    Returns
    -------
    Path
        The target. A setting's column is named by its key and unit; a figure that a run does
        not have is an empty cell.
    """
    heads = [_head(axis.key, unit) for axis, unit in zip(sweep.axes, sweep.units, strict=True)]
    names = sweep.figure_names
    rows = ([*run.settings, *_outcome(run), *_figures(run, names)] for run in sweep.runs)
    return write_rows(Path(path), [*heads, "status", "breaks_rules", "told", *names], rows)


def _head(key: str, unit: str) -> str:
    return key if unit == "-" else f"{key} [{unit}]"


def _outcome(run: SweepRun) -> tuple[object, ...]:
    return run.status, "yes" if run.breaks_rules else "no", run.told


def _figures(run: SweepRun, names: tuple[str, ...]) -> list[float]:
    return [run.figures.get(name, math.nan) for name in names]


def sweep_lines(sweep: Sweep) -> Iterator[str]:
    """Say what each combination gave, a line each.

    Parameters
    ----------
    sweep : Sweep
        What was found.

    Yields
    ------
    str
        At most 60 characters, without what would steer a terminal.
    """
    keys = ", ".join(axis.key for axis in sweep.axes)
    yield _short(f"{len(sweep.runs)} runs over {keys}")
    for run in sweep.runs:
        values = ", ".join(_SPELT.sub(_shorter, str(value)) for value in run.values)
        yield _short(f"{values}: {_told(run, sweep.site.report_units)}")


def _shorter(number: re.Match[str]) -> str:
    return f"{float(number[0]):.4g}"


def _told(run: SweepRun, system: System) -> str:
    if not run.figures:
        return f"{run.status.replace('_', ' ')}: {run.told}"
    names = [name for name in _TOLD if name in run.figures]
    told = ", ".join(_figure(name, run.figures[name], system) for name in names)
    return f"{told}, breaks a rule" if run.breaks_rules else told


def _figure(name: str, value: float, system: System) -> str:
    words, unit = words_of(name)
    return f"{words} {told_figure(name, unit, value, system)}"


def _short(line: str) -> str:
    told = "".join(mark for mark in line if mark.isprintable())
    return told if len(told) <= _WIDTH else f"{told[: _WIDTH - 4].rstrip()} ..."
