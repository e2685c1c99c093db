"""How sure a level, a drop or a position is, from the error of what was measured.

Question
    With lidar of this accuracy, what is the fall between two spots, and may it be asserted?
In
    Root-mean-square errors in metres, correlation of the errors of two points, a drop in metres.
Out
    Standard deviations, 95 % intervals and chances.
Method
    Errors are taken as normal, without bias, of equal size at both points. Grass and brush add
    a bias that this does not know of.
Reference
    FGDC-STD-007.3-1998 (NSSDA; from memory); USGS Lidar Base Specification (QL2: 0.10 m).
"""

import math
from dataclasses import dataclass
from statistics import NormalDist

NORMAL_95 = NormalDist().inv_cdf(0.975)
"""Half-width of the interval that holds 95 % of a normal error, in standard deviations."""
HORIZONTAL_95 = 1.7308
"""95 % radius over radial RMSE, x and y errors being equal (NSSDA; from memory)."""
QL2_RMSE_Z_M = 0.10
"""Largest vertical RMSE of lidar of quality level 2, m (USGS Lidar Base Specification)."""


@dataclass(frozen=True, slots=True)
class Interval:
    """A value and the interval that holds it with a chance of 95 %.

    Attributes
    ----------
    value
        Best estimate.
    low, high
        Ends of the interval, in the unit of the value.
    """

    value: float
    low: float
    high: float


def error_correlation(distance_m: float, length_m: float) -> float:
    """Correlation of the errors of two points, `exp(-distance / length)`.

    Parameters
    ----------
    distance_m
        Distance between the points, m.
    length_m
        Distance at which the correlation has fallen to 1/e, m; 0 makes all points independent.
        No standard gives it: without a local study use 0, which makes a drop least sure.

    Returns
    -------
    float
        Correlation, 0 to 1.

    Raises
    ------
    ValueError
        If a distance is negative or NaN.

    Examples
    --------
    >>> error_correlation(10.0, 0.0), round(error_correlation(10.0, 10.0), 4)
    (0.0, 0.3679)
    """
    if not (distance_m >= 0.0 and length_m >= 0.0):
        raise ValueError("distances must be at least 0")
    if length_m == 0.0:
        return 1.0 if distance_m == 0.0 else 0.0
    return math.exp(-distance_m / length_m)


def drop_sigma(rmse_z_m: float, correlation: float = 0.0) -> float:
    """Standard deviation of the drop between two points, `rmse sqrt(2 (1 - correlation))`.

    Parameters
    ----------
    rmse_z_m
        Vertical RMSE of one point, m.
    correlation
        Correlation of the two errors, -1 to 1; 0 for independent points.

    Returns
    -------
    float
        Standard deviation, m.

    Raises
    ------
    ValueError
        If the RMSE is negative or the correlation not from -1 to 1.

    Examples
    --------
    >>> round(drop_sigma(0.10), 5), round(drop_sigma(0.10, 0.8), 5)
    (0.14142, 0.06325)
    """
    if not rmse_z_m >= 0.0:
        raise ValueError(f"an RMSE is at least 0, not {rmse_z_m!r}")
    if not -1.0 <= correlation <= 1.0:
        raise ValueError(f"a correlation lies between -1 and 1, not {correlation!r}")
    return rmse_z_m * math.sqrt(2.0 * (1.0 - correlation))


def interval_95(value: float, sigma: float) -> Interval:
    """95 % interval of a value with a normal error.

    Parameters
    ----------
    value
        Best estimate.
    sigma
        Its standard deviation, same unit.

    Returns
    -------
    Interval
        The value and both ends.

    Examples
    --------
    >>> fall = interval_95(1.1, 0.14142)
    >>> round(fall.low, 2), round(fall.high, 2)
    (0.82, 1.38)
    """
    return Interval(value, value - NORMAL_95 * sigma, value + NORMAL_95 * sigma)


def chance_of_at_least(wanted: float, value: float, sigma: float) -> float:
    """Chance that the true value is at least the one wanted.

    Parameters
    ----------
    wanted
        The least value wanted.
    value
        Best estimate.
    sigma
        Its standard deviation; 0 when the value is certain.

    Returns
    -------
    float
        Chance, 0 to 1; NaN if any input is NaN.

    Examples
    --------
    >>> chance_of_at_least(1.0, 1.0, 0.14)
    0.5
    """
    if sigma == 0.0:
        difference = value - wanted
        return difference if math.isnan(difference) else float(difference >= 0.0)
    return 0.5 * math.erfc((wanted - value) / (sigma * math.sqrt(2.0)))


def vertical_accuracy_95(rmse_z_m: float) -> float:
    """Vertical accuracy at 95 %, `1.96 RMSEz`: the NVA of a lidar report.

    Parameters
    ----------
    rmse_z_m
        Vertical RMSE, m.

    Returns
    -------
    float
        Half-width of the 95 % interval, m. ASPRS (2023) reports give the RMSE itself instead.

    References
    ----------
    FGDC-STD-007.3-1998; USGS Lidar Base Specification, quality level 2.

    Examples
    --------
    >>> round(vertical_accuracy_95(0.10), 3)
    0.196
    """
    return NORMAL_95 * rmse_z_m


def horizontal_accuracy_95(rmse_r_m: float) -> float:
    """Horizontal accuracy at 95 %, `1.7308 RMSEr`.

    Parameters
    ----------
    rmse_r_m
        Radial RMSE, m: `sqrt(RMSEx^2 + RMSEy^2)`, the two being equal.

    Returns
    -------
    float
        Radius of the circle that holds 95 % of the errors, m.

    References
    ----------
    FGDC-STD-007.3-1998 (from memory).

    Examples
    --------
    >>> round(horizontal_accuracy_95(0.50), 4)
    0.8654
    """
    return HORIZONTAL_95 * rmse_r_m


def sigma_of_half_width(half_width_m: float) -> float:
    """Standard deviation of a position that lies within a half-width 95 times in 100.

    `sigma = half_width / 1.96`. Standards give an accuracy and not its chance: 95 % is our reading.

    Parameters
    ----------
    half_width_m
        Position uncertainty, m.

    Returns
    -------
    float
        Standard deviation, m.

    Raises
    ------
    ValueError
        If it is negative or NaN.

    Examples
    --------
    >>> round(sigma_of_half_width(0.5), 4)
    0.2551
    """
    if not half_width_m >= 0.0:
        raise ValueError(f"a half-width is at least 0, not {half_width_m!r}")
    return half_width_m / NORMAL_95


def strike_chance(near_m: float, far_m: float, sigma_m: float) -> float:
    """Chance that a straight line, off sideways by a normal error, meets a digging.

    `P = F(far / sigma) - F(near / sigma)`, F the normal distribution: the digging reaches from
    ``near`` to ``far`` across the line, and the line runs on beyond it on both ends.

    Parameters
    ----------
    near_m, far_m
        Signed distances from the line as drawn to the near and the far side of the digging,
        half the line's diameter taken off the near and added to the far one, m; near is negative
        where the line as drawn already meets it.
    sigma_m
        Standard deviation of the sideways error, m; 0: the line is where it is drawn.

    Returns
    -------
    float
        Chance, 0 to 1.

    Raises
    ------
    ValueError
        If far is less than near, or sigma is negative or NaN.

    Examples
    --------
    A trench edge at one standard deviation, the trench wide:

    >>> round(strike_chance(0.25, 100.0, 0.25), 4)
    0.1587
    """
    if not far_m >= near_m:
        raise ValueError("the far side is not nearer than the near side")
    if not sigma_m >= 0.0:
        raise ValueError(f"a standard deviation is at least 0, not {sigma_m!r}")
    if sigma_m == 0.0:
        return float(near_m <= 0.0 <= far_m)
    root = sigma_m * math.sqrt(2.0)
    return 0.5 * (math.erfc(near_m / root) - math.erfc(far_m / root))
