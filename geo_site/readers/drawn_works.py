"""From shapes of layers to drawn works: which way a line runs, which levels count, what belongs.

In: shapes by layer. Out: :class:`~geo_site.drawn.Drawn`. Method: a stream runs towards the basin,
else downhill; its levels count where every vertex has one; reaches, falls and pools count where
they lie on it. What was turned or left out is told.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, MultiPoint, MultiPolygon, Point, Polygon

from geo_site.drawn import Drawn, DrawnFall, DrawnPool, DrawnReach
from geo_site.readers.drawn_layers import Shape, as_lines, number_at
from geo_site.site import Site

__all__ = ["Parts", "drawn_from"]

_SAME_M = 1e-3
_BESIDE_M = 1.0  # of the basin: an end so near belongs to it
_ON_STREAM_M = 0.05
_NO_LEVEL_M = 1e-9
_KINDS = ("pool", "riffle", "fall")


@dataclass(frozen=True)
class Parts:
    """Shapes by layer.

    Attributes
    ----------
    shapes : mapping of str to tuple of Shape
        A layer that is not there has none.
    """

    shapes: Mapping[str, tuple[Shape, ...]]

    def all(self, name: str) -> tuple[Shape, ...]:
        """Give the shapes of a layer."""
        return self.shapes.get(name, ())

    def first(self, name: str) -> Shape | None:
        """Give the only shape of a layer."""
        found = self.all(name)
        return found[0] if found else None


def drawn_from(parts: Parts, site: Site) -> Drawn:
    """Put shapes together to works.

    Parameters
    ----------
    parts : Parts
        In the working CRS.
    site : Site
        Ground levels tell which way a stream runs.

    Returns
    -------
    Drawn
        With notes on what was turned or left out.
    """
    notes: list[str] = []
    basin = parts.first("basin")
    outline = None if basin is None else _flat_area(basin)
    stream = _stream(parts, outline, site, notes)
    pile = parts.first("spoil_pile")
    return Drawn(
        basin=outline,
        basin_depth_m=math.nan if basin is None else number_at(basin, "depth_m"),
        spillway=_spillway(parts),
        stream=stream,
        reaches=_reaches(parts, stream, notes),
        falls=_falls(parts, stream, notes),
        pools=_pools(parts, stream, notes),
        pipe=_pipe(parts, outline, stream, notes),
        spoil_pile=None if pile is None else _flat_area(pile),
        silt_fence=as_lines(parts.all("silt_fence")),
        machine_route=as_lines(parts.all("machine_route")),
        keep_off=MultiPolygon([_flat(shape) for shape in parts.all("keep_off")]),
        must_pass=MultiPoint([_flat_point(shape) for shape in parts.all("must_pass")]),
        notes=tuple(notes),
    )


def _flat_area(shape: Shape) -> Polygon:
    return Polygon(shapely.get_coordinates(shapely.get_exterior_ring(shape.geometry)))


def _flat(shape: Shape) -> Polygon:
    """Give an area in plan, with its holes."""
    holes = [shapely.get_coordinates(ring) for ring in shapely.get_rings(shape.geometry)[1:]]
    return Polygon(_flat_area(shape).exterior, holes)


def _flat_point(shape: Shape) -> Point:
    return Point(shapely.get_coordinates(shape.geometry)[0])


def _spillway(parts: Parts) -> Point | None:
    shape = parts.first("spillway")
    return None if shape is None else _flat_point(shape)


def _stream(parts: Parts, basin: Polygon | None, site: Site, notes: list[str]) -> LineString | None:
    shape = parts.first("stream_alignment")
    if shape is None:
        if parts.all("stream_reaches"):
            notes.append("reaches without their stream are not read: the stream is worked out")
        return None
    as_drawn = shapely.get_coordinates(shape.geometry, include_z=shape.geometry.has_z)
    line = _with_known_levels(LineString(as_drawn), notes)
    if not _runs_upstream(line, basin, site):
        return line
    notes.append("the stream was drawn upstream: it is turned round")
    return LineString(shapely.get_coordinates(line, include_z=line.has_z)[::-1])


def _with_known_levels(line: LineString, notes: list[str]) -> LineString:
    """Give a line without levels where some vertex has none: editors give new ones 0."""
    if not line.has_z:
        return line
    xyz = shapely.get_coordinates(line, include_z=True)
    levels_m = xyz[:, 2]
    missing = ~np.isfinite(levels_m) | (np.abs(levels_m) <= _NO_LEVEL_M)
    if not missing.any():
        return line
    if not missing.all():
        notes.append(
            f"{int(missing.sum())} of the stream's vertices have no level: all levels are "
            "worked out anew"
        )
    return LineString(xyz[:, :2])


def _runs_upstream(line: LineString, basin: Polygon | None, site: Site) -> bool:
    """Whether a line was drawn from the basin up: by a basin beside it, its levels, or the ground.

    A basin that was moved away from its stream does not tell which end is which.
    """
    xyz = shapely.get_coordinates(line, include_z=line.has_z)
    if basin is not None:
        away_m = [basin.distance(Point(xyz[i, :2])) for i in (0, -1)]
        if min(away_m) <= _BESIDE_M and abs(away_m[0] - away_m[1]) > _SAME_M:
            return away_m[0] < away_m[1]
    if line.has_z and xyz[0, 2] != xyz[-1, 2]:
        return bool(xyz[0, 2] < xyz[-1, 2])
    ground_m = site.terrain.sample(xyz[[0, -1], :2])
    return bool(ground_m[0] < ground_m[1])


def _reaches(parts: Parts, stream: LineString | None, notes: list[str]) -> tuple[DrawnReach, ...]:
    """Reaches in order, where together they are the stream vertex by vertex."""
    shapes = parts.all("stream_reaches")
    if stream is None or not shapes:
        return ()
    orders = [number_at(shape, "sequence") for shape in shapes]
    ordered = [shapes[i] for i in np.argsort(np.nan_to_num(orders), kind="stable")]
    points = _joined([shapely.get_coordinates(shape.geometry) for shape in ordered])
    wanted = shapely.get_coordinates(stream)
    if np.isnan(orders).any():
        notes.append("the reaches have lost their sequence: they are worked out anew")
        return ()
    if not _are_alike(points, wanted):
        notes.append("the reaches do not lie on the stream as drawn: they are worked out anew")
        return ()
    kinds = [str(shape.attributes.get("kind") or "") for shape in ordered]
    return tuple(
        DrawnReach(
            line=LineString(shapely.get_coordinates(shape.geometry)),
            kind=kind if kind in _KINDS else "",
        )
        for shape, kind in zip(ordered, kinds, strict=True)
    )


def _joined(lines: list[NDArray[np.float64]]) -> NDArray[np.float64]:
    """Vertices of lines one after the other, a shared end once."""
    return np.vstack([lines[0], *(line[1:] for line in lines[1:])])


def _are_alike(points: NDArray[np.float64], wanted: NDArray[np.float64]) -> bool:
    return points.shape == wanted.shape and bool(np.abs(points - wanted).max() <= _SAME_M)


def _falls(parts: Parts, stream: LineString | None, notes: list[str]) -> tuple[DrawnFall, ...]:
    shapes = parts.all("stream_falls")
    if stream is None or not shapes:
        return ()
    on = [shape for shape in shapes if stream.distance(shape.geometry) <= _ON_STREAM_M]
    if len(on) < len(shapes):
        notes.append(f"{len(shapes) - len(on)} of the falls do not lie on the stream: not read")
    return tuple(
        DrawnFall(
            lip=_lip(shape),
            height_m=number_at(shape, "height_m"),
            lip_width_m=number_at(shape, "lip_width_m"),
        )
        for shape in on
    )


def _lip(shape: Shape) -> Point:
    """Give a lip with its level, where it has one: editors give new points 0."""
    xyz = shapely.get_coordinates(shape.geometry, include_z=True)[0]
    has_level = np.isfinite(xyz[2]) and abs(xyz[2]) > _NO_LEVEL_M
    return Point(xyz if has_level else xyz[:2])


def _pools(parts: Parts, stream: LineString | None, notes: list[str]) -> tuple[DrawnPool, ...]:
    shapes = parts.all("stream_pools")
    if stream is None or not shapes:
        return ()
    on = [shape for shape in shapes if stream.intersects(shape.geometry)]
    if len(on) < len(shapes):
        notes.append(f"{len(shapes) - len(on)} of the pools do not lie on the stream: not read")
    return tuple(
        DrawnPool(outline=_flat_area(shape), depth_m=number_at(shape, "depth_m")) for shape in on
    )


def _pipe(
    parts: Parts, basin: Polygon | None, stream: LineString | None, notes: list[str]
) -> LineString | None:
    """The pipe in plan, pump first: it begins at the basin, or ends at the lip."""
    shape = parts.first("pipe_run")
    if shape is None:
        return None
    xy = shapely.get_coordinates(shape.geometry)
    ends = [Point(xy[0]), Point(xy[-1])]
    backwards = False
    away_m = [math.inf if basin is None else basin.distance(end) for end in ends]
    if min(away_m) <= _BESIDE_M:
        backwards = away_m[1] < away_m[0] - _SAME_M
    elif stream is not None:
        lip = Point(shapely.get_coordinates(stream)[0])
        backwards = lip.distance(ends[0]) < lip.distance(ends[1]) - _SAME_M
    if backwards:
        notes.append("the pipe was drawn from the spillway: it is turned round")
    return LineString(xy[::-1] if backwards else xy)
