"""Sections of the stream as the levels need them: pieces between falls and narrow places.

A riffle is a rectangle of the bed's mean width between pools. A pool's hollow is a rectangle of
the pool's mean width and of the hollow's mean depth; it ends upright a short way inside the pool,
where the bed is at the sill again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from geo_site import channels
from geo_site.layout import Fall, Layout, Pool, StreamReach
from geo_site.water.records import WaterParameters
from geo_site.water.stream_settings import Narrow

__all__ = ["Piece", "Stream", "bed_width", "fall_of", "pool_of", "stream_of", "with_roughness"]

Floats = NDArray[np.float64]

_EDGE_M = 0.005  # from a pool's rim to where its hollow is taken as full
_EDGE_SHARE = 0.125
_ROUNDING_M = 1e-9


@dataclass(frozen=True, kw_only=True)
class Piece:
    """Stream between two falls or narrow places.

    Attributes
    ----------
    channel : Channel
        Its sections, hollows at their mean depth.
    deepest_m : ndarray, shape (n,)
        Level of the deepest bed.
    sill_m : ndarray, shape (n,)
        Level of the sill: the bed without hollows.
    reach : ndarray of int, shape (n,)
        Index of each station's reach in the layout.
    above : int or Narrow or None
        What lies above it: the index of a fall's reach, a narrow place, or the spillway (None).
    """

    channel: channels.Channel
    deepest_m: Floats
    sill_m: Floats
    reach: NDArray[np.int64]
    above: int | Narrow | None


@dataclass(frozen=True, kw_only=True)
class Stream:
    """A layout as pieces.

    Attributes
    ----------
    layout : Layout
        The stream.
    bed_m : float
        Mean width of the bed between pools.
    pieces : tuple of Piece
        Downstream.
    """

    layout: Layout
    bed_m: float
    pieces: tuple[Piece, ...]


@dataclass(frozen=True, kw_only=True)
class _Row:
    """One station."""

    station_m: float
    sill_m: float
    mean_m: float
    deepest_m: float
    width_m: float
    reach: int


def bed_width(layout: Layout) -> float:
    """Mean width of the bed between its pools, m."""
    between_m = sum(r.to_m - r.from_m for r in layout.reaches if r.kind != "pool")
    pools = shapely.union_all([pool.geometry for pool in layout.pools])
    between_m2 = float(layout.bed.difference(pools).area)
    if between_m > 0.0 and between_m2 > 0.0:
        return between_m2 / between_m
    return float(layout.bed.area) / layout.length_m


def fall_of(reach: StreamReach, layout: Layout) -> Fall:
    """Give the fall that a reach is."""
    return min(layout.falls, key=lambda fall: abs(fall.station_m - reach.from_m))


def pool_of(reach: StreamReach, layout: Layout) -> Pool:
    """Give the pool that a reach is."""
    return min(layout.pools, key=lambda pool: abs(pool.from_m - reach.from_m))


def stream_of(layout: Layout, parameters: WaterParameters) -> Stream:
    """Cut a layout into pieces with their sections.

    Parameters
    ----------
    layout : Layout
        Reaches, falls, pools.
    parameters : WaterParameters
        ``roughness``, ``hollow_fullness``, ``narrows``, ``levels.step``.

    Returns
    -------
    Stream
        A narrow place on a fall, or off the stream, is left out.
    """
    bed_m = bed_width(layout)
    pieces: list[Piece] = []
    rows: list[_Row] = []
    above: int | Narrow | None = None
    last = len(layout.reaches) - 1
    for index, reach in enumerate(layout.reaches):
        if reach.kind == "fall":
            if index > 0:
                pieces += _pieces(rows or [_foot(layout, index - 1, bed_m)], above, parameters)
            rows, above = [], index
        elif reach.kind == "pool":
            rows += _pool_rows(layout, index, bed_m, parameters)
        else:
            rows += _riffle_rows(reach, index, bed_m, parameters.levels.step)
        if index == last:
            pieces += _pieces([*rows, _foot(layout, index, bed_m)], above, parameters)
    return Stream(layout=layout, bed_m=bed_m, pieces=tuple(pieces))


def _foot(layout: Layout, index: int, bed_m: float) -> _Row:
    """Station at the downstream end of a reach, its bed at the sill."""
    reach = layout.reaches[index]
    end_m = float(shapely.get_coordinates(reach.line, include_z=True)[-1, 2])
    return _Row(
        station_m=reach.to_m,
        sill_m=end_m,
        mean_m=end_m,
        deepest_m=end_m,
        width_m=bed_m,
        reach=index,
    )


def _riffle_rows(reach: StreamReach, index: int, bed_m: float, step_m: float) -> list[_Row]:
    xyz = shapely.get_coordinates(reach.line, include_z=True)
    along_m = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(xyz[:, :2], axis=0).T))])
    along_m = reach.from_m + along_m * (reach.to_m - reach.from_m) / along_m[-1]
    stations_m = _divided(along_m.tolist(), step_m)
    levels_m = np.interp(stations_m, along_m, xyz[:, 2]).tolist()
    return [
        _Row(station_m=s, sill_m=z, mean_m=z, deepest_m=z, width_m=bed_m, reach=index)
        for s, z in zip(stations_m, levels_m, strict=True)
    ]


def _divided(marks_m: Sequence[float], step_m: float) -> list[float]:
    """Marks with stations between them, none farther apart than a step."""
    stations_m = [marks_m[0]]
    for start_m, end_m in pairwise(marks_m):
        count = max(int(np.ceil((end_m - start_m) / step_m - _ROUNDING_M)), 1)
        stations_m += np.linspace(start_m, end_m, count + 1)[1:].tolist()
    return stations_m


def _pool_rows(layout: Layout, index: int, bed_m: float, parameters: WaterParameters) -> list[_Row]:
    reach = layout.reaches[index]
    pool, length_m = pool_of(reach, layout), reach.to_m - reach.from_m
    edge_m = min(_EDGE_M, _EDGE_SHARE * length_m)
    area_m2 = float(pool.geometry.area)
    sill_m = reach.sill_level_m
    return [
        _Row(
            station_m=station_m,
            sill_m=sill_m,
            mean_m=sill_m - parameters.hollow_fullness * pool.depth_m,
            deepest_m=sill_m - pool.depth_m,
            width_m=area_m2 / length_m if area_m2 > 0.0 else bed_m,
            reach=index,
        )
        for station_m in _divided(
            [reach.from_m + edge_m, reach.to_m - edge_m], 2.0 * parameters.levels.step
        )
    ]


def _pieces(
    rows: list[_Row], above: int | Narrow | None, parameters: WaterParameters
) -> list[Piece]:
    """Pieces of what lies between two falls, cut at its narrow places."""
    rows = _once(rows)
    pieces: list[Piece] = []
    for narrow in sorted(parameters.narrows, key=lambda one: one.station):
        if rows[0].station_m < narrow.station < rows[-1].station_m:
            before, after = _cut(rows, narrow.station)
            pieces.append(_piece(before, above, parameters))
            rows, above = after, narrow
    return [*pieces, _piece(rows, above, parameters)]


def _once(rows: list[_Row]) -> list[_Row]:
    """Rows without the second of two at one station."""
    kept = rows[:1]
    for row in rows[1:]:
        if row.station_m > kept[-1].station_m + _ROUNDING_M:
            kept.append(row)
    return kept


def _cut(rows: list[_Row], station_m: float) -> tuple[list[_Row], list[_Row]]:
    """Rows above and below a station, both with a row on it."""
    i = next(i for i, row in enumerate(rows) if row.station_m >= station_m)
    share = (station_m - rows[i - 1].station_m) / (rows[i].station_m - rows[i - 1].station_m)
    row = rows[i] if share > 0.5 else rows[i - 1]
    if rows[i].reach == rows[i - 1].reach:
        drop_m = share * (rows[i].sill_m - rows[i - 1].sill_m) + rows[i - 1].sill_m - row.sill_m
        row = replace(
            row,
            sill_m=row.sill_m + drop_m,
            mean_m=row.mean_m + drop_m,
            deepest_m=row.deepest_m + drop_m,
        )
    row = replace(row, station_m=station_m)
    return [*rows[:i], row], [row, *(below for below in rows[i:] if below.station_m > station_m)]


def _piece(rows: list[_Row], above: int | Narrow | None, parameters: WaterParameters) -> Piece:
    return Piece(
        channel=channels.Channel(
            station_m=np.array([row.station_m for row in rows]),
            bed_m=np.array([row.mean_m for row in rows]),
            bottom_m=np.array([row.width_m for row in rows]),
            side_run=np.zeros(len(rows)),
            roughness=np.full(len(rows), parameters.roughness),
        ),
        deepest_m=np.array([row.deepest_m for row in rows]),
        sill_m=np.array([row.sill_m for row in rows]),
        reach=np.array([row.reach for row in rows], dtype=np.int64),
        above=above,
    )


def with_roughness(stream: Stream, roughness: float) -> Stream:
    """Give the same stream with another Manning's n everywhere."""
    pieces = tuple(
        replace(
            piece,
            channel=replace(piece.channel, roughness=np.full(len(piece.sill_m), roughness)),
        )
        for piece in stream.pieces
    )
    return replace(stream, pieces=pieces)
