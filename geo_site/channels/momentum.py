"""Depths of the same energy, and depths of the same momentum (a hydraulic jump).

References
----------
Chow (1959), Open-Channel Hydraulics, sections 3-3, 3-7 and 15-1.
"""

from geo_site.channels.sections import GRAVITY_MS2, Trapezoid, critical_depth_of

__all__ = ["alternate_depths", "conjugate_depth", "specific_force"]

_HALVINGS = 200


def alternate_depths(section: Trapezoid, flow_m3s: float, energy_m: float) -> tuple[float, float]:
    """Rapid and tranquil depth of the same specific energy, `E = y + Q^2 / (2 g A^2)`.

    Parameters
    ----------
    section
        The channel.
    flow_m3s
        Flow, m3/s, greater than 0.
    energy_m
        Energy above the bottom, m.

    Returns
    -------
    tuple of float
        Rapid and tranquil depth, m; twice the critical depth where the energy is too little.

    Raises
    ------
    ValueError
        If the flow is not positive.

    Examples
    --------
    >>> rapid_m, tranquil_m = alternate_depths(Trapezoid(1.0, 0.0), 0.010, 0.05)
    >>> round(rapid_m, 4), round(tranquil_m, 4)
    (0.0115, 0.0478)
    """
    if not flow_m3s > 0.0:
        raise ValueError("depths of an energy need a flow greater than 0")
    critical_m = critical_depth_of(section, flow_m3s)
    if energy_m <= _energy(section, critical_m, flow_m3s):
        return critical_m, critical_m
    low_m = critical_m
    while _energy(section, low_m, flow_m3s) < energy_m:
        low_m /= 2.0
    return (
        _between(section, flow_m3s, energy_m, (critical_m, low_m)),
        _between(section, flow_m3s, energy_m, (critical_m, max(energy_m, critical_m))),
    )


def _energy(section: Trapezoid, depth_m: float, flow_m3s: float) -> float:
    return depth_m + (flow_m3s / section.area(depth_m)) ** 2 / (2.0 * GRAVITY_MS2)


def _between(
    section: Trapezoid, flow_m3s: float, energy_m: float, ends_m: tuple[float, float]
) -> float:
    """Depth of an energy between one with less of it and one with more."""
    less_m, more_m = ends_m
    for _ in range(_HALVINGS):
        middle_m = (less_m + more_m) / 2.0
        if middle_m in (less_m, more_m):
            break
        if _energy(section, middle_m, flow_m3s) < energy_m:
            less_m = middle_m
        else:
            more_m = middle_m
    return less_m


def specific_force(section: Trapezoid, depth_m: float, flow_m3s: float) -> float:
    """Specific force, `M = Q^2 / (g A) + b y^2 / 2 + z y^3 / 3`.

    Parameters
    ----------
    section
        The channel.
    depth_m
        Depth y, m, greater than 0.
    flow_m3s
        Flow Q, m3/s.

    Returns
    -------
    float
        Specific force, m3; alike on both sides of a jump on a level bed.

    Raises
    ------
    ValueError
        If the depth is not positive.

    Examples
    --------
    >>> round(specific_force(Trapezoid(1.0, 0.0), 0.1, 0.0), 4)
    0.005
    """
    if not depth_m > 0.0:
        raise ValueError("a specific force needs a depth greater than 0")
    still_m3 = section.bottom_m * depth_m**2 / 2.0 + section.side_run * depth_m**3 / 3.0
    return flow_m3s**2 / (GRAVITY_MS2 * section.area(depth_m)) + still_m3


def conjugate_depth(section: Trapezoid, depth_m: float, flow_m3s: float) -> float:
    """Depth on the other side of a hydraulic jump: that of the same specific force.

    Parameters
    ----------
    section
        The channel.
    depth_m
        Depth on one side, m, greater than 0.
    flow_m3s
        Flow, m3/s, greater than 0.

    Returns
    -------
    float
        Depth, m; in a rectangle `y / 2 (sqrt(1 + 8 Fr^2) - 1)`. At critical depth, itself.

    Raises
    ------
    ValueError
        If depth or flow is not positive.

    Examples
    --------
    A rectangle 1 m wide, 0.05 m deep at Froude 3:

    >>> round(conjugate_depth(Trapezoid(1.0, 0.0), 0.05, 0.105036), 4)  # (sqrt(73) - 1) / 40
    0.1886
    """
    if not flow_m3s > 0.0:
        raise ValueError("a jump needs a flow greater than 0")
    force = specific_force(section, depth_m, flow_m3s)
    critical_m = critical_depth_of(section, flow_m3s)
    inner_m, outer_m = critical_m, 0.0
    if depth_m < critical_m:
        outer_m = 2.0 * critical_m
        while specific_force(section, outer_m, flow_m3s) < force:
            outer_m *= 2.0
    for _ in range(_HALVINGS):
        middle_m = (inner_m + outer_m) / 2.0
        if middle_m in (inner_m, outer_m):
            break
        if specific_force(section, middle_m, flow_m3s) < force:
            inner_m = middle_m
        else:
            outer_m = middle_m
    return inner_m
