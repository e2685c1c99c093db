"""Head lost in a full pipe, and the inside diameters of common pipe.

Question
    How much head does the pipe from the pump to the spillway cost at this flow?
In
    Flows in m3/s, diameters, lengths and roughness in metres.
Out
    Velocities in m/s, heads in metres of water.
Method
    Darcy-Weisbach with the Colebrook friction factor; Hazen-Williams stands beside it as a
    check, because the published friction tables of plastic pipe are computed with it.
Reference
    Colebrook (1939), J. Inst. Civ. Eng. 11; Swamee and Jain (1976), J. Hydraul. Div. 102(5);
    Illinois Administrative Code, title 77, part 906, appendix A, exhibit I (friction table);
    EPANET 2 Users Manual, tables 3.2 and 3.3 (from memory).
"""

import math
from collections.abc import Mapping
from types import MappingProxyType

import numpy as np

GRAVITY_MS2 = 9.80665
"""Standard acceleration of gravity, m/s2."""
WATER_VISCOSITY_M2S = 1.004e-6
"""Kinematic viscosity of water at 20 degrees C, m2/s (from memory)."""
PLASTIC_ROUGHNESS_M = 1.5e-6
"""Roughness of plastic pipe, m (EPANET 2 Users Manual, table 3.2; from memory)."""
PLASTIC_C = 150.0
"""Hazen-Williams C of plastic pipe (the C of the Illinois table)."""
PRESSURE_VELOCITY_LIMIT_MS = 5 * 0.3048
"""Velocity to stay under in pressure pipe, 5 ft/s in m/s (common practice)."""

SCHEDULE_40_INSIDE_M: Mapping[str, float] = MappingProxyType(
    {
        "1": 1.049 * 0.0254,
        "1-1/4": 1.380 * 0.0254,
        "1-1/2": 1.610 * 0.0254,
        "2": 2.067 * 0.0254,
        "3": 3.068 * 0.0254,
        "4": 4.026 * 0.0254,
        "6": 6.065 * 0.0254,
    }
)
"""Average inside diameter of schedule 40 plastic pipe by nominal size in inches, m.

ASTM D1785, from memory; they reproduce the friction table of the Illinois Administrative Code.
"""

FITTING_LOSSES: Mapping[str, float] = MappingProxyType(
    {
        "entrance": 0.5,
        "exit": 1.0,
        "elbow_90_short": 0.9,
        "elbow_90": 0.8,
        "elbow_90_long": 0.6,
        "elbow_45": 0.4,
        "tee_run": 0.6,
        "tee_branch": 1.8,
        "gate_valve_open": 0.2,
        "check_valve": 2.5,
        "globe_valve_open": 10.0,
        "angle_valve_open": 5.0,
    }
)
"""K of fittings: square entrance, exit, elbows by radius, tees, valves.

EPANET 2 Users Manual, table 3.3 (from memory).
"""

VISCOSITIES_M2S: Mapping[float, float] = MappingProxyType(
    {
        0.0: 1.792e-6,
        5.0: 1.519e-6,
        10.0: 1.307e-6,
        15.0: 1.139e-6,
        20.0: WATER_VISCOSITY_M2S,
        25.0: 0.893e-6,
        30.0: 0.801e-6,
        35.0: 0.724e-6,
        40.0: 0.658e-6,
    }
)
"""Kinematic viscosity of water by temperature in degrees C, m2/s (handbook values, from memory)."""

_LAMINAR_LIMIT = 2000.0
_COLEBROOK_STEPS = 50


def velocity(flow_m3s: float, diameter_m: float) -> float:
    """Mean velocity in a full pipe, `V = 4 Q / (pi d^2)`.

    Parameters
    ----------
    flow_m3s
        Flow, m3/s.
    diameter_m
        Inside diameter, m, greater than 0.

    Returns
    -------
    float
        Velocity, m/s.

    Raises
    ------
    ValueError
        If the diameter is not positive.

    Examples
    --------
    >>> round(velocity(0.0031545, SCHEDULE_40_INSIDE_M["2"]) / 0.3048, 2)
    4.78
    """
    if not diameter_m > 0.0:
        raise ValueError(f"a pipe has a diameter greater than 0, not {diameter_m!r}")
    return 4.0 * flow_m3s / (math.pi * diameter_m**2)


def swamee_jain_factor(reynolds: float, relative_roughness: float) -> float:
    """Darcy friction factor, explicit, `f = 0.25 / log10(e/3.7 + 5.74/Re^0.9)^2`.

    Parameters
    ----------
    reynolds
        Reynolds number, 5e3 to 1e8.
    relative_roughness
        Roughness over diameter, 1e-6 to 5e-2.

    Returns
    -------
    float
        Friction factor, within about 3 % of Colebrook in that range.

    References
    ----------
    Swamee and Jain (1976), J. Hydraul. Div. 102(5), 657-664.

    Examples
    --------
    >>> round(swamee_jain_factor(1e5, 1e-4), 6)
    0.018452
    """
    return 0.25 / math.log10(relative_roughness / 3.7 + 5.74 / reynolds**0.9) ** 2


def colebrook_factor(reynolds: float, relative_roughness: float) -> float:
    """Darcy friction factor of turbulent flow, `1/sqrt(f) = -2 log10(e/3.7 + 2.51/(Re sqrt(f)))`.

    Parameters
    ----------
    reynolds
        Reynolds number, from 2000.
    relative_roughness
        Roughness over diameter, at least 0.

    Returns
    -------
    float
        Friction factor.

    References
    ----------
    Colebrook (1939), J. Inst. Civ. Eng. 11, 133-156.

    Examples
    --------
    >>> round(colebrook_factor(1e5, 1e-4), 7)
    0.0185139
    """
    root = 1.0 / math.sqrt(swamee_jain_factor(reynolds, relative_roughness))
    for _ in range(_COLEBROOK_STEPS):
        before = root
        root = -2.0 * math.log10(relative_roughness / 3.7 + 2.51 * root / reynolds)
        if abs(root - before) <= 1e-14 * root:
            break
    return 1.0 / root**2


def friction_factor(reynolds: float, relative_roughness: float) -> float:
    """Darcy friction factor: `64 / Re` under Re 2000, Colebrook above it.

    Between about 2000 and 4000 the flow is neither; the turbulent factor there is the larger.

    Parameters
    ----------
    reynolds
        Reynolds number, greater than 0.
    relative_roughness
        Roughness over diameter, at least 0.

    Returns
    -------
    float
        Friction factor.

    Raises
    ------
    ValueError
        If the Reynolds number is not positive or the roughness negative.

    Examples
    --------
    >>> friction_factor(1000.0, 1e-4)
    0.064
    """
    if not (reynolds > 0.0 and relative_roughness >= 0.0):
        raise ValueError(
            "a friction factor needs a Reynolds number above 0 and no negative roughness"
        )
    if reynolds < _LAMINAR_LIMIT:
        return 64.0 / reynolds
    return colebrook_factor(reynolds, relative_roughness)


def friction_loss(
    flow_m3s: float,
    diameter_m: float,
    length_m: float,
    roughness_m: float = PLASTIC_ROUGHNESS_M,
    viscosity_m2s: float = WATER_VISCOSITY_M2S,
) -> float:
    """Head lost to friction, Darcy-Weisbach, `h = f (L/d) V^2 / (2 g)`.

    Parameters
    ----------
    flow_m3s
        Flow, m3/s, at least 0.
    diameter_m
        Inside diameter, m.
    length_m
        Length along the pipe, m.
    roughness_m
        Roughness of the wall, m.
    viscosity_m2s
        Kinematic viscosity, m2/s.

    Returns
    -------
    float
        Head, m.

    Raises
    ------
    ValueError
        If the flow is negative or the diameter not positive.

    Examples
    --------
    >>> round(friction_loss(0.0031545, SCHEDULE_40_INSIDE_M["2"], 30.48) / 0.3048, 2)
    3.96
    """
    if not flow_m3s >= 0.0:
        raise ValueError(f"a flow is at least 0, not {flow_m3s!r}")
    if flow_m3s == 0.0:
        return 0.0
    speed_ms = velocity(flow_m3s, diameter_m)
    factor = friction_factor(speed_ms * diameter_m / viscosity_m2s, roughness_m / diameter_m)
    return factor * length_m / diameter_m * speed_ms**2 / (2.0 * GRAVITY_MS2)


def hazen_williams_loss(
    flow_m3s: float, diameter_m: float, length_m: float, coefficient: float = PLASTIC_C
) -> float:
    """Head lost to friction, Hazen-Williams, `h = 10.67 L Q^1.852 / (C^1.852 d^4.8704)`.

    Parameters
    ----------
    flow_m3s
        Flow of cold water, m3/s, at least 0.
    diameter_m
        Inside diameter, m, from about 50 mm.
    length_m
        Length along the pipe, m.
    coefficient
        C of the wall.

    Returns
    -------
    float
        Head, m.

    Raises
    ------
    ValueError
        If the flow is negative, or the diameter or C not positive.

    Examples
    --------
    >>> round(hazen_williams_loss(0.0031545, SCHEDULE_40_INSIDE_M["2"], 30.48) / 0.3048, 2)
    3.97
    """
    if not (flow_m3s >= 0.0 and diameter_m > 0.0 and coefficient > 0.0):
        raise ValueError("flow is at least 0; diameter and C are greater than 0")
    return 10.67 * length_m * math.pow(flow_m3s / coefficient, 1.852) / math.pow(diameter_m, 4.8704)


def minor_loss(flow_m3s: float, diameter_m: float, loss_coefficient: float) -> float:
    """Head lost in bends, valves and the outlet, `h = K V^2 / (2 g)`.

    Parameters
    ----------
    flow_m3s
        Flow, m3/s.
    diameter_m
        Inside diameter, m.
    loss_coefficient
        Sum of K of all fittings.

    Returns
    -------
    float
        Head, m.

    Raises
    ------
    ValueError
        If the diameter is not positive.

    Examples
    --------
    >>> round(minor_loss(0.00630902, SCHEDULE_40_INSIDE_M["3"], 4.0) / 0.3048, 3)
    1.171
    """
    return loss_coefficient * velocity(flow_m3s, diameter_m) ** 2 / (2.0 * GRAVITY_MS2)


def water_viscosity(temperature_c: float) -> float:
    """Kinematic viscosity of clean water, from :data:`VISCOSITIES_M2S`.

    Its logarithm is taken as straight between the table's temperatures: cold water drags more,
    by a third from 20 down to 8 degrees C.

    Parameters
    ----------
    temperature_c
        Temperature, degrees C, 0 to 40.

    Returns
    -------
    float
        Viscosity, m2/s.

    Raises
    ------
    ValueError
        If the temperature is outside the table.

    Examples
    --------
    >>> water_viscosity(20.0)
    1.004e-06
    """
    known_c = list(VISCOSITIES_M2S)
    if not known_c[0] <= temperature_c <= known_c[-1]:
        raise ValueError(
            f"the viscosity of water is known from {known_c[0]:g} to {known_c[-1]:g} degrees C, "
            f"not at {temperature_c!r}"
        )
    if temperature_c in VISCOSITIES_M2S:
        return VISCOSITIES_M2S[temperature_c]
    logarithms = np.log(list(VISCOSITIES_M2S.values()))
    return math.exp(float(np.interp(temperature_c, known_c, logarithms)))


def smallest_size(flow_m3s: float, limit_ms: float) -> tuple[str, float]:
    """Smallest size of :data:`SCHEDULE_40_INSIDE_M` in which water keeps under a velocity.

    Parameters
    ----------
    flow_m3s
        Flow, m3/s.
    limit_ms
        Velocity, m/s.

    Returns
    -------
    str
        Nominal size, inches; the largest listed where none is wide enough.
    float
        Its inside diameter, m.

    Examples
    --------
    >>> smallest_size(0.0031545, 1.5)[0]
    '2'
    """
    sizes = sorted(SCHEDULE_40_INSIDE_M.items(), key=lambda size: size[1])
    wide = [size for size in sizes if velocity(flow_m3s, size[1]) <= limit_ms]
    return wide[0] if wide else sizes[-1]


def content(diameter_m: float, length_m: float) -> float:
    """Water in a full pipe, `pi/4 d^2 L`.

    Parameters
    ----------
    diameter_m
        Inside diameter, m.
    length_m
        Length along the pipe, m.

    Returns
    -------
    float
        Volume, m3.

    Examples
    --------
    >>> round(content(0.1, 10.0), 4)
    0.0785
    """
    return math.pi / 4.0 * diameter_m**2 * length_m
