"""Flow over a lip: the head that a flow needs, and the flow that a head gives.

Question
    How much water runs over a lip of this width at this depth?
In
    Widths and heads in metres. The head is the level above the lip, measured upstream of
    where the water begins to dip.
Out
    Flows in m3/s, heads in metres.
Method
    Francis for a sharp lip with free fall, critical flow for a broad one. A rough stone lip
    is nearer the broad one. Heads on garden falls (1 to 4 cm) are below those at which these
    formulas were tested: results there are estimates of some 20 % either way, and a head
    must never be turned into a measured flow.
Reference
    EPA SWMM Reference Manual, volume II (hydraulics), equations 6-18 and 6-22.
"""

import math
from typing import Literal

GRAVITY_MS2 = 9.80665
"""Standard acceleration of gravity, m/s2."""
FRANCIS_COEFFICIENT = 3.33 * math.sqrt(0.3048)
"""3.33 ft^0.5/s in SI, 1.838 m^0.5/s."""
BROAD_COEFFICIENT = math.pow(2.0 / 3.0, 1.5) * math.sqrt(GRAVITY_MS2)
"""Ideal broad-crested weir, 1.705 m^0.5/s."""
LEAST_TESTED_HEAD_M = 0.06
"""Head below which the weir formulas were not tested, m (0.2 ft)."""
LOW_HEAD_UNCERTAINTY = 0.20
"""Relative error to show for a flow below that head (common practice, no source)."""

_CONTRACTION = 0.1


def francis_flow(width_m: float, head_m: float, contracted_ends: Literal[0, 1, 2] = 0) -> float:
    """Flow over a sharp lip, `Q = 1.838 (L - 0.1 n H) H^1.5`.

    Parameters
    ----------
    width_m
        Width of the lip, m; at least three times the head where ends are contracted.
    head_m
        Head on the lip, m.
    contracted_ends
        How many ends of the lip stand off the channel's sides: 0 is a lip over the whole width.

    Returns
    -------
    float
        Flow, m3/s.

    Raises
    ------
    ValueError
        If a size is negative, or the head so large that nothing of the width is left.

    References
    ----------
    Francis (1855); EPA SWMM Reference Manual, volume II, equations 6-18 and 6-22.

    Examples
    --------
    >>> round(francis_flow(0.6096, 0.1524) / 0.3048**3, 4)
    2.3547
    """
    effective_m = _not_negative(width_m) - _CONTRACTION * contracted_ends * _not_negative(head_m)
    if effective_m < 0.0:
        raise ValueError(f"a head of {head_m} m is too large for a lip {width_m} m wide")
    return FRANCIS_COEFFICIENT * effective_m * math.pow(head_m, 1.5)


def francis_head(width_m: float, flow_m3s: float) -> float:
    """Head on a sharp lip over the whole width, `H = (Q / (1.838 L))^(2/3)`.

    Parameters
    ----------
    width_m
        Width of the lip, m, greater than 0.
    flow_m3s
        Flow, m3/s.

    Returns
    -------
    float
        Head, m.

    Raises
    ------
    ValueError
        If the width is not positive or the flow negative.

    Examples
    --------
    >>> round(francis_head(0.6096, 0.0666781), 4)
    0.1524
    """
    return math.pow(_per_width(flow_m3s, width_m) / FRANCIS_COEFFICIENT, 2.0 / 3.0)


def broad_crested_flow(width_m: float, head_m: float) -> float:
    """Flow over an ideal broad lip, `Q = (2/3)^1.5 sqrt(g) L H^1.5`.

    Parameters
    ----------
    width_m
        Width of the lip, m.
    head_m
        Head on the lip, m; the lip is at least two to three heads long in the flow direction.

    Returns
    -------
    float
        Flow, m3/s.

    Raises
    ------
    ValueError
        If a size is negative.

    Examples
    --------
    >>> round(broad_crested_flow(1.0, 0.05) * 1000, 2)
    19.06
    """
    return BROAD_COEFFICIENT * _not_negative(width_m) * math.pow(_not_negative(head_m), 1.5)


def broad_crested_head(width_m: float, flow_m3s: float) -> float:
    """Head on an ideal broad lip, `H = 3/2 yc`.

    Parameters
    ----------
    width_m
        Width of the lip, m, greater than 0.
    flow_m3s
        Flow, m3/s.

    Returns
    -------
    float
        Head, m.

    Raises
    ------
    ValueError
        If the width is not positive or the flow negative.

    Examples
    --------
    >>> round(broad_crested_head(1.0, 0.0190586), 4)
    0.05
    """
    return 1.5 * critical_depth(_per_width(flow_m3s, width_m))


def critical_depth(flow_per_width_m2s: float) -> float:
    """Critical depth in a rectangular section, `yc = (q^2 / g)^(1/3)`.

    Parameters
    ----------
    flow_per_width_m2s
        Flow for each metre of width, m2/s.

    Returns
    -------
    float
        Depth, m.

    Raises
    ------
    ValueError
        If the flow is negative.

    Examples
    --------
    >>> round(critical_depth(0.010) * 1000, 2)
    21.69
    """
    return math.cbrt(_not_negative(flow_per_width_m2s) ** 2 / GRAVITY_MS2)


def _per_width(flow_m3s: float, width_m: float) -> float:
    if not width_m > 0.0:
        raise ValueError(f"a lip has a width greater than 0, not {width_m!r}")
    return _not_negative(flow_m3s) / width_m


def _not_negative(value: float) -> float:
    if not value >= 0.0:
        raise ValueError(f"widths, heads and flows are at least 0, not {value!r}")
    return value
