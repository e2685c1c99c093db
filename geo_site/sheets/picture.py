"""A picture of a plan: the lot and its works on one page, to be looked at.

Question
    What does the plan look like?
In
    A :class:`geo_site.plan.Plan`.
Out
    A PNG.
Method
    The rows and looks of the output layers are drawn in the working CRS, the rarest last; a scale
    bar in the units of the reports, grid north, a legend of what is there, and the caution.
Reference
    None: a drawing.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.text import Annotation
from shapely import Point
from shapely.geometry.base import BaseGeometry

from geo_site.cautions import NOT_A_LOCATE
from geo_site.layers import LAYERS, Layer
from geo_site.plan import Plan, figures_of
from geo_site.sheets.symbols import draw_rows, legend_of
from geo_site.units import format_length

__all__ = ["write_picture"]

_DRAWN = (
    "open_ground",
    "contours",
    "catchment",
    "machine_route",
    "spoil_pile",
    "silt_fence",
    "basin_excavation",
    "basin",
    "stream_bed",
    "stream_pools",
    "pipe_run",
    "overflow_path",
    "utility_lines",
    "hand_dig_ground",
    "parcel",
    "basin_candidates",
    "stream_falls",
)
"""Layers in the order of drawing; the rest would hide them."""

_LABELLED = frozenset({"utility_lines", "basin_candidates"})
_LABEL_PLACES = (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8)
_MARGIN_M = 6.0
_FOOT_M = 0.3048
_BARS = {"si": ((20.0, "20 m"), (10.0, "10 m"), (5.0, "5 m")), "us": ((50 * _FOOT_M, "50 ft"),)}


def write_picture(plan: Plan, path: str | Path, dpi: int = 110) -> None:
    """Draw a plan as a PNG, and write its figures into the file: a stale picture can be told.

    Parameters
    ----------
    plan : Plan
        With or without a proposal.
    path : str or Path
        The picture.
    dpi : int
        Dots per inch of a page of 11 by 8.5 inches.
    """
    with mpl.rc_context({"font.size": 8, "svg.hashsalt": "geo_site"}):
        figure = Figure(figsize=(11.0, 8.5), layout="constrained")
        axes = figure.add_subplot()
        _ground(axes, plan)
        legend = [entry for layer in _layers() for entry in _draw(axes, layer, plan)]
        _frame(axes, plan)
        axes.legend(
            handles=_distinct(legend),
            loc="upper left",
            bbox_to_anchor=(1.01, 1.0),
            frameon=False,
            handlelength=3.2,
        )
        axes.set_title(f"{plan.site.name}: {_headline(plan)}", loc="left", fontweight="bold")
        figure.supxlabel(NOT_A_LOCATE, fontsize=8, x=0.01, ha="left")
        told = json.dumps({name: round(value, 4) for name, value in figures_of(plan).items()})
        figure.savefig(path, dpi=dpi, metadata={"Software": None, "Description": told})


def _layers() -> list[Layer]:
    known = {layer.name: layer for layer in LAYERS}
    return [known[name] for name in _DRAWN]


def _headline(plan: Plan) -> str:
    if plan.proposal is None:
        return "no place satisfies the rules"
    layout = plan.proposal.layout
    units = plan.site.report_units
    fall, length = (format_length(v, units) for v in (layout.fall_m, layout.length_m))
    return f"{fall} of fall over {length}, {len(layout.falls)} falls"


def _ground(axes: Axes, plan: Plan) -> None:
    """What stands on the lot: structures and crowns, as given."""
    site = plan.site
    if not site.structures.empty:
        site.structures.plot(ax=axes, facecolor="#c9c4bc", edgecolor="#5c5c5c", linewidth=0.6)
        inside = site.structures.clip(site.parcel)
        spots = inside.geometry.representative_point()
        for told, x, y in zip(inside["id"], spots.x, spots.y, strict=True):
            axes.annotate(str(told), (x, y), ha="center", color="#3a3a3a")
    crowns = site.trees[site.trees["crown_radius_m"].notna()]
    if not crowns.empty:
        outlines = crowns.geometry.buffer(crowns["crown_radius_m"])
        outlines.plot(ax=axes, facecolor="none", edgecolor="#4f7d4a", linewidth=0.7)


def _draw(axes: Axes, layer: Layer, plan: Plan) -> Iterator[Any]:
    """Draw a layer, label it, and give its legend entries."""
    rows = list(layer.rows(plan))
    draw_rows(axes, layer, rows)
    if layer.name in _LABELLED:
        _label(axes, rows, layer.look.label, plan)
    return legend_of(layer, rows)


def _distinct(entries: list[Any]) -> list[Any]:
    return list({entry.get_label(): entry for entry in entries}.values())


def _label(axes: Axes, rows: list[Any], field: str, plan: Plan) -> None:
    """Name each feature where its name is farthest from the names already there."""
    for row in rows:
        shown = row["geometry"].intersection(plan.site.parcel)
        if shown.is_empty:
            continue
        taken = [Point(text.xy) for text in axes.texts if isinstance(text, Annotation)]
        spot = max(_spots(shown), key=lambda p: min((p.distance(t) for t in taken), default=0.0))
        axes.annotate(
            str(row[field]),
            (spot.x, spot.y),
            xytext=(3, 3),
            textcoords="offset points",
            fontweight="bold",
            bbox={"facecolor": "white", "alpha": 0.7, "edgecolor": "none", "pad": 0.6},
        )


def _spots(shown: BaseGeometry) -> list[Point]:
    if shown.geom_type == "LineString":
        return [shown.interpolate(part, normalized=True) for part in _LABEL_PLACES]
    return [shown.representative_point()]


def _frame(axes: Axes, plan: Plan) -> None:
    west, south, east, north = plan.site.parcel.bounds
    axes.set_xlim(west - _MARGIN_M, east + _MARGIN_M)
    axes.set_ylim(south - _MARGIN_M, north + _MARGIN_M)
    axes.set_aspect("equal")
    axes.set(xlabel="", ylabel="")
    axes.set_xticks([])
    axes.set_yticks([])
    bars = _BARS[plan.site.report_units]
    length_m, told = next((bar for bar in bars if bar[0] < 0.4 * (east - west)), bars[-1])
    x, y = west - _MARGIN_M + 1.5, south - _MARGIN_M + 1.5
    axes.plot([x, x + length_m], [y, y], color="#202020", linewidth=2.5, solid_capstyle="butt")
    axes.annotate(told, (x + 0.5 * length_m, y + 0.4), ha="center", va="bottom")
    axes.annotate(
        "grid north",
        (east + _MARGIN_M - 3.0, north + _MARGIN_M - 1.0),
        xytext=(east + _MARGIN_M - 3.0, north + _MARGIN_M - 6.0),
        ha="center",
        arrowprops={"arrowstyle": "-|>", "color": "#202020"},
    )
