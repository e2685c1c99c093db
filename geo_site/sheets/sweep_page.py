"""A sweep on one page: a small graph for each figure that the settings change.

In: a sweep. Out: ``sweep.pdf``. Method: across each graph the first setting, up a figure of the
plan, a line for each combination of the other settings; a run without a plan leaves a gap, one
that breaks a rule has an open mark. Reference: small multiples, one scale across.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from geo_site.plan import Sweep, SweepRun, graph_unit, words_of
from geo_site.sheets.booklet import Booklet
from geo_site.sheets.lettering import clip_words
from geo_site.sheets.paper import GREY, PAPERS, Frame, Lettering, Pen, Sheet
from geo_site.sheets.plots import Plot, draw_key

__all__ = ["write_sweep_pdf"]

_COLUMNS, _ROWS = 3, 2
_GAP_MM, _AXIS_MM, _HEAD_MM, _FOOT_MM = 6.0, 13.0, 6.0, 9.0
_KEY_MM = 16.0
_PADDING = 0.08  # of the range, on each side
_LOOKS = (
    ("circle", "#0b2f5b", ()),
    ("square", "#b3541e", (2.0, 0.8)),
    ("triangle", "#3c7a3c", (0.8, 0.8)),
    ("circle", "#6b6b6b", (3.0, 0.8, 0.8, 0.8)),
    ("square", "#7a3c78", ()),
    ("triangle", "#0b7a8a", (2.0, 0.8)),
)
_MARK_MM = 2.2
_FIRST = (
    "fall_m",
    "flow_m3s",
    "total_head_m",
    "water_needed_m3",
    "water_usable_m3",
    "excavation_m3",
    "cost_total",
    "haul_m3",
    "basin_excavation_to_lines_m",
    "hand_dig_m2",
)
"""What a reader asks for first."""


@dataclass(frozen=True, kw_only=True)
class _Series:
    """Runs that differ in the first setting alone."""

    told: str
    form: str
    pen: Pen
    runs: tuple[SweepRun, ...]


def write_sweep_pdf(sweep: Sweep, path: str | Path) -> Path:
    """Write the graphs of a sweep.

    Parameters
    ----------
    sweep : Sweep
        What was found.
    path : str or Path
        The file.

    Returns
    -------
    Path
        The file.
    """
    paper = PAPERS["letter" if sweep.site.report_units == "us" else "a4"]
    key = sweep.axes[0].key
    book = Booklet(f"{sweep.site.name}: what {key} changes", "settings in SI units", paper)
    sheet, room = book.add("each point is a whole plan, worked out with these settings")
    series = _series(sweep)
    entries = [("line", one.pen, one.told) for one in series]
    entries.append(("circle", _open_pen(series[0].pen), "open mark: a rule is broken"))
    if any(not run.figures for run in sweep.runs):
        entries.append(("", Pen(stroke=""), "a gap: no plan; sweep.csv says why"))
    draw_key(sheet, Frame(room.x_mm, room.y_mm, room.width_mm, _KEY_MM), entries)
    names = _shown(sweep)
    for name, frame in zip(names, _frames(room), strict=False):
        _draw_graph(sheet, frame, name, sweep, series)
    if not names:
        words = "no figure differs between these runs; sweep.csv holds them all"
        sheet.words(room.x_mm, room.top_mm - 12.0, words, Lettering(size_pt=9.0))
    return _written(book, path)


def _written(book: Booklet, path: str | Path) -> Path:
    target = Path(path)
    book.write(target)
    return target


def _shown(sweep: Sweep) -> list[str]:
    """Figures that differ between runs: along the first setting before others, asked for first."""
    names = [*_FIRST, *(name for name in sweep.figure_names if name not in _FIRST)]
    along = [name for name in names if _differs(sweep, name, along=True)]
    beside = [name for name in names if name not in along and _differs(sweep, name, along=False)]
    return [*along, *beside][: _COLUMNS * _ROWS]


def _differs(sweep: Sweep, name: str, *, along: bool) -> bool:
    found: dict[tuple[Any, ...], set[float]] = {}
    for run in sweep.runs:
        if _is_told(run, name):
            found.setdefault(run.values[1:] if along else (), set()).add(run.figures[name])
    return any(len(values) > 1 for values in found.values())


def _is_told(run: SweepRun, name: str) -> bool:
    return math.isfinite(run.figures.get(name, math.nan))


def _series(sweep: Sweep) -> list[_Series]:
    others = list(itertools.product(*(axis.values for axis in sweep.axes[1:])))
    looks = itertools.cycle(_LOOKS)
    made = []
    for values, (form, colour, dash_mm) in zip(others, looks, strict=False):
        named = zip(sweep.axes[1:], values, strict=True)
        told = ", ".join(f"{axis.key} {value}" for axis, value in named) or sweep.axes[0].key
        made.append(
            _Series(
                told=told,
                form=form,
                pen=Pen(stroke=colour, width_mm=0.4, dash_mm=dash_mm),
                runs=tuple(run for run in sweep.runs if run.values[1:] == values),
            )
        )
    return made


def _frames(room: Frame) -> Iterator[Frame]:
    wide_mm = (room.width_mm - _GAP_MM * (_COLUMNS - 1)) / _COLUMNS
    high_mm = (room.height_mm - _KEY_MM - _GAP_MM * (_ROWS - 1)) / _ROWS
    for row, column in itertools.product(range(_ROWS), range(_COLUMNS)):
        yield Frame(
            room.x_mm + column * (wide_mm + _GAP_MM),
            room.top_mm - (row + 1) * high_mm - row * _GAP_MM,
            wide_mm,
            high_mm,
        )


def _draw_graph(
    sheet: Sheet, frame: Frame, name: str, sweep: Sweep, series: Sequence[_Series]
) -> None:
    inner = Frame(
        frame.x_mm + _AXIS_MM,
        frame.y_mm + _FOOT_MM,
        frame.width_mm - _AXIS_MM,
        frame.height_mm - _FOOT_MM - _HEAD_MM,
    )
    places = _places(sweep)
    words, figure_unit = words_of(name)
    unit, size = graph_unit(name, figure_unit, sweep.site.report_units)
    found = [run.figures[name] / size for run in sweep.runs if _is_told(run, name)]
    (low_x, wide), (low_y, high) = _span(list(places.values())), _span(found)
    plot = Plot(
        sheet=sheet,
        frame=inner,
        x=low_x,
        y=low_y,
        across=inner.width_mm / wide,
        up=inner.height_mm / high,
    )
    _number(plot, sweep, places, _round_ticks(low_y, high))
    for one in series:
        xs = [places[run.values[0]] for run in one.runs]
        ys = [run.figures.get(name, math.nan) / size for run in one.runs]
        plot.line(xs, ys, one.pen)
        for x, y, run in zip(xs, ys, one.runs, strict=True):
            if math.isfinite(y):
                pen = _open_pen(one.pen) if run.breaks_rules else _full_pen(one.pen)
                plot.mark(x, y, one.form, _MARK_MM, pen)
    plot.outline()
    told = words if unit == "-" else f"{words}, {unit}"
    head = Lettering(size_pt=8.0, bold=True)
    sheet.words(inner.x_mm, inner.top_mm + 1.5, clip_words(told, inner.width_mm, 8.0), head)
    of_key = "" if sweep.units[0] == "-" else f" [{sweep.units[0]}]"
    key = clip_words(f"{sweep.axes[0].key}{of_key}", inner.width_mm, 7.0)
    sheet.words(inner.x_mm, inner.y_mm - 7.4, key, Lettering(size_pt=7.0, colour=GREY))


def _open_pen(pen: Pen) -> Pen:
    return Pen(stroke=pen.stroke, width_mm=0.4, fill="#ffffff")


def _full_pen(pen: Pen) -> Pen:
    return Pen(stroke=pen.stroke, width_mm=0.2, fill=pen.stroke)


def _places(sweep: Sweep) -> dict[Any, float]:
    """Where each value of the first setting stands: its number, or its turn where it is a word."""
    used = {run.values[0]: run.settings[0] for run in sweep.runs if run.status != "refused"}
    numbers = [value for value in used.values() if _is_number(value)]
    if used and len(numbers) == len(used):
        known = {value: float(number) for value, number in used.items()}
        return {value: known.get(value, math.nan) for value in sweep.axes[0].values}
    return {value: float(turn) for turn, value in enumerate(sweep.axes[0].values)}


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _span(values: Sequence[float]) -> tuple[float, float]:
    """Lowest end and width of a range with some room on both sides."""
    known = [value for value in values if math.isfinite(value)]
    low, high = (min(known), max(known)) if known else (0.0, 1.0)
    wide = high - low or max(abs(high), 1.0)
    return low - _PADDING * wide, wide * (1.0 + 2.0 * _PADDING)


def _round_ticks(low: float, wide: float) -> list[float]:
    """Up to six round numbers within a range."""
    rough = wide / 5.0
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(base * power for base in (1.0, 2.0, 5.0, 10.0) if base * power >= rough)
    first, last = math.ceil(low / step), math.floor((low + wide) / step)
    return [turn * step for turn in range(first, last + 1)]


def _number(plot: Plot, sweep: Sweep, places: dict[Any, float], ticks: Sequence[float]) -> None:
    low_x, low_y, high_x, _ = plot.view
    grid = Pen(stroke="#d5d0c8", width_mm=0.1)
    right = Lettering(size_pt=7.0, align="right")
    for tick in ticks:
        plot.line([low_x, high_x], [tick, tick], grid)
        _, at_mm = plot.on_page(low_x, tick)
        plot.sheet.words(plot.frame.x_mm - 1.2, at_mm - 0.9, f"{tick:.6g}", right)
    numbers = all(_is_number(run.settings[0]) for run in sweep.runs)
    free_mm = -math.inf
    for value, place in places.items():
        at_mm, _ = plot.on_page(place, low_y)
        if not math.isfinite(place) or at_mm < free_mm:
            continue  # a value beside which there is no room for another
        words = clip_words(f"{place:.4g}" if numbers else str(value), 12.0, 7.0)
        plot.sheet.words(
            at_mm, plot.frame.y_mm - 3.6, words, Lettering(size_pt=7.0, align="center")
        )
        free_mm = at_mm + 11.0
