"""The lot and its works on a map of a page: what every document's maps share.

In: a plan, a rectangle of a page. Out: a :class:`SiteMap` with plot, scale and a board for labels.
Method: context as given, then layers of the catalogue in an order in which none hides another.
Reference: none.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from shapely import box, get_coordinates, get_parts, union_all
from shapely.geometry.base import BaseGeometry

from geo_site.layers import LAYERS, Layer
from geo_site.plan import Plan
from geo_site.sheets.labels import Label, LabelBoard
from geo_site.sheets.maps import (
    MapScale,
    choose_scale,
    draw_north,
    draw_position_ticks,
    draw_scale_bar,
    open_map,
)
from geo_site.sheets.marks import draw_rows, key_of
from geo_site.sheets.paper import Frame, Pen, Sheet
from geo_site.sheets.plots import Plot

__all__ = [
    "SiteMap",
    "context_key",
    "draw_context",
    "draw_layers",
    "finish_site_map",
    "open_site_map",
    "spots_along",
]

_BAR_MM = Frame(4.0, 4.0, 76.0, 13.0)  # from the map's lower left corner
_NORTH_MM = Frame(-19.0, -21.0, 12.0, 19.0)  # from its upper right corner
_STRUCTURE = Pen(stroke="#5c5c5c", width_mm=0.2, fill="#d8d4cc")
_CROWN = Pen(stroke="#4f7d4a")
_FIXTURE = Pen(stroke="", fill="#3a3a3a")
_OVERHEAD = Pen(stroke="#3a3a3a", dash_mm=(3.5, 1.0))
_MERGED = frozenset({"blocked_ground"})  # what takes ground twice takes it once
_GUTTER_MM = 4.5  # left of a map and below it, for the numbers of its position ticks
_SPOT_PARTS = (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8)
_SHORTEST_SHOWN_M = 0.5


@dataclass(frozen=True, kw_only=True)
class SiteMap:
    """A map that is being drawn.

    Attributes
    ----------
    plot : Plot
        In the working CRS, m.
    scale : MapScale
        Of the map.
    board : LabelBoard
        Where words go.
    """

    plot: Plot
    scale: MapScale
    board: LabelBoard


def open_site_map(
    sheet: Sheet, frame: Frame, plan: Plan, bounds: tuple[float, float, float, float]
) -> SiteMap:
    """Begin a map.

    Parameters
    ----------
    sheet : Sheet
        The page.
    frame : Frame
        Where on it.
    plan : Plan
        Whose units are spoken.
    bounds : tuple of float
        What must be shown: west, south, east, north, m.

    Returns
    -------
    SiteMap
        With nothing on it.
    """
    system = plan.site.report_units
    inner = Frame(
        frame.x_mm + _GUTTER_MM,
        frame.y_mm + _GUTTER_MM,
        frame.width_mm - _GUTTER_MM,
        frame.height_mm - _GUTTER_MM,
    )
    scale = choose_scale(bounds, inner.inset(2.0), system)
    plot = open_map(sheet, inner, bounds, scale)
    sheet.scale_told = scale.told
    return SiteMap(plot=plot, scale=scale, board=LabelBoard(plot))


def finish_site_map(one: SiteMap, plan: Plan, labels: Sequence[Label]) -> tuple[Label, ...]:
    """Draw the frame, scale bar and north arrow, and then the labels where there is room.

    Parameters
    ----------
    one : SiteMap
        On which everything else has been drawn.
    plan : Plan
        Whose units are spoken.
    labels : sequence of Label
        The most important first.

    Returns
    -------
    tuple of Label
        Those for which there was no room.
    """
    sheet, frame = one.plot.sheet, one.plot.frame
    bar = Frame(frame.x_mm + _BAR_MM.x_mm, frame.y_mm + _BAR_MM.y_mm, _BAR_MM.width_mm, 13.0)
    arrow = Frame(frame.right_mm + _NORTH_MM.x_mm, frame.top_mm + _NORTH_MM.y_mm, 15.0, 18.0)
    for corner in (bar, arrow):
        sheet.box(corner, fill="#ffffff", stroke="", width_mm=0.0)
        one.board.keep_off(corner)
    draw_scale_bar(sheet, bar.x_mm + 2.0, bar.y_mm + 5.0, one.scale, plan.site.report_units)
    draw_north(sheet, arrow.x_mm + 7.5, arrow.y_mm + 5.0)
    draw_position_ticks(one.plot)
    one.plot.outline()
    return one.board.place(labels)


def draw_context(one: SiteMap, plan: Plan) -> Iterator[Label]:
    """Draw what stands on the lot as given: structures, crowns, trunks, fixtures, overhead lines.

    Parameters
    ----------
    one : SiteMap
        Where to.
    plan : Plan
        Whose site.

    Yields
    ------
    Label
        The name of each structure.
    """
    site, plot = plan.site, one.plot
    for shape in site.structures.geometry:
        plot.geometry(shape, _STRUCTURE)
    crowns = site.trees[site.trees["crown_radius_m"].notna()]
    for shape in crowns.geometry.buffer(crowns["crown_radius_m"]).boundary:
        plot.geometry(shape, _CROWN)
    for x, y in get_coordinates(site.trees.geometry.to_numpy()):
        plot.mark(x, y, "circle", 0.8, Pen(stroke="", fill="#4f7d4a"))
    for x, y in get_coordinates(site.fixtures.geometry.to_numpy()):
        plot.mark(x, y, "square", 1.4, _FIXTURE)
    for shape in site.overhead.geometry:
        plot.geometry(shape, _OVERHEAD)
    west, south, east, north = plot.view
    shown = site.structures.cx[west:east, south:north]
    for name, shape in zip(shown["id"], shown.geometry, strict=True):
        spot = shape.representative_point()
        yield Label(x=spot.x, y=spot.y, words=str(name))


def context_key(plan: Plan) -> Iterator[tuple[str, Pen, str]]:
    """Give the legend of what stands on the lot as given.

    Parameters
    ----------
    plan : Plan
        Whose site.

    Yields
    ------
    tuple of (str, Pen, str)
        Form, look and words of each kind that there is.
    """
    site = plan.site
    if len(site.structures):
        yield "area", _STRUCTURE, "structure"
    if len(site.trees):
        yield "line", _CROWN, "crown of a tree"
    if len(site.fixtures):
        yield "square", _FIXTURE, "fixture"
    if len(site.overhead):
        yield "line", _OVERHEAD, "overhead line"


def draw_layers(one: SiteMap, plan: Plan, names: Sequence[str]) -> list[tuple[str, Pen, str]]:
    """Draw layers of the catalogue in the order given.

    Parameters
    ----------
    one : SiteMap
        Where to.
    plan : Plan
        Whose rows.
    names : sequence of str
        Layers, the lowest first.

    Returns
    -------
    list of (str, Pen, str)
        Legend entries, each once.
    """
    known: dict[str, Layer] = {layer.name: layer for layer in LAYERS}
    entries: dict[str, tuple[str, Pen, str]] = {}
    for name in names:
        rows = list(known[name].rows(plan))
        if name in _MERGED and rows:
            rows = [{**rows[0], "geometry": union_all([row["geometry"] for row in rows])}]
        draw_rows(one.plot, known[name], rows)
        for entry in key_of(known[name], rows):
            entries.setdefault(entry[2], entry)
    return list(entries.values())


def spots_along(geometry: BaseGeometry, one: SiteMap) -> Iterator[tuple[float, float]]:
    """Give points on the part of a line that the map shows, the middle first.

    Parameters
    ----------
    geometry : shapely geometry
        A line, of one part or several.
    one : SiteMap
        The map.

    Yields
    ------
    tuple of float
        x and y, m.
    """
    shown = geometry.intersection(box(*one.plot.view))
    parts = [part for part in get_parts(shown) if part.length >= _SHORTEST_SHOWN_M]
    for part in sorted(parts, key=lambda p: -p.length)[:1]:
        for share in _SPOT_PARTS:
            spot = part.interpolate(share, normalized=True)
            yield spot.x, spot.y
