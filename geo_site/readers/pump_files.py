"""Pump curves from a user's table.

In: a CSV with a row for each point: ``pump``, a flow and a head with their unit in the header
(``flow_gpm``, ``head_ft``), and where they are known ``power_w`` and ``speed_rpm``. Out: a
:class:`~geo_site.pumps.PumpCurve` for each pump and speed. A curve that rises is read: what
that means is told where the pump is put to work.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path

from geo_site import units
from geo_site.errors import InputRefused
from geo_site.pumps import PumpCurve, one_point_curve
from geo_site.readers.csv_rows import CsvRow, number_in, read_rows, refuse_cell
from geo_site.units import Dimension

__all__ = ["read_pumps"]

_FLOWS = {
    "flow_m3s": "m3/s",
    "flow_m3h": "m3/h",
    "flow_lps": "l/s",
    "flow_lpm": "l/min",
    "flow_lph": "l/h",
    "flow_gpm": "gpm",
    "flow_gph": "gph",
}
_HEADS = {"head_m": "m", "head_ft": "ft"}
_POWERS = {"power_w": "w", "power_kw": "kw", "power_hp": "hp"}
_OTHERS = ("pump", "speed_rpm")
_LEAST_POINTS = 3

Point = tuple[float, float, float, CsvRow]


def read_pumps(path: Path, told: str, *, one_point: bool = False) -> tuple[PumpCurve, ...]:
    """Read the curves of one or many pumps.

    Parameters
    ----------
    path : pathlib.Path
        The table.
    told : str
        Its path as the user wrote it.
    one_point : bool
        Whether the user says that a pump with one point may have the curve that is commonly
        drawn through it.

    Returns
    -------
    tuple of PumpCurve
        SI, points in order of flow; pumps in the order of the table.

    Raises
    ------
    InputRefused
        A column that is unknown, missing or there in two units; a cell that is empty, no number
        or negative; a flow twice; too few points.
    """
    columns, rows = read_rows(path, told)
    flow, head = _one_of(_FLOWS, columns, told), _one_of(_HEADS, columns, told)
    power = _one_of(_POWERS, columns, told, needed=False)
    _check_columns(columns, told)
    curves: dict[tuple[str, float], list[Point]] = {}
    for row in rows:
        if not row.cells["pump"]:
            raise refuse_cell(row, "pump", "the cell is empty", "name the pump", told)
        rpm = _above_0(row, "speed_rpm", told)
        point = (
            _si(row, flow, _FLOWS, "flow", told),
            _si(row, head, _HEADS, "length", told),
            _above_0(row, power, told) * _watts(power),
            row,
        )
        curves.setdefault((row.cells["pump"], rpm if rpm > 0.0 else 0.0), []).append(point)
    return tuple(_curve(*key, points, one_point, told) for key, points in curves.items())


def _above_0(row: CsvRow, column: str, told: str) -> float:
    """A number above 0; NaN where the table or the cell does not tell it."""
    if not row.cells.get(column):
        return math.nan
    value = number_in(row, column, told)
    if value == 0.0:
        remedy = "write the number, or leave the cell empty where it is not known"
        raise refuse_cell(row, column, "0 is not possible", remedy, told)
    return value


def _watts(column: str) -> float:
    return units.unit_factor(_POWERS[column], "power") if column else math.nan


def _check_columns(columns: Sequence[str], told: str) -> None:
    valid = (*_OTHERS[:1], *_FLOWS, *_HEADS, *_POWERS, *_OTHERS[1:])
    strange = [column for column in columns if column not in valid]
    if strange:
        raise InputRefused(
            f"row 1: unknown column {strange[0]}", remedy=f"valid: {', '.join(valid)}", file=told
        )
    if "pump" not in columns:
        raise InputRefused("row 1: no column pump", remedy="name each row's pump", file=told)


def _one_of(
    known: dict[str, str], columns: Sequence[str], told: str, *, needed: bool = True
) -> str:
    """The one column of a quantity; its name holds the unit."""
    found = [column for column in columns if column in known]
    if len(found) > 1:
        raise InputRefused(
            f"row 1: {found[0]} and {found[1]} are two units of one thing",
            remedy="keep one of the two columns",
            file=told,
        )
    if not found and needed:
        raise InputRefused(
            f"row 1: no column of {next(iter(known)).partition('_')[0]} with its unit",
            remedy=f"name it one of {', '.join(known)}",
            file=told,
        )
    return found[0] if found else ""


def _si(row: CsvRow, column: str, known: dict[str, str], dimension: Dimension, told: str) -> float:
    return number_in(row, column, told) * units.unit_factor(known[column], dimension)


def _curve(pump: str, rpm: float, points: list[Point], one_point: bool, told: str) -> PumpCurve:
    speed_rpm = rpm or math.nan
    if len(points) == 1 and one_point:
        return _through(pump, points[0], told)
    if len(points) < _LEAST_POINTS:
        raise InputRefused(
            f"row {points[-1][3].line}, column pump: {pump} has {len(points)} points",
            remedy=f"give {_LEAST_POINTS} or more, or one with one_point = true in [inputs.pumps]",
            file=told,
        )
    points.sort(key=lambda point: point[0])
    for before, after in pairwise(points):
        if after[0] == before[0]:
            column = next(name for name in after[3].cells if name in _FLOWS)
            fault = f"{pump} has the flow of row {before[3].line} again"
            raise refuse_cell(after[3], column, fault, "give each flow once", told)
    _check_power(pump, points, told)
    return PumpCurve(
        name=pump,
        flows_m3s=tuple(point[0] for point in points),
        heads_m=tuple(point[1] for point in points),
        powers_w=() if math.isnan(points[0][2]) else tuple(point[2] for point in points),
        speed_rpm=speed_rpm,
    )


def _check_power(pump: str, points: list[Point], told: str) -> None:
    """A pump's power is told at every point, or at none."""
    without = [point[3] for point in points if math.isnan(point[2])]
    if without and len(without) < len(points):
        column = next(name for name in without[0].cells if name in _POWERS)
        fault = f"{pump} has a power at other points, none here"
        raise refuse_cell(without[0], column, fault, "write it at every point, or at none", told)


def _through(pump: str, point: Point, told: str) -> PumpCurve:
    flow_m3s, head_m, _, row = point
    for name, value in (("flow", flow_m3s), ("head", head_m)):
        if value == 0.0:
            column = next(column for column in row.cells if column.startswith(name))
            raise refuse_cell(row, column, "0 at a pump's only point", "give its best point", told)
    return one_point_curve(pump, flow_m3s, head_m)
