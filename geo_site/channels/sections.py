"""Sections of channels: Manning's formula, normal and critical depth, gutters.

References
----------
Chow, V. T. (1959), Open-Channel Hydraulics. FHWA HEC-22, chapter 5, for gutters.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

GRAVITY_MS2 = 9.80665
"""Standard acceleration of gravity, m/s2."""

_GUTTER = 0.376
_DEEPEST_M = 1e4
_HALVINGS = 200


@dataclass(frozen=True, slots=True)
class Trapezoid:
    """Cross-section of a channel with a level bottom and straight sides.

    Attributes
    ----------
    bottom_m
        Width of the bottom, m; 0 makes a triangle.
    side_run
        Run over rise of both sides; 0 makes a rectangle.
    """

    bottom_m: float
    side_run: float

    def __post_init__(self) -> None:
        """Refuse a section that holds no water."""
        if not (
            self.bottom_m >= 0.0 and self.side_run >= 0.0 and self.bottom_m + self.side_run > 0
        ):
            raise ValueError("a channel needs a bottom or sides that open upwards")

    def area(self, depth_m: float) -> float:
        """Area of the water, `A = (b + z y) y`.

        Parameters
        ----------
        depth_m
            Depth, m.

        Returns
        -------
        float
            Area, m2.

        Examples
        --------
        >>> round(Trapezoid(0.60, 1.0).area(0.08), 4)
        0.0544
        """
        return (self.bottom_m + self.side_run * depth_m) * depth_m

    def wetted_perimeter(self, depth_m: float) -> float:
        """Length of the wetted bed and sides, `P = b + 2 y sqrt(1 + z^2)`.

        Parameters
        ----------
        depth_m
            Depth, m.

        Returns
        -------
        float
            Length, m.

        Examples
        --------
        >>> round(Trapezoid(0.60, 1.0).wetted_perimeter(0.08), 5)
        0.82627
        """
        return self.bottom_m + 2.0 * depth_m * math.hypot(1.0, self.side_run)

    def top_width(self, depth_m: float) -> float:
        """Width of the water surface, `T = b + 2 z y`.

        Parameters
        ----------
        depth_m
            Depth, m.

        Returns
        -------
        float
            Width, m.

        Examples
        --------
        >>> round(Trapezoid(0.60, 1.0).top_width(0.08), 4)
        0.76
        """
        return self.bottom_m + 2.0 * self.side_run * depth_m


def manning_velocity(section: Trapezoid, depth_m: float, slope: float, roughness: float) -> float:
    """Mean velocity of uniform flow, `V = R^(2/3) S^(1/2) / n`.

    Parameters
    ----------
    section
        The channel.
    depth_m
        Depth, m.
    slope
        Fall of the bed, rise/run, at least 0.
    roughness
        Manning's n, s/m^(1/3), greater than 0.

    Returns
    -------
    float
        Velocity, m/s; 0 at depth 0.

    Raises
    ------
    ValueError
        If the depth or the slope is negative or n not positive.

    Examples
    --------
    >>> round(manning_velocity(Trapezoid(0.60, 1.0), 0.08, 0.05, 0.040), 4)
    0.9115
    """
    if not (depth_m >= 0.0 and slope >= 0.0 and roughness > 0.0):
        raise ValueError("depth and slope are at least 0, and Manning's n is greater than 0")
    if depth_m == 0.0:
        return 0.0
    radius_m = section.area(depth_m) / section.wetted_perimeter(depth_m)
    return math.pow(radius_m, 2.0 / 3.0) * math.sqrt(slope) / roughness


def manning_flow(section: Trapezoid, depth_m: float, slope: float, roughness: float) -> float:
    """Flow at a uniform depth, `Q = A V`.

    Parameters
    ----------
    section
        The channel.
    depth_m
        Depth, m.
    slope
        Fall of the bed, rise/run.
    roughness
        Manning's n, s/m^(1/3).

    Returns
    -------
    float
        Flow, m3/s.

    Raises
    ------
    ValueError
        As `manning_velocity`.

    Examples
    --------
    >>> round(manning_flow(Trapezoid(0.60, 1.0), 0.08, 0.05, 0.040) * 1000, 2)
    49.58
    """
    return section.area(depth_m) * manning_velocity(section, depth_m, slope, roughness)


def normal_depth(section: Trapezoid, flow_m3s: float, slope: float, roughness: float) -> float:
    """Depth of uniform flow: the root of `manning_flow(depth) = flow`.

    Parameters
    ----------
    section
        The channel.
    flow_m3s
        Flow, m3/s, at least 0.
    slope
        Fall of the bed, rise/run, greater than 0.
    roughness
        Manning's n, s/m^(1/3).

    Returns
    -------
    float
        Depth, m.

    Raises
    ------
    ValueError
        If the flow is negative, or the slope not positive (there is no uniform flow then).

    Examples
    --------
    >>> round(normal_depth(Trapezoid(0.60, 1.0), 0.04958, 0.05, 0.040), 4)
    0.08
    """
    if not slope > 0.0:
        raise ValueError("uniform flow needs a bed that falls: the slope must be greater than 0")
    return _depth_at(lambda depth_m: manning_flow(section, depth_m, slope, roughness), flow_m3s)


def critical_depth_of(
    section: Trapezoid, flow_m3s: float, energy_coefficient: float = 1.0
) -> float:
    """Critical depth: the root of `alpha Q^2 T = g A^3`.

    In a rectangle that is `(alpha q^2 / g)^(1/3)`.

    Parameters
    ----------
    section
        The channel.
    flow_m3s
        Flow, m3/s, at least 0.
    energy_coefficient
        Alpha, 1 for an even velocity.

    Returns
    -------
    float
        Depth, m.

    Raises
    ------
    ValueError
        If the flow is negative or the coefficient is less than 1.

    References
    ----------
    Chow (1959), section 4-2.

    Examples
    --------
    >>> round(critical_depth_of(Trapezoid(1.0, 0.0), 0.010), 5)
    0.02169
    """
    if not energy_coefficient >= 1.0:
        raise ValueError("an energy coefficient is at least 1")

    if section.side_run == 0.0 and flow_m3s >= 0.0:
        each_m2s = flow_m3s / section.bottom_m
        return math.cbrt(energy_coefficient * each_m2s**2 / GRAVITY_MS2)

    def critical_flow(depth_m: float) -> float:
        if depth_m == 0.0:
            return 0.0
        mean_depth_m = section.area(depth_m) / section.top_width(depth_m)
        return section.area(depth_m) * math.sqrt(GRAVITY_MS2 * mean_depth_m / energy_coefficient)

    return _depth_at(critical_flow, flow_m3s)


def froude_number(section: Trapezoid, depth_m: float, flow_m3s: float) -> float:
    """Froude number, `Fr = V / sqrt(g A / T)`: under 1 is tranquil, over 1 is rapid.

    Parameters
    ----------
    section
        The channel.
    depth_m
        Depth, m, greater than 0.
    flow_m3s
        Flow, m3/s.

    Returns
    -------
    float
        Froude number.

    Raises
    ------
    ValueError
        If the depth is not positive.

    Examples
    --------
    >>> round(froude_number(Trapezoid(0.60, 1.0), 0.08, 0.04958), 2)
    1.09
    """
    if not depth_m > 0.0:
        raise ValueError("a Froude number needs a depth greater than 0")
    area_m2 = section.area(depth_m)
    return flow_m3s / area_m2 / math.sqrt(GRAVITY_MS2 * area_m2 / section.top_width(depth_m))


def gutter_flow(spread_m: float, cross_slope: float, slope: float, roughness: float) -> float:
    r"""Flow in a triangular gutter, `Q = 0.376 / n Sx^(5/3) S^(1/2) T^(8/3)`.

    Parameters
    ----------
    spread_m
        Width T of the water, m.
    cross_slope
        Slope Sx of the surface towards the gutter, rise/run.
    slope
        Fall along the gutter, rise/run.
    roughness
        Manning's n, s/m^(1/3), greater than 0.

    Returns
    -------
    float
        Flow, m3/s.

    Raises
    ------
    ValueError
        If a size is negative or n not positive.

    References
    ----------
    FHWA HEC-22, chapter 5: `Q = 0.56 / n Sx^1.67 S^0.5 T^2.67` in ft and cfs.

    Examples
    --------
    >>> round(gutter_flow(8.2 * 0.3048, 0.020, 0.010, 0.016) / 0.3048**3, 2)
    1.41
    """
    if not (spread_m >= 0.0 and cross_slope >= 0.0 and slope >= 0.0 and roughness > 0.0):
        raise ValueError("spread and slopes are at least 0, and Manning's n is greater than 0")
    shape = math.pow(cross_slope, 5.0 / 3.0) * math.sqrt(slope)
    return _GUTTER / roughness * shape * math.pow(spread_m, 8.0 / 3.0)


def gutter_spread(flow_m3s: float, cross_slope: float, slope: float, roughness: float) -> float:
    """Width of the water in a triangular gutter, the inverse of `gutter_flow`.

    Parameters
    ----------
    flow_m3s
        Flow, m3/s.
    cross_slope
        Slope of the surface towards the gutter, rise/run, greater than 0.
    slope
        Fall along the gutter, rise/run, greater than 0.
    roughness
        Manning's n, s/m^(1/3).

    Returns
    -------
    float
        Width, m.

    Raises
    ------
    ValueError
        If a slope is not positive or the flow negative.

    Examples
    --------
    >>> round(gutter_spread(1.8 * 0.3048**3, 0.020, 0.010, 0.016) / 0.3048, 1)
    9.0
    """
    one_m3s = gutter_flow(1.0, cross_slope, slope, roughness)
    if not (one_m3s > 0.0 and flow_m3s >= 0.0):
        raise ValueError("a gutter carries a flow of at least 0 on slopes greater than 0")
    return math.pow(flow_m3s / one_m3s, 3.0 / 8.0)


def _depth_at(flow_at: Callable[[float], float], flow_m3s: float) -> float:
    """Depth at which a flow that grows with depth reaches a value, by halving a bracket."""
    if not flow_m3s >= 0.0:
        raise ValueError(f"a flow is at least 0, not {flow_m3s!r}")
    if flow_m3s == 0.0:
        return 0.0
    low_m, high_m = 0.0, 1.0
    while flow_at(high_m) < flow_m3s:
        low_m, high_m = high_m, 2.0 * high_m
        if high_m > _DEEPEST_M:
            raise ValueError(f"a flow of {flow_m3s} m3/s does not fit in this channel")
    for _ in range(_HALVINGS):
        middle_m = (low_m + high_m) / 2.0
        if middle_m in (low_m, high_m):
            break
        low_m, high_m = (middle_m, high_m) if flow_at(middle_m) < flow_m3s else (low_m, middle_m)
    return high_m
