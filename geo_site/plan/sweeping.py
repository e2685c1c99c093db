"""What changes with a setting: the whole method over a small grid of settings.

Question
    Which of these values of these settings gives the better plan, and what does each cost?
In
    A site, settings to start from, and an axis of values for each setting that is gone through.
Out
    A :class:`Sweep`: for every combination its status and the plan's figures.
Method
    Every combination is proposed in full. Ground, constraints and places are worked out again
    only where a setting that they read has changed (:class:`~geo_site.plan.keeping.Kept`).
Reference
    Full factorial design, one run for each combination.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from geo_site.errors import SettingRefused
from geo_site.plan.figures import figures_of
from geo_site.plan.keeping import Kept
from geo_site.plan.knobs import with_values
from geo_site.plan.method import Progress, propose
from geo_site.plan.settings import Settings
from geo_site.site import Site

__all__ = ["MOST_RUNS", "Axis", "Sweep", "SweepRun", "sweep"]

_LEFT_OUT = {"certainty.simulations": 0, "relaxing.most_searches": 0}
"""What costs time and changes no figure of a plan."""
MOST_RUNS = 100
"""Combinations that are run without being asked twice."""


@dataclass(frozen=True, kw_only=True)
class Axis:
    """One setting and the values that it takes.

    Attributes
    ----------
    key : str
        Dotted name, as ``water.lip_head``.
    values : tuple
        As the site file would have them: SI numbers, words, or text with a unit.
    """

    key: str
    values: tuple[Any, ...]


@dataclass(frozen=True, kw_only=True)
class SweepRun:
    """One combination.

    Attributes
    ----------
    values : tuple
        Of each axis, as set.
    settings : tuple
        The same as the plan used them, SI.
    status : {"proposed", "no_place", "refused"}
        ``refused``: the settings contradict each other.
    told : str
        Why there is no plan; empty where there is one.
    figures : mapping of str to float
        Of the plan; empty without one.
    breaks_rules : bool
        Whether a clearance is not met, or the stream cannot carry its flow.
    """

    values: tuple[Any, ...]
    settings: tuple[Any, ...]
    status: str
    told: str
    figures: Mapping[str, float]
    breaks_rules: bool


@dataclass(frozen=True, kw_only=True)
class Sweep:
    """A grid of settings and what each combination gave.

    Attributes
    ----------
    site : Site
        What was read.
    axes : tuple of Axis
        In the order asked for; the last changes fastest.
    units : tuple of str
        Of each axis' setting, SI.
    runs : tuple of SweepRun
        Every combination.
    """

    site: Site
    axes: tuple[Axis, ...]
    units: tuple[str, ...]
    runs: tuple[SweepRun, ...]

    @property
    def figure_names(self) -> tuple[str, ...]:
        """Names of all figures that some run has."""
        return tuple(dict.fromkeys(name for run in self.runs for name in run.figures))


def sweep(
    site: Site,
    axes: Sequence[Axis],
    *,
    most_runs: int = MOST_RUNS,
    progress: Progress | None = None,
) -> Sweep:
    """Propose once for each combination of settings.

    Parameters
    ----------
    site : Site
        With the settings of its site file, which hold where no axis says otherwise.
    axes : sequence of Axis
        At least one.
    most_runs : int
        Larger grids are refused.
    progress : callable, optional
        Told which run begins.

    Returns
    -------
    Sweep
        A row for each combination, also for those without a plan.

    Raises
    ------
    SettingRefused
        An unknown setting, a value that cannot be, too many combinations.
    """
    rows = _rows_of(Settings.from_tables(site.tables))
    for axis in axes:
        _check(axis, rows, site)
    grid = list(itertools.product(*(axis.values for axis in axes)))
    if len(grid) > most_runs:
        raise SettingRefused(
            f"the grid has {len(grid)} combinations, more than {most_runs}",
            remedy="name fewer values, or allow more runs",
        )
    kept, runs = Kept(), []
    for number, values in enumerate(grid, 1):
        if progress is not None:
            progress(f"run {number} of {len(grid)}")
        runs.append(_run(site, axes, values, kept))
    units = tuple(str(rows[axis.key].unit) for axis in axes)
    return Sweep(site=site, axes=tuple(axes), units=units, runs=tuple(runs))


def _rows_of(settings: Settings) -> dict[str, Any]:
    return {row.key: row for row in settings.rows()}


def _check(axis: Axis, rows: Mapping[str, Any], site: Site) -> None:
    """Refuse a name or a value that cannot be, before the first run."""
    if axis.key not in rows:
        table = axis.key.rpartition(".")[0]
        near = sorted(key for key in rows if key.rpartition(".")[0] == table)
        raise SettingRefused(
            f"unknown setting {axis.key}",
            remedy=f"valid there: {', '.join(near)}"
            if near
            else "geo-site settings lists every setting",
        )
    for value in axis.values:
        with_value = _merged(site.tables, (axis.key,), (value,))
        try:
            Settings.from_tables(with_value)
        except SettingRefused as refused:
            if axis.key in str(refused):  # another setting may be what contradicts it
                raise


def _merged(
    tables: Mapping[str, Any], keys: Sequence[str], values: Sequence[Any]
) -> dict[str, Any]:
    """Give the tables with some settings changed; what was given is not touched."""
    merged = _copied(tables)
    for key, value in zip(keys, values, strict=True):
        *path, name = key.split(".")
        inner = merged
        for part in path:
            inner = inner.setdefault(part, {})
        inner[name] = value
    return merged


def _copied(tables: Mapping[str, Any]) -> dict[str, Any]:
    return {
        name: _copied(value) if isinstance(value, Mapping) else value
        for name, value in tables.items()
    }


def _run(site: Site, axes: Sequence[Axis], values: tuple[Any, ...], kept: Kept) -> SweepRun:
    keys = [axis.key for axis in axes]
    try:
        used = Settings.from_tables(_merged(site.tables, keys, values))
    except SettingRefused as refused:
        return _without_plan(values, values, "refused", str(refused))
    rows = _rows_of(used)
    settings = tuple(rows[key].value for key in keys)
    try:
        plan = propose(site, with_values(used, _LEFT_OUT), kept=kept)
    except SettingRefused as refused:  # only the method sees it, as too many void units
        return _without_plan(values, settings, "refused", str(refused))
    if plan.proposal is None:
        told = "; ".join(dict.fromkeys(row.rule.replace("_", " ") for row in plan.no_place))
        return _without_plan(values, settings, "no_place", told)
    return SweepRun(
        values=values,
        settings=settings,
        status=plan.status,
        told="",
        figures=figures_of(plan),
        breaks_rules=plan.breaks_rules,
    )


def _without_plan(
    values: tuple[Any, ...], settings: tuple[Any, ...], status: str, told: str
) -> SweepRun:
    return SweepRun(
        values=values, settings=settings, status=status, told=told, figures={}, breaks_rules=False
    )
