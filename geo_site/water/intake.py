"""The return gravel: whether the basin takes the stream back, with leaves on it.

Question
    Is the gravel at the stream's end large enough for the whole flow, and for how long when the
    leaves fall?
In
    The stream's line and bed, the pit's floor, the trees, the flow.
Out
    :class:`LeafFall`, :class:`Intake`.
Method
    Area needed: the flow over the velocity at which water sinks through the gravel under a fouled
    layer (:mod:`geo_site.porous`). Area there: the pit's plan area within reach of the point where
    the liner's apron ends, on the far side of it. Leaves come down evenly over each crown widened
    by their reach (downwind only, where the wind is given); what falls on stream and gravel ends
    on the gravel. A square metre is shut by some mass of leaves; the pump starves when less than
    the area needed is open.
Reference
    Ergun (1952). Bray and Gorham (1964) for leaves shed (from memory). What shuts a square metre,
    and how the fall is spread in time, are assumptions; the answer is a range.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from shapely import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from geo_site.porous import StoneLayer, sinking_velocity
from geo_site.water.records import WaterParameters

__all__ = ["Intake", "LeafFall", "fallen_leaves", "judge_intake", "return_area", "return_needed"]

_ROUND = 64  # parts of a quarter of a circle
_FAR = 1000.0  # half a plane, for a pit of some metres
_LEAST_BED_M = 0.01  # some stone always lies under the fouled layer


@dataclass(frozen=True, kw_only=True)
class LeafFall:
    """Dry leaves that come onto the stream and the return gravel in one leaf fall.

    Attributes
    ----------
    trees, unknown_kind, assumed_crowns : int
        Trees within reach that shed or may; of those with no word on whether they do; with no
        crown given.
    over_m2 : float
        Crowns right over stream and gravel.
    low_kg, high_kg : float
        Leaves of the whole season, at least and at most.
    """

    trees: int
    unknown_kind: int
    assumed_crowns: int
    over_m2: float
    low_kg: float
    high_kg: float


@dataclass(frozen=True, kw_only=True)
class Intake:
    """The return gravel held against the flow and the leaves.

    Attributes
    ----------
    area_m2, area_needed_m2 : float
        There, and needed for the flow through fouled gravel without leaves on it.
    sinking_ms : float
        Velocity over the plan area at which the fouled gravel takes water.
    leaves : LeafFall
        What comes down.
    low_days, high_days : float
        Days of leaf fall until the gravel takes less than the flow: on the worst days with the
        lowest figures, and on mean days with the highest; infinite where nothing falls.
    dry_after_s : float
        From then, until the pump draws air; infinite where it never does.
    warnings : tuple of str
        What is wrong or assumed, a sentence each.
    """

    area_m2: float
    area_needed_m2: float
    sinking_ms: float
    leaves: LeafFall
    low_days: float
    high_days: float
    dry_after_s: float
    warnings: tuple[str, ...]


def return_needed(flow_m3s: float, cover_m: float, parameters: WaterParameters) -> float:
    """Area of fouled gravel that takes a flow, m2.

    Parameters
    ----------
    flow_m3s : float
        Flow, m3/s.
    cover_m : float
        Gravel over the units, m; without any the fouled layer alone is crossed.
    parameters : WaterParameters
        Stones, fouled layer, head.

    Returns
    -------
    float
        Plan area, m2.
    """
    return flow_m3s / _sinking(cover_m, parameters)


def return_area(
    alignment: LineString, pit_floor: Polygon, parameters: WaterParameters
) -> BaseGeometry:
    """Gravel that the stream's end reaches.

    Parameters
    ----------
    alignment : shapely.LineString
        The stream, downstream; its end is inside the pit.
    pit_floor : shapely.Polygon
        Units and the gravel beside them.
    parameters : WaterParameters
        Where the apron ends, how far the water spreads.

    Returns
    -------
    shapely geometry
        Empty where the apron reaches past the gravel, or the stream never enters it.
    """
    settings = parameters.intake
    line = shapely.force_2d(alignment)
    inside = line.intersection(pit_floor)
    if inside.length == 0.0:
        return Polygon()
    last = np.asarray(line.coords[-1])
    entry = _entry(line, pit_floor)
    onward = last - entry
    if not np.hypot(*onward) > 0.0:
        return Polygon()
    onward /= np.hypot(*onward)
    mouth = entry + onward * (settings.apron_end or 0.0)
    beyond = _half_plane(mouth, onward)
    reach = Point(mouth).buffer(settings.spread, quad_segs=_ROUND)
    return pit_floor.intersection(beyond).intersection(reach)


def _entry(line: LineString, pit_floor: Polygon) -> np.ndarray:
    """Point where the stream's last piece inside the pit begins."""
    crossings = line.intersection(pit_floor.exterior)
    points: np.ndarray = shapely.get_coordinates(crossings)
    if not len(points):
        return np.asarray(line.coords[0])
    along_m = [line.project(Point(point)) for point in points]
    return np.asarray(points[int(np.argmax(along_m))])


def _half_plane(point: np.ndarray, onward: np.ndarray) -> Polygon:
    side = np.array([-onward[1], onward[0]])
    corners = [point - _FAR * side, point + _FAR * side]
    corners += [corners[1] + _FAR * onward, corners[0] + _FAR * onward]
    return Polygon(corners)


def fallen_leaves(
    trees: gpd.GeoDataFrame, caught: BaseGeometry, parameters: WaterParameters
) -> LeafFall:
    """Add up the leaves that come onto stream and return gravel.

    Parameters
    ----------
    trees : geopandas.GeoDataFrame
        Points with ``crown_radius_m`` (NaN: not given) and ``deciduous`` (None: not known).
    caught : shapely geometry
        Stream bed, pools and return gravel.
    parameters : WaterParameters
        Reach, leaves shed.

    Returns
    -------
    LeafFall
        Trees of unknown kind count as shedding.
    """
    settings = parameters.intake
    sheds = trees.loc[np.array([kind is not False for kind in _kinds(trees)], dtype=np.bool_)]
    given_m = sheds["crown_radius_m"].to_numpy(dtype=np.float64)
    radius_m = np.where(np.isnan(given_m), settings.assumed_crown_radius, given_m)
    points = sheds.geometry.to_numpy()
    crowns = shapely.buffer(points, radius_m, quad_segs=_ROUND)
    under = _landing(points, radius_m, parameters)
    there = shapely.intersects(under, caught) & (radius_m > 0.0)
    share = np.array(
        [
            shapely.area(shapely.intersection(one, caught)) / shapely.area(one)
            for one in under[there]
        ]
    )
    shed_m2 = float(np.sum(shapely.area(crowns[there]) * share)) if share.size else 0.0
    over = shapely.intersection(shapely.union_all(crowns), caught)
    kinds = [kind for kind, near in zip(_kinds(sheds), there, strict=True) if near]
    return LeafFall(
        trees=int(there.sum()),
        unknown_kind=sum(kind is None for kind in kinds),
        assumed_crowns=int(np.isnan(given_m[there]).sum()),
        over_m2=float(over.area),
        low_kg=settings.litter_low * shed_m2,
        high_kg=settings.litter_high * shed_m2,
    )


def _landing(
    points: NDArray[np.object_], radius_m: NDArray[np.float64], parameters: WaterParameters
) -> NDArray[np.object_]:
    """Ground on which the leaves of each crown come down: all round it, or downwind of it."""
    settings = parameters.intake
    if settings.wind_from is None:
        return shapely.buffer(points, radius_m + settings.leaf_reach, quad_segs=_ROUND)
    bearing = math.radians(settings.wind_from)
    drift = -settings.leaf_reach * np.array([math.sin(bearing), math.cos(bearing)])
    far = shapely.points(shapely.get_coordinates(points) + drift)
    ways = shapely.linestrings(np.stack([shapely.get_coordinates(g) for g in (points, far)], 1))
    return shapely.buffer(ways, radius_m, quad_segs=_ROUND)


def _kinds(trees: gpd.GeoDataFrame) -> list[bool | None]:
    """Whether each tree sheds; a missing value of any kind is None."""
    return [None if pd.isna(kind) else bool(kind) for kind in trees["deciduous"].tolist()]


def judge_intake(
    area_m2: float,
    leaves: LeafFall,
    flow_m3s: float,
    spare_m3: float,
    cover_m: float,
    parameters: WaterParameters,
) -> Intake:
    """Hold the return gravel against the flow and the leaves.

    Parameters
    ----------
    area_m2 : float
        Gravel that the stream's end reaches, m2.
    leaves : LeafFall
        What comes down in a season.
    flow_m3s : float
        Flow, m3/s.
    spare_m3 : float
        What the pump can still draw while it runs: usable less what moves, m3.
    cover_m : float
        Gravel over the units, m.
    parameters : WaterParameters
        Stones, fouling, leaves.

    Returns
    -------
    Intake
        The days are a range, and an assumption.
    """
    settings = parameters.intake
    sinking_ms = _sinking(cover_m, parameters)
    needed_m2 = flow_m3s / sinking_ms
    free_m2 = max(area_m2 - needed_m2, 0.0)
    worst_kg = leaves.high_kg / settings.leaf_days * settings.leaf_peak
    mean_kg = leaves.low_kg / settings.leaf_days
    low_days = _until(free_m2 * settings.clogging_low, worst_kg)
    high_days = _until(free_m2 * settings.clogging_high, mean_kg)
    dry_s = max(spare_m3, 0.0) / flow_m3s
    return Intake(
        area_m2=area_m2,
        area_needed_m2=needed_m2,
        sinking_ms=sinking_ms,
        leaves=leaves,
        low_days=low_days,
        high_days=high_days,
        dry_after_s=dry_s,
        warnings=(
            *_area_warnings(area_m2, needed_m2, parameters),
            *_leaf_warnings(leaves, low_days, high_days, dry_s, parameters),
        ),
    )


def _sinking(cover_m: float, parameters: WaterParameters) -> float:
    settings = parameters.intake
    fouled = StoneLayer(
        thickness_m=settings.fouled_depth,
        stone_size_m=settings.fouled_size,
        porosity=settings.fouled_porosity,
    )
    clean = StoneLayer(
        thickness_m=max(cover_m - settings.fouled_depth, _LEAST_BED_M),
        stone_size_m=settings.stone_size,
        porosity=settings.stone_porosity,
    )
    return sinking_velocity([fouled, clean], settings.head)


def _until(mass_kg: float, daily_kg: float) -> float:
    return mass_kg / daily_kg if daily_kg > 0.0 else math.inf


def _area_warnings(area_m2: float, needed_m2: float, parameters: WaterParameters) -> list[str]:
    told = []
    if area_m2 < needed_m2:
        told.append(
            f"The return gravel is too small: the stream's end reaches {area_m2:.2f} m2 and the "
            f"flow needs {needed_m2:.2f} m2 of fouled gravel. The stream overflows the basin while "
            "the pump runs dry."
        )
    if parameters.intake.apron_end is None:
        told.append(
            "Where the stream's liner ends over the gravel is not given: it is taken to end at "
            "the edge; an apron that reaches further shortens the return gravel."
        )
    return told


def _leaf_warnings(
    leaves: LeafFall, low_days: float, high_days: float, dry_s: float, parameters: WaterParameters
) -> list[str]:
    told = []
    season_days = parameters.intake.leaf_days
    if low_days < season_days:
        told.append(
            f"Leaves may shut the return gravel {_days(low_days)} to {_days(high_days)} days into "
            f"the leaf fall if nobody clears it (an assumption). The stream overflows the basin "
            f"while the pump runs dry, about {dry_s / 60.0:.0f} minutes later."
        )
    if leaves.unknown_kind:
        told.append(
            f"Of {leaves.trees} trees within reach of the stream, {leaves.unknown_kind} are not "
            "said to shed or not: they count as shedding."
        )
    if leaves.assumed_crowns:
        told.append(
            f"The crowns of {leaves.assumed_crowns} trees near the stream are not given: a radius "
            f"of {parameters.intake.assumed_crown_radius:.1f} m is assumed."
        )
    if not leaves.trees:
        told.append(
            "No tree that sheds stands within reach in the inputs: leaves of trees that are not "
            "drawn are not counted."
        )
    return told


def _days(days: float) -> str:
    return f"{days:.0f}" if days < 1000.0 else "1000 or more"
