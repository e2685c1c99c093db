"""Formulas of single weirs: sharp, broad, standard plate, notch, and weirs under water below.

References
----------
EPA SWMM Reference Manual, volume II (hydraulics), equations 6-18 and 6-22. USBR Water
Measurement Manual, chapter 7. Villemonte, J. R. (1947), Engineering News-Record 139.
"""

import math
from typing import Literal

import numpy as np

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
LEAST_PLATE_HEAD_M = 0.03048
"""Head below which the standard plate's formula was not tested, m (0.1 ft, from memory)."""
LEAST_PLATE_HEIGHT_M = 0.1
"""Least height of a standard plate above the floor before it, m (0.33 ft, from memory)."""
LEAST_PLATE_WIDTH_M = 0.15
"""Least width of a standard plate, m (0.5 ft, from memory)."""
GREATEST_HEAD_SHARE = 2.0
"""Greatest head over the height of a standard plate (from memory)."""

_CONTRACTION = 0.1
_HEAD_CORRECTION_M = 0.001  # of Kindsvater and Carter, for viscosity and surface tension
_FULL_WIDTH_M = -0.001
# Lip width over channel width; C1 and C2 in ft^0.5/s; kb in ft.
_SHARES = (0.2, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0)
_C1 = (-0.0087, 0.0317, 0.0612, 0.0995, 0.1602, 0.2376, 0.3447, 0.4000)
_C2 = (3.152, 3.164, 3.173, 3.178, 3.182, 3.189, 3.205, 3.220)
_KB_FT = (0.008, 0.009, 0.010, 0.012, 0.0135, 0.014, 0.0125, -0.003)
_FOOT_M = 0.3048
_NOTCH = 8.0 / 15.0 * 0.58
_NOTCH_CORRECTION_M = 0.00085


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


def plate_flow(
    width_m: float, head_m: float, height_m: float, channel_width_m: float | None = None
) -> float:
    r"""Flow over a standard thin plate, `Q = C (L + kb) (h + 0.001)^1.5` (Kindsvater-Carter).

    Over the whole width, `C = 2/3 sqrt(2 g) (0.602 + 0.075 h / p)` and `kb = -0.001` m; over a
    part of it `C = C1 h / p + C2` and kb by the table of the share.

    Parameters
    ----------
    width_m
        Width L of the plate's edge, m; tested from 0.15 m.
    head_m
        Head h, m: level above the edge, where the water comes at `channel_width_m` and h + p;
        tested from 0.03 m and up to twice p.
    height_m
        Height p of the edge above the floor before it, m, greater than 0; tested from 0.1 m.
    channel_width_m
        Width of the channel before it, m; by default that of the edge. Shares below 0.2 are
        taken as 0.2.

    Returns
    -------
    float
        Flow, m3/s; nothing of the approach velocity is to be added.

    Raises
    ------
    ValueError
        If a size is negative, p is 0 or the channel narrower than the edge.

    References
    ----------
    USBR Water Measurement Manual, chapter 7; ISO 1438 for the whole width. The table of kb is
    from memory.

    Examples
    --------
    >>> round(plate_flow(2.0, 0.3, 0.4), 5)
    0.64156
    """
    if not height_m > 0.0:
        raise ValueError("a standard plate stands above the floor before it")
    head_m, width_m = _not_negative(head_m), _not_negative(width_m)
    share = 1.0 if channel_width_m is None else width_m / channel_width_m
    if share > 1.0:
        raise ValueError("a lip is no wider than the channel before it")
    if head_m == 0.0 or width_m == 0.0:
        return 0.0
    if share == 1.0:
        coefficient = 2 / 3 * math.sqrt(2 * GRAVITY_MS2) * (0.602 + 0.075 * head_m / height_m)
        correction_m = _FULL_WIDTH_M
    else:
        feet = _at(share, _C1) * head_m / height_m + _at(share, _C2)
        coefficient, correction_m = feet * math.sqrt(_FOOT_M), _at(share, _KB_FT) * _FOOT_M
    return coefficient * (width_m + correction_m) * math.pow(head_m + _HEAD_CORRECTION_M, 1.5)


def notch_flow(head_m: float, angle_deg: float = 90.0) -> float:
    r"""Flow through a V-notch, `Q = 8/15 0.58 sqrt(2 g) tan(angle / 2) (h + 0.00085)^2.5`.

    Parameters
    ----------
    head_m
        Head above the notch's point, m; tested from 0.06 m.
    angle_deg
        Whole angle of the notch, degrees, between 0 and 180; tested from 25 to 100.

    Returns
    -------
    float
        Flow, m3/s.

    Raises
    ------
    ValueError
        If the head is negative or the angle cannot be.

    References
    ----------
    Kindsvater and Shen in the USBR Water Measurement Manual, chapter 7 (from memory).

    Examples
    --------
    >>> round(notch_flow(0.3048) / 0.3048**3, 2)  # 2.49 H^2.48 is 2.49
    2.5
    """
    if not 0.0 < angle_deg < 180.0:
        raise ValueError(f"a notch opens by an angle between 0 and 180 degrees, not {angle_deg!r}")
    if _not_negative(head_m) == 0.0:
        return 0.0
    opening = math.tan(math.radians(angle_deg) / 2.0)
    depth_m = head_m + _NOTCH_CORRECTION_M
    return _NOTCH * math.sqrt(2.0 * GRAVITY_MS2) * opening * math.pow(depth_m, 2.5)


def villemonte_factor(head_m: float, tail_m: float, power: float = 1.5) -> float:
    """Share of the free flow that is left under water below, `(1 - (H2 / H1)^n)^0.385`.

    Parameters
    ----------
    head_m
        H1, level before the lip above its CREST, m, greater than 0.
    tail_m
        H2, level behind it above its crest, m; at or below 0 the fall is free.
    power
        n, that of the head in the free flow: 1.5 over a level lip, 2.5 through a notch.

    Returns
    -------
    float
        1 for a free fall, 0 where the levels are alike.

    Raises
    ------
    ValueError
        If the head is not positive.

    References
    ----------
    Villemonte, J. R. (1947), Submerged-weir discharge studies, Engineering News-Record 139.

    Examples
    --------
    >>> round(villemonte_factor(0.10, 0.05), 4)
    0.8454
    """
    if not head_m > 0.0:
        raise ValueError("a head on a lip that is under water below is greater than 0")
    share = min(max(tail_m / head_m, 0.0), 1.0)
    return math.pow(1.0 - math.pow(share, power), 0.385)


def broad_submerged_factor(head_m: float, tail_m: float) -> float:
    """Share of the free flow left over a broad lip, `s sqrt(1 - s) / (2/3 sqrt(1/3))`.

    With `s = H2 / H1`: once the water below stands higher than critical depth on the crest
    (s over 2/3), the crest's depth is that of the water below. Energy is kept up to the crest.

    Parameters
    ----------
    head_m
        H1, energy before the lip above its crest, m, greater than 0.
    tail_m
        H2, level behind it above its crest, m.

    Returns
    -------
    float
        1 up to two thirds, 0 where the levels are alike.

    Raises
    ------
    ValueError
        If the head is not positive.

    Examples
    --------
    >>> round(broad_submerged_factor(0.10, 0.09), 4)
    0.7394
    """
    if not head_m > 0.0:
        raise ValueError("a head on a lip that is under water below is greater than 0")
    share = min(tail_m / head_m, 1.0)
    if share <= 2.0 / 3.0:
        return 1.0
    return 1.5 * math.sqrt(3.0) * share * math.sqrt(1.0 - share)


def _at(share: float, column: tuple[float, ...]) -> float:
    """Value of a column of the table between its rows."""
    return float(np.interp(share, _SHARES, column))


def _per_width(flow_m3s: float, width_m: float) -> float:
    if not width_m > 0.0:
        raise ValueError(f"a lip has a width greater than 0, not {width_m!r}")
    return _not_negative(flow_m3s) / width_m


def _not_negative(value: float) -> float:
    if not value >= 0.0:
        raise ValueError(f"widths, heads and flows are at least 0, not {value!r}")
    return value
