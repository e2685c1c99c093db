"""Ranges in closed form: drops, volumes of fixed areas, soil left over.

In: a spot, the terrain and its error. Out: a :class:`~geo_site.certainty.records.Range` for
each figure. Method: to first order each figure is a weighted sum of errors, so its error is normal
with the variance of that sum: a drop has weights 1 and -1; a pit takes every cell of its area with
plus its share and its rim with minus the whole area, for the floor goes down with the rim. Edges
that move are of second order and left out. Reference: ``geo_site.error_fields``;
the variance of a linear function of normal errors.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from geo_site.certainty.records import Range
from geo_site.certainty.settings import CertaintyParameters
from geo_site.certainty.spots import Spot, cell_shares, lowest
from geo_site.error_fields import ErrorModel, covariance_of_sums
from geo_site.probability import interval_95
from geo_site.raster import Raster

__all__ = [
    "Sum",
    "covariance_of",
    "drop_sum",
    "error_model",
    "fall_sum",
    "pit_sum",
    "range_of",
    "sigma_of",
    "unknown_range",
]

Floats = NDArray[np.float64]
Sum = tuple[Floats, Floats]
"""Points, m, and the weight of each point's error."""


def error_model(rmse_z_m: float, parameters: CertaintyParameters) -> ErrorModel:
    """Make the terrain's error model.

    Parameters
    ----------
    rmse_z_m : float
        As stated, m; NaN takes the assumed one of the settings.
    parameters : CertaintyParameters
        Range, shape and shares.

    Returns
    -------
    ErrorModel
        Of the terrain's vertical error.

    Raises
    ------
    ValueError
        Shares of more than 1 together.
    """
    return ErrorModel(
        rmse_m=parameters.assumed_rmse_z if math.isnan(rmse_z_m) else rmse_z_m,
        range_m=parameters.correlation_range,
        shape=parameters.covariance,
        nugget_share=parameters.nugget_share,
        bias_share=parameters.bias_share,
    )


def drop_sum(upper: Floats, lower: Floats) -> Sum:
    """Weights of a drop: plus the error of the upper point, minus that of the lower."""
    return np.vstack([upper, lower]), np.array([1.0, -1.0])


def pit_sum(area: BaseGeometry, rim: Floats, ground: Raster) -> Sum:
    """Weights of a volume dug down from a rim: each cell's share, and the area at the rim.

    Parameters
    ----------
    area : Polygon or MultiPolygon
        Ground that is dug.
    rim : ndarray, shape (1, 2)
        Point from which all levels are taken.
    ground : Raster
        The terrain.

    Returns
    -------
    tuple of ndarray
        Points and weights, m2.
    """
    centres, shares_m2 = cell_shares(area, ground)
    return np.vstack([centres, rim]), np.append(shares_m2, -shares_m2.sum())


def covariance_of(one: Sum, two: Sum, model: ErrorModel, detail: Raster | None = None) -> float:
    """Covariance of two weighted sums of errors and of what cells hide.

    Parameters
    ----------
    one, two : tuple of ndarray
        Points, m, and their weights.
    model : ErrorModel
        The error of any point.
    detail : Raster or None
        Standard deviation of what cells hide, m; each point's is its own.

    Returns
    -------
    float
        m2, times the units of the two weights.
    """
    shared = covariance_of_sums(one, two, model)
    if detail is None:
        return shared
    (p, u), (q, v) = one, two
    same = (p[:, None] == q[None]).all(axis=2)
    hidden = np.nan_to_num(detail.sample(p)) ** 2
    return shared + float((u * hidden) @ same @ v)


def sigma_of(weights: Sum, model: ErrorModel, detail: Raster | None = None) -> float:
    """Standard deviation of a weighted sum of errors; NaN where a point is not known."""
    if np.isnan(weights[0]).any():
        return math.nan
    return math.sqrt(max(covariance_of(weights, weights, model, detail), 0.0))


def range_of(value: float, sigma: float, unit: str, *, least: float = -math.inf) -> Range:
    """Give the 95 % range of a number with a normal error.

    Parameters
    ----------
    value : float
        The number; NaN for an unknown one.
    sigma : float
        Its standard deviation, same unit; NaN for an unknown one.
    unit : str
        The unit.
    least : float
        What the number cannot be below.

    Returns
    -------
    Range
        In closed form, or unknown.
    """
    if math.isnan(value) or math.isnan(sigma):
        return unknown_range(value, unit)
    likely = interval_95(value, sigma)
    low, high = max(likely.low, least), max(likely.high, least)
    return Range(value=value, low=low, high=high, unit=unit, how="closed form")


def unknown_range(value: float, unit: str) -> Range:
    """Give a number whose range is not known."""
    return Range(value=value, low=math.nan, high=math.nan, unit=unit, how="unknown")


def fall_sum(spot: Spot, ground: Raster) -> Sum:
    """Weights of the fall from lip to rim."""
    return drop_sum(spot.lip, lowest(spot.outline, ground))
