"""Marked lines that contradict themselves or stand twice, and points that expose none of them.

In: the table of the lines, and of the points. Out: the lines with one row for each, and what was
found; or a refusal that names the ids. Method: a line's colour must be that of its kind; two lines
of one kind that lie within :data:`SAME_WITHIN_M` of each other all along are one, and the worse of
each fact is kept. Reference: uniform colour code (APWA).
"""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Sequence
from types import SimpleNamespace
from typing import Any

import geopandas as gpd
import numpy as np
from shapely import STRtree
from shapely.geometry.base import BaseGeometry

from geo_site.constraints import ConstraintParameters, position_of
from geo_site.errors import InputRefused
from geo_site.locate_quality import COLOUR_KINDS
from geo_site.site import table_like

__all__ = ["SAME_WITHIN_M", "check_exposed", "once_each", "with_colours"]

SAME_WITHIN_M = 0.05
"""Two lines this near each other all along are one: finer than any marking."""

_FARTHEST_M = 5.0  # a point farther from the line that it names is another line's
_POSITION = ("quality_level", "uncertainty_m", "marked_by", "marked_on", "depth_m")
_WORDS = ("member", "owner", "status", "colour")


def with_colours(lines: gpd.GeoDataFrame, file: str) -> tuple[gpd.GeoDataFrame, tuple[str, ...]]:
    """Hold each line's kind against the colour of its paint.

    Parameters
    ----------
    lines : geopandas.GeoDataFrame
        Columns of ``INPUT_LAYERS["utilities"]``.
    file : str
        As the user wrote it, for the message.

    Returns
    -------
    geopandas.GeoDataFrame
        Lines of unknown kind get that of their colour.
    tuple of str
        What was taken from the colour.

    Raises
    ------
    InputRefused
        A colour that is another kind's.
    """
    by_colour = lines["colour"].map(COLOUR_KINDS).astype(object)
    coloured = by_colour.notna()
    unknown = coloured & (lines["kind"].isna() | (lines["kind"] == "unknown"))
    wrong = coloured & ~unknown & (by_colour != lines["kind"])
    if wrong.any():
        first = lines[wrong].iloc[0]
        raise InputRefused(
            f"kind {first['kind']} and colour {first['colour']} contradict each other",
            remedy=f"{first['colour']} is {COLOUR_KINDS[first['colour']]}: correct one of them",
            file=file,
            ids=[str(name) for name in lines["id"][wrong]],
        )
    if not unknown.any():
        return lines, ()
    names = ", ".join(lines["id"][unknown])
    kinds = lines["kind"].where(~unknown, by_colour).astype(object)
    return lines.assign(kind=kinds), (f"kind taken from the colour of the paint: {names}",)


def once_each(lines: gpd.GeoDataFrame) -> tuple[gpd.GeoDataFrame, tuple[str, ...]]:
    """Count a line once that stands twice, with the worse of each fact.

    Parameters
    ----------
    lines : geopandas.GeoDataFrame
        Of all files.

    Returns
    -------
    geopandas.GeoDataFrame
        The first of each, in its place.
    tuple of str
        A sentence for each line that stood twice.
    """
    twins = list(_twins(lines))
    if not twins:
        return lines, ()
    rows = lines.to_dict("records")
    notes, gone = [], set[int]()
    for first, second in twins:
        if first in gone or second in gone:
            continue
        rows[first] = _worse(rows[first], rows[second])
        gone.add(second)
        notes.append(
            f"{rows[first]['id']} and {rows[second]['id']} are one line: counted once as "
            f"{rows[first]['id']}, with the worse of each fact"
        )
    kept = [row for place, row in enumerate(rows) if place not in gone]
    return table_like(kept, lines), tuple(notes)


def _twins(lines: gpd.GeoDataFrame) -> Iterator[tuple[int, int]]:
    """Pairs of rows of one kind that lie beside each other all along."""
    shapes = np.asarray(lines.geometry)
    kinds = list(lines["kind"])
    tree = STRtree(shapes)
    left, right = tree.query(shapes, predicate="dwithin", distance=SAME_WITHIN_M)
    for first, second in sorted(zip(left.tolist(), right.tolist(), strict=True)):
        alike = first < second and kinds[first] == kinds[second]
        if alike and _lies_along(shapes[first], shapes[second]):
            yield first, second


def _lies_along(one: BaseGeometry, other: BaseGeometry) -> bool:
    near = (one.buffer(SAME_WITHIN_M), other.buffer(SAME_WITHIN_M))
    return bool(near[0].covers(other) and near[1].covers(one))


def _worse(one: dict[Any, Any], other: dict[Any, Any]) -> dict[Any, Any]:
    """One row of two: the less known position, the larger diameter; what differs is not known."""
    far = one if _reach_m(one) >= _reach_m(other) else other
    merged = {**one, **{name: far[name] for name in _POSITION}}
    for name in _WORDS:
        merged[name] = one[name] if one[name] == other[name] else None
    merged["diameter_m"] = float(np.fmax(one["diameter_m"], other["diameter_m"]))
    merged["shift_accuracy_m"] = float(np.fmax(one["shift_accuracy_m"], other["shift_accuracy_m"]))
    if one["side"] != other["side"]:
        merged["side"] = merged["member"] = None  # neither a ticket nor a locate vouches for it
    return merged


def _reach_m(record: dict[Any, Any]) -> float:
    return position_of(SimpleNamespace(**record), ConstraintParameters()).uncertainty_m


def check_exposed(
    points: gpd.GeoDataFrame, lines: gpd.GeoDataFrame, file: str, as_of: datetime.date | None
) -> None:
    """Refuse points that expose no line.

    Parameters
    ----------
    points, lines : geopandas.GeoDataFrame
        As read.
    file : str
        Of the points, for the message.
    as_of : datetime.date or None
        Day of the plan.

    Raises
    ------
    InputRefused
        A point names no line, lies far from the one that it names, or is later than the plan.
    """
    shapes = dict(zip(lines["id"], lines.geometry, strict=True))
    nameless = [str(p.id) for p in points.itertuples() if p.utility_id not in shapes]
    if nameless:
        raise _refused(
            "exposed points that name no line that was read",
            "give utility_id as the line's id in inputs.utilities", file, nameless,
        )  # fmt: skip
    far = [
        str(p.id)
        for p, point in zip(points.itertuples(), points.geometry, strict=True)
        if point.distance(shapes[p.utility_id]) > _FARTHEST_M
    ]
    if far:
        raise _refused(
            f"exposed points over {_FARTHEST_M:g} m from the line that they name",
            "correct utility_id or the point", file, far,
        )  # fmt: skip
    late = [
        str(p.id)
        for p in points.itertuples()
        if as_of is not None and isinstance(p.exposed_on, datetime.date) and p.exposed_on > as_of
    ]
    if late:
        raise _refused("exposed after the day of the plan", "correct the day", file, late)


def _refused(fault: str, remedy: str, file: str, ids: Sequence[str]) -> InputRefused:
    return InputRefused(fault, remedy=remedy, file=file, layer=None, ids=ids)
