"""How sure distances to lines are: each row in closed form, and lines drawn off their place.

In: clearances, and what lines ask of each place. Out: a range for each row; needs with their
covariances. Method: the position uncertainty is read as the half-width that holds the line 95
times in 100, as in the chances of a strike. To first order the distance of a work changes by the
line's shift towards it, so its error is normal with that sigma; the shift of a line is alike at
near places along it and of opposite sign on its two sides. Reference: ``geo_site.probability``.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry

from geo_site.certainty.closed import range_of, unknown_range
from geo_site.certainty.records import ClearanceRange
from geo_site.clearance import Clearance
from geo_site.error_fields import ErrorModel, correlation
from geo_site.probability import chance_of_at_least, sigma_of_half_width

__all__ = ["LineNeed", "clearance_ranges", "draw_shifts", "line_covariance", "where_along"]

Floats = NDArray[np.float64]

_TANGENT_M = 0.05
_TOUCH_M = 1e-6


def clearance_ranges(rows: Iterable[Clearance]) -> tuple[ClearanceRange, ...]:
    """Give the range of each distance whose object may lie off its drawing.

    Parameters
    ----------
    rows : iterable of Clearance
        All rows.

    Returns
    -------
    tuple of ClearanceRange
        Rows with a position uncertainty; unknown where work and object touch, for how deep one
        lies in the other is not told.
    """
    return tuple(_range(row) for row in rows if row.uncertainty_m > 0.0)


def _range(row: Clearance) -> ClearanceRange:
    sigma_m = sigma_of_half_width(row.uncertainty_m)
    touches = row.clearance_m <= _TOUCH_M
    found = (
        unknown_range(row.clearance_m, "m")
        if touches
        else range_of(row.clearance_m, sigma_m, "m", least=0.0)
    )
    chance = math.nan if touches else chance_of_at_least(row.rule_m, row.clearance_m, sigma_m)
    return ClearanceRange(
        number=row.number, work=row.work, against=row.against, range=found, chance_of_rule=chance
    )


@dataclass(frozen=True, kw_only=True)
class LineNeed:
    """What one line asks of one place.

    Attributes
    ----------
    place : int
        Which place, from 0.
    line_id : str
        The line.
    distance_m, required_m : float
        From the pit to the line's outer edge as drawn, and what is asked of it.
    spare_m : float
        The least, over pit and stream, of the distance less the rule's without position.
    sigma_m : float
        Standard deviation of the line's sideways place.
    along_m : float
        Where along the line the place is nearest.
    side : float
        1 on the left of the line, -1 on the right.
    """

    place: int
    line_id: str
    distance_m: float
    required_m: float
    spare_m: float
    sigma_m: float
    along_m: float
    side: float


def where_along(line: BaseGeometry, work: BaseGeometry) -> tuple[float, float]:
    """Where along a line a work is nearest, and on which side.

    Parameters
    ----------
    line : LineString or MultiLineString
        As drawn.
    work : geometry
        The work.

    Returns
    -------
    tuple of float
        Distance along the line, m, and 1 on its left, -1 on its right. A work that the line
        meets lies on the side of its middle.
    """
    flat, target = shapely.force_2d(line), shapely.force_2d(work)
    nearest = shapely.get_coordinates(shapely.shortest_line(flat, target))
    along_m = float(flat.project(Point(nearest[0])))
    ends = [flat.interpolate(max(along_m + step, 0.0)) for step in (-_TANGENT_M, _TANGENT_M)]
    east, north = ends[1].x - ends[0].x, ends[1].y - ends[0].y
    towards = nearest[1] - nearest[0]
    if math.hypot(*towards) < _TOUCH_M:
        towards = shapely.get_coordinates(target.centroid)[0] - nearest[0]
    return along_m, 1.0 if east * towards[1] - north * towards[0] >= 0.0 else -1.0


def line_covariance(needs: Sequence[LineNeed], range_m: float) -> Floats:
    """Covariance of the distances of needs, m2; lines know nothing of each other.

    Parameters
    ----------
    needs : sequence of LineNeed
        Of several places and lines.
    range_m : float
        Along a line, where the likeness of its shift has fallen to 5 %.

    Returns
    -------
    ndarray, shape (n, n)
        Covariances.
    """
    if not needs:
        return np.empty((0, 0))
    along = np.array([need.along_m for need in needs])
    alike = correlation(
        np.abs(along[:, None] - along[None, :]), ErrorModel(rmse_m=1.0, range_m=range_m)
    )
    names = np.array([need.line_id for need in needs])
    size = np.array([need.side * need.sigma_m for need in needs])
    return np.where(names[:, None] == names[None, :], alike, 0.0) * np.outer(size, size)


def draw_shifts(
    needs: Sequence[LineNeed], range_m: float, runs: int, generator: np.random.Generator
) -> Floats:
    """Draw how much farther each line is from each place than drawn.

    Parameters
    ----------
    needs : sequence of LineNeed
        Of several places and lines.
    range_m : float
        Along a line, where the likeness of its shift has fallen to 5 %.
    runs : int
        How often.
    generator : numpy.random.Generator
        Seeded by the caller.

    Returns
    -------
    ndarray, shape (runs, n)
        Changes of distance, m.
    """
    covariance_m2 = line_covariance(needs, range_m)
    values, vectors = np.linalg.eigh(covariance_m2) if needs else (np.empty(0), covariance_m2)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    return np.asarray(generator.standard_normal((runs, len(needs))) @ root.T)
