"""From the cells of a way to a natural line with stations that stays on free ground."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy import ndimage
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry

from geo_site.layout.parameters import LayoutParameters
from geo_site.layout.place import Place

__all__ = ["PASSED_M", "Alignment", "draw", "length_within", "measure"]

Floats = NDArray[np.float64]

PASSED_M = 0.5  # a stream this near to a point passes it
_FINE = 5  # points per station while the line is smoothed
_SMOOTHINGS = (1.0, 0.5, 0.25, 0.0)  # of the smoothing length, until the line stays free
_RESAMPLINGS = 4


@dataclass(frozen=True, kw_only=True)
class Alignment:
    """A stream's line in plan.

    Attributes
    ----------
    xy : ndarray, shape (n, 2)
        Vertices, downstream.
    stations_m : ndarray, shape (n,)
        Distance from the lip along the line.
    ground_m : ndarray, shape (n,)
        Ground level; NaN where there is none.
    in_pit : ndarray of bool, shape (n,)
        Over the basin's excavation.
    pool_end : int
        Last vertex outside the basin's footprint.
    room_m : ndarray, shape (n,)
        Distance to the next ground that is not free, least along the steps beside each vertex.
    hand_dig_m : float
        Length where some part of the bed, dug level with the ground, lies in hand-dig ground.
    """

    xy: Floats
    stations_m: Floats
    ground_m: Floats
    in_pit: NDArray[np.bool_]
    pool_end: int
    room_m: Floats
    hand_dig_m: float

    @property
    def length_m(self) -> float:
        """Of the whole line, m."""
        return float(self.stations_m[-1])

    @property
    def line(self) -> LineString:
        """The line in plan."""
        return LineString(self.xy)


def draw(
    path: Floats,
    place: Place,
    parameters: LayoutParameters,
    passes: Sequence[Point] = (),
) -> Alignment | None:
    """Draw the alignment of a way.

    Parameters
    ----------
    path : ndarray, shape (n, 2)
        Cell centres, lip first, the last outside the footprint.
    place : Place
        The surroundings.
    parameters : LayoutParameters
        Smoothing, lengths.
    passes : sequence of shapely.Point
        Each is passed within :data:`PASSED_M`.

    Returns
    -------
    Alignment or None
        As smooth as the free ground allows; None where no smoothing keeps it free, outside the
        footprint up to its end, and within the lengths allowed.
    """
    rough = np.vstack([path, _entry(path[-1], place, parameters)])
    for share in _SMOOTHINGS:
        xy = _resampled(
            _smoothed(rough, share * parameters.smoothing_length, parameters), parameters
        )
        stations_m = _stations(xy)
        lengths_kept = parameters.least_length <= stations_m[-1] <= parameters.greatest_length
        line = LineString(xy)
        if not all(line.distance(point) <= PASSED_M for point in passes):
            continue
        if lengths_kept and shapely.covers(place.way, line) and _enters_once(line, place):
            return _measured(xy, stations_m, place)
    return None


def _entry(last: Floats, place: Place, parameters: LayoutParameters) -> Floats:
    """The stream's end: past the footprint's edge, straight in from the last cell."""
    shrunk = shapely.buffer(place.footprint, -parameters.entry_length, join_style="mitre")
    inside = place.footprint.centroid if shrunk.is_empty else shrunk
    nearest = shapely.shortest_line(inside, Point(last))
    return np.asarray(shapely.get_coordinates(nearest)[0])


def _smoothed(xy: Floats, length_m: float, parameters: LayoutParameters) -> Floats:
    """A weighted moving mean (normal weights) with both ends held."""
    fine_m = parameters.station_step / _FINE
    even = _at_even_steps(xy, max(round(_stations(xy)[-1] / fine_m), 2))
    if length_m <= 0.0:
        return xy
    reach = min(int(4.0 * length_m / fine_m) + 1, len(even) - 1)
    longer = np.pad(even, ((reach, reach), (0, 0)), mode="reflect", reflect_type="odd")
    smooth = ndimage.gaussian_filter1d(longer, length_m / fine_m, axis=0, mode="nearest")
    smooth = smooth[reach:-reach]
    smooth[0], smooth[-1] = xy[0], xy[-1]
    return np.asarray(smooth)


def _resampled(xy: Floats, parameters: LayoutParameters) -> Floats:
    """Even vertices, as many as leave no chord shorter than the station step, if bends allow."""
    steps = max(int(_stations(xy)[-1] / parameters.station_step), 2)
    even = _at_even_steps(xy, steps)
    for fewer in range(1, _RESAMPLINGS):
        if np.min(np.diff(_stations(even))) >= parameters.station_step or steps <= fewer + 1:
            break
        even = _at_even_steps(xy, steps - fewer)
    return even


def _at_even_steps(xy: Floats, steps: int) -> Floats:
    along_m = _stations(xy)
    wanted_m = np.linspace(0.0, along_m[-1], steps + 1)
    return np.column_stack([np.interp(wanted_m, along_m, xy[:, axis]) for axis in (0, 1)])


def _stations(xy: Floats) -> Floats:
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(xy, axis=0).T))])


def _enters_once(line: LineString, place: Place) -> bool:
    outside = shapely.difference(line, place.footprint)
    lip, end = Point(line.coords[0]), Point(line.coords[-1])
    starts_apart = not shapely.intersects(place.footprint, lip)
    ends_inside = bool(shapely.covers(place.footprint, end))
    return isinstance(outside, LineString) and starts_apart and ends_inside and line.is_simple


def measure(xy: Floats, place: Place) -> Alignment:
    """Measure a line that was drawn, wherever it lies.

    Parameters
    ----------
    xy : ndarray, shape (n, 2)
        Vertices, downstream, no two alike in a row.
    place : Place
        The surroundings.

    Returns
    -------
    Alignment
        Off the free ground nothing limits its room: what it breaks there is told by the rules
        of that ground.
    """
    measured = _measured(xy, _stations(xy), place)
    inside = shapely.covers(place.free, shapely.points(xy))
    return replace(measured, room_m=np.where(inside, measured.room_m, np.inf))


def _measured(xy: Floats, stations_m: Floats, place: Place) -> Alignment:
    points = shapely.points(xy)
    line = LineString(xy)
    pieces = shapely.linestrings(np.stack([xy[:-1], xy[1:]], axis=1))
    to_edge_m = np.pad(shapely.distance(shapely.boundary(place.free), pieces), 1, mode="edge")
    outside_m = shapely.difference(line, place.footprint).length
    last = int(np.searchsorted(stations_m, outside_m, side="right")) - 1
    return Alignment(
        xy=xy,
        stations_m=stations_m,
        ground_m=place.ground.sample(xy),
        in_pit=np.asarray(shapely.covers(place.pit, points)),
        pool_end=min(last, len(xy) - 2),
        room_m=np.minimum(to_edge_m[:-1], to_edge_m[1:]),
        hand_dig_m=length_within(
            line, shapely.buffer(line, place.dug_half_m, cap_style="flat"), place.hand_dig
        ),
    )


def length_within(line: LineString, body: BaseGeometry, area: BaseGeometry) -> float:
    """Length of a line along which its body, an area on both sides of it, lies in some area."""
    parts = [part for part in shapely.get_parts(shapely.intersection(body, area)) if part.area > 0]
    spans = []
    for part in parts:
        along_m = shapely.line_locate_point(line, shapely.points(shapely.get_coordinates(part)))
        spans.append(shapely.box(float(np.min(along_m)), 0.0, float(np.max(along_m)), 1.0))
    return float(shapely.union_all(spans).area)
