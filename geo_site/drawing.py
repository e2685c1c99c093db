"""The door to CAD: the plan's layers as a DXF drawing.

Question
    How does the plan look on a drawing board?
In
    A :class:`geo_site.plan.Plan`.
Out
    ``drawing.dxf``, positions and levels in the unit of the parcel file's CRS.
Method
    One drawing layer for each layer of the catalogue, by the same name, with the same colours and
    dashes; lines and points with levels are 3-D; filled areas are hatched; labels are as high as
    they would be plotted at the drawing's scale. No date is written, so the same plan gives the
    same bytes.
Reference
    DXF R2010 (AC1024), written by ezdxf.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import ezdxf.colors
from ezdxf import options  # type: ignore[attr-defined]  # public, but not re-exported in types
from ezdxf.document import Drawing
from ezdxf.enums import TextEntityAlignment
from ezdxf.filemanagement import new as new_drawing
from ezdxf.layouts.layout import Modelspace
from shapely import get_coordinates, get_parts
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from geo_site.cautions import NOT_A_LOCATE
from geo_site.crs import linear_unit_m
from geo_site.layers import LAYERS, Layer, Symbol, output_crs, to_frame

if TYPE_CHECKING:
    import geopandas as gpd

    from geo_site.plan import Plan

__all__ = ["write_drawing"]

_SCALE = 200.0  # a label is as high as on a sheet of this scale
_LABEL_MM = 2.0
_POINT_MM = 1.0
_UNITS = {1.0: 6, 0.3048: 2}  # $INSUNITS: metres, international feet
_SURVEY_FEET = 21
_HIDDEN = frozenset({"blocked_ground", "open_ground", "flow_paths", "catchment", "clearances"})
_LEAST_WIDTH, _WIDTHS = 5, (5, 9, 13, 15, 18, 20, 25, 30, 35, 40, 50, 53, 60, 70, 80, 90, 100, 140,
                            200)  # fmt: skip


def write_drawing(plan: Plan, path: str | Path) -> Path:
    """Write the plan's layers as DXF.

    Parameters
    ----------
    plan : Plan
        With or without a proposal.
    path : str or Path
        Target.

    Returns
    -------
    Path
        The target.
    """
    target = Path(path)
    unit_m = linear_unit_m(output_crs(plan.site))
    with _undated():
        drawing = new_drawing("R2010", setup=False, units=_UNITS.get(unit_m, _SURVEY_FEET))
        drawing.header["$LTSCALE"] = 1.0
        board = _Board(drawing, unit_m)
        for layer in LAYERS:
            board.draw(layer, to_frame(layer, plan))
        board.caution(plan)
        drawing.saveas(target)
    return target


@contextmanager
def _undated() -> Iterator[None]:
    """Leave out the day of writing: the same plan gives the same bytes."""
    was = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = was


class _Board:
    """A drawing that is being filled.

    Parameters
    ----------
    drawing : Drawing
        The document.
    unit_m : float
        Metres of one drawing unit.
    """

    def __init__(self, drawing: Drawing, unit_m: float) -> None:
        self.drawing, self.space, self.unit_m = drawing, drawing.modelspace(), unit_m
        self._dashes: dict[tuple[float, ...], str] = {}

    def draw(self, layer: Layer, rows: gpd.GeoDataFrame) -> None:
        """Draw a layer; a layer without rows is there all the same."""
        look = layer.look.symbol
        made = self.drawing.layers.add(
            layer.name,
            true_color=_colour(look.stroke),
            linetype=self._linetype(look),
            lineweight=_weight(look.width_mm),
        )
        made.description = layer.title
        if layer.name in _HIDDEN:
            made.off()
        symbols = dict(layer.look.classes)
        for row in rows.to_dict("records"):
            chosen = symbols.get(str(row.get(layer.look.by)).lower(), look)
            about = self._attributes(layer, chosen, differs=chosen is not look)
            for part in get_parts(row["geometry"]):
                self._shape(part, chosen, about)
            if layer.look.label:
                self._label(layer, row)

    def caution(self, plan: Plan) -> None:
        """Write the caution under the lot."""
        west, south, _, _ = plan.site.parcel.bounds
        height = self._on_board(_LABEL_MM * 1.5)
        words = self.space.add_text(NOT_A_LOCATE, height=height, dxfattribs={"layer": "parcel"})
        place = (west / self.unit_m, south / self.unit_m - 4.0 * height)
        words.set_placement(place, align=TextEntityAlignment.LEFT)

    def _on_board(self, paper_mm: float) -> float:
        """Drawing units of a length on paper at the drawing's scale."""
        return paper_mm / 1000.0 * _SCALE / self.unit_m

    def _attributes(self, layer: Layer, symbol: Symbol, *, differs: bool) -> dict[str, Any]:
        about: dict[str, Any] = {"layer": layer.name}
        if differs:
            about |= {
                "true_color": _colour(symbol.stroke),
                "linetype": self._linetype(symbol),
                "lineweight": _weight(symbol.width_mm),
            }
        return about

    def _shape(self, part: BaseGeometry, symbol: Symbol, about: Mapping[str, Any]) -> None:
        xyz = self._xyz(part)
        if part.geom_type == "Point":
            self.space.add_circle(xyz[0], radius=self._on_board(_POINT_MM), dxfattribs=about)
            self.space.add_point(xyz[0], dxfattribs=about)
        elif isinstance(part, Polygon):
            rings = [part.exterior, *part.interiors]
            for ring in rings:
                _line(self.space, self._xyz(ring)[:-1], about, closed=True, flat=not part.has_z)
            if symbol.fill:
                self._hatch([self._xyz(ring)[:-1] for ring in rings], symbol, about)
        else:
            _line(self.space, xyz, about, closed=False, flat=not part.has_z)

    def _hatch(
        self, rings: list[list[tuple[float, ...]]], symbol: Symbol, about: Mapping[str, Any]
    ) -> None:
        hatch = self.space.add_hatch(dxfattribs={"layer": about["layer"]})
        hatch.rgb = ezdxf.colors.int2rgb(_colour(symbol.fill))
        hatch.transparency = 1.0 - 0.5 * symbol.opacity
        for number, ring in enumerate(rings):
            flags = 1 if number == 0 else 16  # outer boundary, then islands
            hatch.paths.add_polyline_path([p[:2] for p in ring], is_closed=True, flags=flags)

    def _xyz(self, part: BaseGeometry) -> list[tuple[float, ...]]:
        """Positions as in the layer; levels are brought from metres to the drawing's unit."""
        xyz = get_coordinates(part, include_z=part.has_z)
        if part.has_z:
            xyz[:, 2] /= self.unit_m
        return [tuple(float(value) for value in row) for row in xyz]

    def _label(self, layer: Layer, row: Mapping[Hashable, Any]) -> None:
        told = row[layer.look.label]
        if told is None or (isinstance(told, float) and not math.isfinite(told)):
            return
        words = _plain(f"{told:.2f}" if isinstance(told, float) else str(told))
        unit = next(f.unit for f in layer.fields if f.name == layer.look.label)
        spot = row["geometry"].representative_point()
        text = self.space.add_text(
            words if unit == "-" else f"{words} {unit}",
            height=self._on_board(_LABEL_MM),
            dxfattribs={"layer": layer.name},
        )
        text.set_placement((spot.x, spot.y), align=TextEntityAlignment.LEFT)

    def _linetype(self, symbol: Symbol) -> str:
        """Give the dashes of a symbol at the drawing's scale, made once."""
        if not symbol.dash_mm:
            return "Continuous"
        if symbol.dash_mm not in self._dashes:
            name = f"DASH_{len(self._dashes) + 1}"
            # A pattern begins with its whole length; gaps are negative.
            parts = [
                self._on_board(part) * (1 if number % 2 == 0 else -1)
                for number, part in enumerate(symbol.dash_mm)
            ]
            pattern = [sum(abs(part) for part in parts), *parts]
            self.drawing.linetypes.add(
                name, pattern, description="-".join(map(str, symbol.dash_mm))
            )
            self._dashes[symbol.dash_mm] = name
        return self._dashes[symbol.dash_mm]


def _line(
    space: Modelspace,
    xyz: list[tuple[float, ...]],
    about: Mapping[str, Any],
    *,
    closed: bool,
    flat: bool,
) -> None:
    if flat:
        space.add_lwpolyline([p[:2] for p in xyz], close=closed, dxfattribs=about)
    else:
        space.add_polyline3d(xyz, close=closed, dxfattribs=about)


def _colour(told: str) -> int:
    return int(told.removeprefix("#"), 16)


def _weight(width_mm: float) -> int:
    """Give the nearest line weight that the format has, in hundredths of a millimetre."""
    return min(_WIDTHS, key=lambda weight: abs(weight - 100.0 * width_mm))


def _plain(words: str) -> str:
    """Leave out what would end a line of the file or begin a code: names come from strangers."""
    return "".join(mark for mark in words if mark.isprintable()).replace("%%", "% %")
