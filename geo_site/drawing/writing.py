"""A drawing from a plan: document, layers in order, words, and what it stands on.

In: a plan. Out: a DXF file. Method: shapes first, then labels by their priority, so that the
names of buried lines find room first. Reference: DXF R2010 (AC1024).
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from ezdxf import options  # type: ignore[attr-defined]  # public, but not re-exported in types
from ezdxf.document import Drawing
from ezdxf.filemanagement import new as new_drawing
from shapely import total_bounds

from geo_site.cautions import NOT_A_LOCATE
from geo_site.crs import code_of, linear_unit_m
from geo_site.drawing.board import LABEL_MM, POINT_MM, SCALE, Board, plain
from geo_site.layers import DRAWING_ORDER, LAYERS, Layer, Table, output_crs, to_table
from geo_site.layers.fields import ALTERNATIVE
from geo_site.units import FOOT_M, US_SURVEY_FOOT_M

if TYPE_CHECKING:
    from geo_site.plan import Plan

__all__ = ["write_drawing"]

_NOTES, _NOTE_MM = "notes", 3.0
_UNITS = {1.0: (6, "metre"), FOOT_M: (2, "international foot"), US_SURVEY_FOOT_M: (21,
          "US survey foot")}  # fmt: skip
_NO_UNIT = 0
_CROSS_POINT = 3  # $PDMODE: a point is drawn as a cross on its side


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
        drawing = _empty(unit_m)
        tables = {layer.name: (layer, to_table(layer, plan)) for layer in LAYERS}
        west, south, east, north = map(float, total_bounds(tables["parcel"][1].geometries))
        board = Board(drawing, unit_m, (west, south, east, north))
        for layer in LAYERS:
            board.add_layer(layer, _plans_in(tables[layer.name][1]))
        for name in DRAWING_ORDER:
            board.draw(*tables[name])
        named = [pair for pair in tables.values() if pair[0].look.label]
        for layer, rows in sorted(named, key=lambda pair: _turn(pair[0])):
            board.name(layer, rows)
        _note(board, plan, (west, south))
        _declare(drawing)
        drawing.saveas(target)
    return target


def _turn(layer: Layer) -> tuple[bool, int]:
    """Order in which names find room: what is switched off comes after all that is seen."""
    return not layer.look.at_first, -layer.look.priority


@contextmanager
def _undated() -> Iterator[None]:
    """Leave out the day of writing: the same plan gives the same bytes."""
    was = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = was


def _plans_in(rows: Table) -> int:
    """Count the whole plans in a layer: those of other places get drawing layers of their own."""
    return int(rows.columns[ALTERNATIVE].max()) if ALTERNATIVE in rows.columns and rows else 1


def _unit(unit_m: float) -> tuple[int, str]:
    """Give code and name of a unit; a unit that the format does not know is told in words only."""
    for known_m, unit in _UNITS.items():
        if abs(unit_m - known_m) < 1e-12:
            return unit
    return _NO_UNIT, f"unit of {unit_m:.10g} m"


def _empty(unit_m: float) -> Drawing:
    code, _ = _unit(unit_m)
    drawing = new_drawing("R2010", setup=False, units=code)
    drawing.header["$MEASUREMENT"] = 1 if unit_m == 1.0 else 0
    drawing.header["$LTSCALE"] = 1.0
    drawing.header["$LWDISPLAY"] = 1
    drawing.header["$PDMODE"] = _CROSS_POINT
    drawing.header["$PDSIZE"] = POINT_MM / 1000.0 * SCALE / unit_m
    return drawing


def _declare(drawing: Drawing) -> None:
    """Declare what kinds of things the file holds in one order, or each run has another."""
    for kind in sorted(drawing.entitydb.dxf_types_in_use()):
        drawing.classes.add_class(kind)


def _note(board: Board, plan: Plan, corner: tuple[float, float]) -> None:
    """Write under the lot what the drawing stands on."""
    board.drawing.layers.add(_NOTES).description = "What the drawing stands on"
    step = board.on_board(2.0 * _NOTE_MM)
    for number, line in enumerate(_lines(plan, board.unit_m)):
        place = (corner[0], corner[1] - (number + 2) * step)
        board.write(plain(line), place, _NOTE_MM, layer=_NOTES)


def _lines(plan: Plan, unit_m: float) -> Iterator[str]:
    site = plan.site
    crs = output_crs(site)
    code = code_of(crs)
    off = ", ".join(layer.name for layer in LAYERS if not layer.look.at_first)
    yield site.name
    yield NOT_A_LOCATE
    yield f"X and Y: {crs.name}{f' ({code})' if code else ''}."
    yield f"Unit of X, Y and Z: {_unit(unit_m)[1]}. Sizes in labels are in the unit they name."
    yield f"Vertical datum: {site.vertical_datum or 'unknown, that of the terrain data'}."
    yield f"As of: {site.ticket.as_of or 'no date is given'}."
    yield f"Text of {LABEL_MM:g} mm, hatches and dashes are sized for a plot at 1:{SCALE:g}."
    yield f"Off until switched on: {off}, and clearances that are met (clearances_met)."
    if plan.alternatives:
        yield "Layers that end in a number hold the plans of other places; they are off."
