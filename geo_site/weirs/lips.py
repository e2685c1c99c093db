"""A lip as it is built: which formula fits, the head that a flow needs, and how sure that is.

Energy counts from the crest: level above the lip and velocity head of the water before it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from geo_site.weirs import formulas

__all__ = [
    "Lip",
    "LipForm",
    "flow_range",
    "formula_of",
    "greatest_head",
    "least_width",
    "lip_energy",
    "lip_flow",
]

LipForm = Literal["sharp", "broad", "notch"]

_HALVINGS = 60
_SECANTS = 20
# Near critical water the velocity before a lip settles by a few thousandths a round.
_ROUNDS = 3000
_ENOUGH = 1e-13
# Brater and King (1976) table 5-3, ft units: the range of real broad crests about the ideal one.
_BROAD_LOW, _BROAD_HIGH = 2.63 / 3.0876, 3.32 / 3.0876
_NOTCH_RANGE = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Lip:
    """A lip and the water before it.

    Attributes
    ----------
    form
        ``sharp``: a thin edge, or a stone whose sheet springs clear. ``broad``: a flat stone,
        at least two heads long with the flow. ``notch``: a V.
    width_m
        Width, m; of a notch, the width at which it ends.
    channel_width_m
        Width of the water before it, m.
    height_m
        Height of the crest above the floor before it, m; 0 where the floor runs up to it.
    contracted_ends
        Ends that stand off the channel's sides.
    angle_deg
        Whole angle of a notch, degrees.
    """

    form: LipForm
    width_m: float
    channel_width_m: float
    height_m: float = 0.0
    contracted_ends: Literal[0, 1, 2] = 0
    angle_deg: float = 90.0

    def __post_init__(self) -> None:
        """Refuse a lip without width."""
        if not (self.width_m > 0.0 and self.channel_width_m > 0.0 and self.height_m >= 0.0):
            raise ValueError("a lip and the channel before it have widths greater than 0")


def formula_of(lip: Lip, head_m: float) -> str:
    """Name the formula that fits a lip at a head.

    Parameters
    ----------
    lip
        The lip.
    head_m
        Head on it, m.

    Returns
    -------
    str
        Author or kind.

    Examples
    --------
    >>> lip = Lip(form="sharp", width_m=0.6, channel_width_m=0.6, height_m=0.2)
    >>> formula_of(lip, 0.02), formula_of(lip, 0.05)
    ('Francis', 'Kindsvater-Carter')
    """
    if lip.form == "sharp":
        return "Kindsvater-Carter" if _is_plate(lip) and _plate_holds(lip, head_m) else "Francis"
    return "broad-crested, ideal" if lip.form == "broad" else "V-notch"


def lip_flow(lip: Lip, head_m: float, tail_m: float = 0.0) -> float:
    """Flow over a lip at a head; the velocity of the water before it is worked out with it.

    Parameters
    ----------
    lip
        The lip.
    head_m
        Level before it above its crest, m.
    tail_m
        Level behind it above its crest, m; 0 or less for a free fall.

    Returns
    -------
    float
        Flow, m3/s; never more than critical flow of the water before it.

    Raises
    ------
    ValueError
        If the head is negative.

    Examples
    --------
    >>> lip = Lip(form="broad", width_m=1.0, channel_width_m=1.0, height_m=10.0)
    >>> round(lip_flow(lip, 0.05) * 1000, 2)
    19.06
    """
    if not head_m >= 0.0:
        raise ValueError(f"a head is at least 0, not {head_m!r}")
    if head_m == 0.0 or tail_m >= head_m:
        return 0.0
    if formula_of(lip, head_m) == "Kindsvater-Carter":
        return _plate(lip, head_m) * formulas.villemonte_factor(head_m, tail_m)
    depth_m = lip.height_m + head_m
    most_m3s = lip.channel_width_m * depth_m * math.sqrt(formulas.GRAVITY_MS2 * depth_m)
    flow_m3s = 0.0
    for _ in range(_ROUNDS):
        before = flow_m3s
        energy_m = head_m + _velocity_head(lip, head_m, flow_m3s)
        flow_m3s = min(_flow_of_energy(lip, energy_m) * _left(lip, energy_m, tail_m), most_m3s)
        if abs(flow_m3s - before) <= _ENOUGH * most_m3s:
            break
    return flow_m3s


def lip_energy(lip: Lip, flow_m3s: float, tail_m: float = 0.0) -> float:
    """Energy that a flow needs before a lip, above its crest, m.

    Parameters
    ----------
    lip
        The lip.
    flow_m3s
        Flow, m3/s.
    tail_m
        Level behind it above its crest, m; 0 or less for a free fall.

    Returns
    -------
    float
        Energy, m, beyond what `greatest_head` allows too: a figure to be told with its limit.

    Raises
    ------
    ValueError
        If the flow is negative.

    Examples
    --------
    >>> lip = Lip(form="broad", width_m=1.0, channel_width_m=1.0)
    >>> round(lip_energy(lip, 0.0190586), 4)
    0.05
    >>> round(lip_energy(lip, 0.0190586, tail_m=0.05), 4)
    0.0574
    """
    if not flow_m3s >= 0.0:
        raise ValueError(f"a flow is at least 0, not {flow_m3s!r}")
    if flow_m3s == 0.0:
        return max(tail_m, 0.0)
    if _is_plate(lip):
        head_m = _plate_head(lip, flow_m3s, tail_m)
        if _plate_holds(lip, head_m):
            return head_m + _velocity_head(lip, head_m, flow_m3s)
    free_m = _free_energy(lip, flow_m3s)
    if tail_m <= 0.0 or _left(lip, free_m, tail_m) == 1.0:
        return free_m
    low_m = max(free_m, tail_m)
    return _grown_root(
        lambda energy_m: _flow_of_energy(lip, energy_m) * _left(lip, energy_m, tail_m),
        flow_m3s,
        low_m,
    )


def greatest_head(lip: Lip) -> float:
    """Greatest head at which the formula of a lip holds, m.

    Parameters
    ----------
    lip
        The lip.

    Returns
    -------
    float
        A third of the width where ends are contracted (Francis), twice the height of a
        standard plate, the depth of a notch; else inf.

    Examples
    --------
    >>> greatest_head(Lip(form="sharp", width_m=0.75, channel_width_m=0.9, contracted_ends=2))
    0.25
    """
    if lip.form == "notch":
        return lip.width_m / 2.0 / math.tan(math.radians(lip.angle_deg) / 2.0)
    limits = [math.inf]
    if lip.form == "sharp" and lip.contracted_ends:
        limits.append(lip.width_m / 3.0)
    if _is_plate(lip):
        limits.append(formulas.GREATEST_HEAD_SHARE * lip.height_m)
    return min(limits)


def least_width(lip: Lip, flow_m3s: float, head_m: float) -> float:
    """Width that a level lip needs to carry a flow under a head, m; inf for a notch.

    Parameters
    ----------
    lip
        Its form and ends.
    flow_m3s
        Flow, m3/s.
    head_m
        Head that is not to be exceeded, m, greater than 0.

    Returns
    -------
    float
        Width, m, without velocity of the water before it.

    Examples
    --------
    >>> round(least_width(Lip(form="broad", width_m=0.1, channel_width_m=1.0), 0.0190586, 0.05), 3)
    1.0
    """
    if lip.form == "notch":
        return math.inf
    broad = lip.form == "broad"
    each = formulas.BROAD_COEFFICIENT if broad else formulas.FRANCIS_COEFFICIENT
    lost_m = 0.0 if broad else 0.1 * lip.contracted_ends * head_m
    return flow_m3s / (each * math.pow(head_m, 1.5)) + lost_m


def flow_range(lip: Lip, head_m: float) -> tuple[float, float]:
    """Factors on a flow between which it lies as far as a lip's formula is known.

    Parameters
    ----------
    lip
        The lip.
    head_m
        Head on it, m.

    Returns
    -------
    tuple of float
        0.8 and 1.2 below 60 mm (common practice, no source). Above, a sharp lip may be as
        weak as an ideal broad one; broad ones differ as those of Brater and King (1976), table
        5-3, do; a notch by 5 % (chosen here).

    Examples
    --------
    >>> flow_range(Lip(form="broad", width_m=1.0, channel_width_m=1.0), 0.02)
    (0.8, 1.2)
    """
    if head_m < formulas.LEAST_TESTED_HEAD_M:
        return 1.0 - formulas.LOW_HEAD_UNCERTAINTY, 1.0 + formulas.LOW_HEAD_UNCERTAINTY
    if lip.form == "sharp":
        return formulas.BROAD_COEFFICIENT / formulas.FRANCIS_COEFFICIENT, 1.0
    if lip.form == "broad":
        return _BROAD_LOW, _BROAD_HIGH
    return 1.0 - _NOTCH_RANGE, 1.0 + _NOTCH_RANGE


def _is_plate(lip: Lip) -> bool:
    """Whether the lip is one that Kindsvater and Carter tested, its head aside."""
    whole = lip.contracted_ends == 0
    return (
        lip.form == "sharp"
        and (whole or (lip.contracted_ends == 2 and lip.width_m < lip.channel_width_m))
        and lip.height_m >= formulas.LEAST_PLATE_HEIGHT_M
        and lip.width_m >= formulas.LEAST_PLATE_WIDTH_M
    )


def _plate_holds(lip: Lip, head_m: float) -> bool:
    most_m = formulas.GREATEST_HEAD_SHARE * lip.height_m
    return formulas.LEAST_PLATE_HEAD_M <= head_m <= most_m


def _plate(lip: Lip, head_m: float) -> float:
    channel_m = lip.channel_width_m if lip.contracted_ends else lip.width_m
    return formulas.plate_flow(lip.width_m, head_m, lip.height_m, channel_m)


def _plate_head(lip: Lip, flow_m3s: float, tail_m: float) -> float:
    return _grown_root(
        lambda head_m: _plate(lip, head_m) * formulas.villemonte_factor(head_m, tail_m),
        flow_m3s,
        max(tail_m, 1e-6),
    )


def _velocity_head(lip: Lip, head_m: float, flow_m3s: float) -> float:
    speed_ms = flow_m3s / (lip.channel_width_m * (lip.height_m + head_m))
    return speed_ms**2 / (2.0 * formulas.GRAVITY_MS2)


def _flow_of_energy(lip: Lip, energy_m: float) -> float:
    """Free flow of the energy before a lip; a contraction takes no more than all of the width."""
    if lip.form == "broad":
        return formulas.broad_crested_flow(lip.width_m, energy_m)
    if lip.form == "notch":
        return formulas.notch_flow(energy_m, lip.angle_deg)
    lost_m = min(0.1 * lip.contracted_ends * energy_m, 0.1 * lip.contracted_ends * lip.width_m)
    return formulas.francis_flow(lip.width_m - lost_m, energy_m)


def _left(lip: Lip, energy_m: float, tail_m: float) -> float:
    """Share of the free flow that the water below leaves."""
    if lip.form == "broad":
        return formulas.broad_submerged_factor(energy_m, tail_m)
    return formulas.villemonte_factor(energy_m, tail_m, 2.5 if lip.form == "notch" else 1.5)


def _free_energy(lip: Lip, flow_m3s: float) -> float:
    if lip.form == "broad":
        return formulas.broad_crested_head(lip.width_m, flow_m3s)
    if lip.form == "sharp" and lip.contracted_ends == 0:
        return formulas.francis_head(lip.width_m, flow_m3s)
    return _grown_root(lambda energy_m: _flow_of_energy(lip, energy_m), flow_m3s, 0.0)


def _grown_root(flow_at: Callable[[float], float], flow_m3s: float, low_m: float) -> float:
    """Head at which a flow that grows with it reaches a value, to the last digit.

    The bracket is closed in by secants (the Illinois rule), then by halving.
    """
    step_m = 0.05
    high_m = low_m + step_m
    while (over := flow_at(high_m) - flow_m3s) < 0.0:
        step_m *= 2.0
        low_m, high_m = high_m, high_m + step_m
    under, moved = flow_at(low_m) - flow_m3s, ""
    for turn in range(_SECANTS + _HALVINGS):
        head_m = (low_m + high_m) / 2.0
        if head_m in (low_m, high_m):
            break
        if turn < _SECANTS and under < 0.0 < over:
            secant_m = high_m - over * (high_m - low_m) / (over - under)
            head_m = secant_m if low_m < secant_m < high_m else head_m
        value = flow_at(head_m) - flow_m3s
        if value < 0.0:
            low_m, under, over = head_m, value, over / 2.0 if moved == "low" else over
            moved = "low"
        else:
            high_m, over, under = head_m, value, under / 2.0 if moved == "high" else under
            moved = "high"
    return high_m
