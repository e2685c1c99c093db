"""Distances as they are printed: never a short one as long enough.

In: a distance found and the one asked. Out: figures whose order says the same as the numbers.
Method: what is found is rounded down, what is asked is rounded up.
"""

from __future__ import annotations

import math

__all__ = ["TOUCH_M", "rounded_down", "rounded_up", "told_distances"]

TOUCH_M = 1e-9
"""Rounding of coordinates, far below any survey: what is short by less is not short."""

_PRINT_SLACK_M = 4e-10  # 0.3 stays 0.30; twice this is less than TOUCH_M, so no order turns
_FINEST_DECIMALS = 4


def told_distances(found_m: float, asked_m: float) -> str:
    """Say a distance and what is asked, with the fewest digits that keep their order.

    Parameters
    ----------
    found_m, asked_m : float
        Distances, m.

    Returns
    -------
    str
        Two to four decimals; four may still print a distance that is just met as the smaller.

    Examples
    --------
    >>> told_distances(0.9996, 1.0)
    '0.99 m found, 1.00 m asked'
    >>> told_distances(1.2696, 1.2692)
    '1.2696 m found, 1.2692 m asked'
    """
    enough = found_m >= asked_m - TOUCH_M
    for decimals in range(2, _FINEST_DECIMALS + 1):
        found, asked = rounded_down(found_m, decimals), rounded_up(asked_m, decimals)
        if (found >= asked) == enough:
            break
    return f"{found:.{decimals}f} m found, {asked:.{decimals}f} m asked"


def rounded_down(value_m: float, decimals: int = 2) -> float:
    """Round a distance so that it never looks longer than it is.

    Parameters
    ----------
    value_m : float
        Distance, m.
    decimals : int
        Digits kept.

    Returns
    -------
    float
        At most 0.4 nanometres above the value.

    Examples
    --------
    >>> rounded_down(0.999), rounded_down(0.3)
    (0.99, 0.3)
    """
    scale = 10.0**decimals
    shown = (value_m + _PRINT_SLACK_M) * scale
    return math.floor(shown) / scale if math.isfinite(shown) else value_m


def rounded_up(value_m: float, decimals: int = 2) -> float:
    """Round a demand so that it never looks smaller than it is.

    Parameters
    ----------
    value_m : float
        Distance asked for, m.
    decimals : int
        Digits kept.

    Returns
    -------
    float
        At most 0.4 nanometres below the value.

    Examples
    --------
    >>> rounded_up(1.2192), rounded_up(0.3)
    (1.22, 0.3)
    """
    scale = 10.0**decimals
    shown = (value_m - _PRINT_SLACK_M) * scale
    return math.ceil(shown) / scale if math.isfinite(shown) else value_m
