"""The lot and its works on a map of a page: what every document's maps share.

In: a plan, a rectangle of a page. Out: a :class:`SiteMap` with axes, scale and a board for labels.
Method: context as given, then layers of the catalogue in an order in which none hides another.
Reference: none.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from matplotlib.axes import Axes
from shapely import box, get_parts
from shapely.geometry.base import BaseGeometry

from geo_site.layers import LAYERS, Layer
from geo_site.plan import Plan
from geo_site.sheets.labels import Label, LabelBoard
from geo_site.sheets.maps import MapScale, choose_scale, draw_north, draw_scale_bar, open_map
from geo_site.sheets.paper import Frame, Sheet
from geo_site.sheets.symbols import draw_rows, legend_of

__all__ = ["SiteMap", "draw_context", "draw_layers", "open_site_map", "spots_along"]

_BAR_MM = Frame(4.0, 4.0, 76.0, 13.0)  # from the map's lower left corner
_NORTH_MM = Frame(-14.0, -21.0, 12.0, 19.0)  # from its upper right corner
_SPOT_PARTS = (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8)
_SHORTEST_SHOWN_M = 0.5


@dataclass(frozen=True, kw_only=True)
class SiteMap:
    """A map that is being drawn.

    Attributes
    ----------
    axes : Axes
        In the working CRS, m.
    scale : MapScale
        Of the map.
    board : LabelBoard
        Where words go.
    view : tuple of float
        West, south, east, north of what the map shows, m.
    """

    axes: Axes
    scale: MapScale
    board: LabelBoard
    view: tuple[float, float, float, float]


def open_site_map(
    sheet: Sheet, frame: Frame, plan: Plan, bounds: tuple[float, float, float, float]
) -> SiteMap:
    """Begin a map with its scale bar and north arrow.

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
        With bar and arrow drawn and kept free.
    """
    system = plan.site.report_units
    scale = choose_scale(bounds, frame.inset(2.0), system)
    axes = open_map(sheet, frame, bounds, scale)
    board = LabelBoard(sheet, frame, axes)
    bar = Frame(frame.x_mm + _BAR_MM.x_mm, frame.y_mm + _BAR_MM.y_mm, _BAR_MM.width_mm, 13.0)
    arrow = Frame(frame.right_mm + _NORTH_MM.x_mm, frame.top_mm + _NORTH_MM.y_mm, 12.0, 19.0)
    for corner in (bar, arrow):
        sheet.box(corner, fill="#ffffff", stroke="", width_mm=0.0)
        board.keep_off(corner)
    draw_scale_bar(sheet, bar.x_mm + 2.0, bar.y_mm + 5.0, scale, system)
    draw_north(sheet, arrow.x_mm + 6.0, arrow.y_mm + 5.0)
    (west, east), (south, north) = axes.get_xlim(), axes.get_ylim()
    return SiteMap(axes=axes, scale=scale, board=board, view=(west, south, east, north))


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
    site, axes = plan.site, one.axes
    if not site.structures.empty:
        site.structures.plot(
            ax=axes, facecolor="#d8d4cc", edgecolor="#5c5c5c", linewidth=0.6, aspect=None
        )
    crowns = site.trees[site.trees["crown_radius_m"].notna()]
    if not crowns.empty:
        rings = crowns.geometry.buffer(crowns["crown_radius_m"]).boundary
        rings.plot(ax=axes, color="#4f7d4a", linewidth=0.7, aspect=None)
    for table, marker, colour in (
        (site.trees, ".", "#4f7d4a"),
        (site.fixtures, "P", "#3a3a3a"),
    ):
        axes.plot(table.geometry.x, table.geometry.y, marker, color=colour, markersize=3.5)
    if not site.overhead.empty:
        site.overhead.plot(
            ax=axes, color="#3a3a3a", linewidth=0.7, linestyle=(0, (10, 3)), aspect=None
        )
    shown = site.structures.cx[one.view[0] : one.view[2], one.view[1] : one.view[3]]
    for name, shape in zip(shown["id"], shown.geometry, strict=True):
        spot = shape.representative_point()
        yield Label(x=spot.x, y=spot.y, words=str(name))


def draw_layers(one: SiteMap, plan: Plan, names: Sequence[str]) -> list[Any]:
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
    list of matplotlib artist
        Legend entries, each label once.
    """
    known: dict[str, Layer] = {layer.name: layer for layer in LAYERS}
    entries: dict[str, Any] = {}
    for name in names:
        rows = list(known[name].rows(plan))
        draw_rows(one.axes, known[name], rows)
        for entry in legend_of(known[name], rows):
            entries.setdefault(str(entry.get_label()), entry)
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
    shown = geometry.intersection(box(*one.view))
    parts = [part for part in get_parts(shown) if part.length >= _SHORTEST_SHOWN_M]
    for part in sorted(parts, key=lambda p: -p.length)[:1]:
        for share in _SPOT_PARTS:
            spot = part.interpolate(share, normalized=True)
            yield spot.x, spot.y
