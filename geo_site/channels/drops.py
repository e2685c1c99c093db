"""Water at the foot of a vertical drop.

References
----------
Rand, W. (1955), Flow geometry at straight drop spillways, Proceedings ASCE 81, paper 791; as in
Chow (1959), section 15-17 (from memory).
"""

import math

from geo_site.channels.sections import GRAVITY_MS2

__all__ = ["drop_depths"]


def drop_depths(flow_per_width_m2s: float, height_m: float) -> tuple[float, float]:
    """Depth of the jet at the foot of a drop, and depth that makes it jump there.

    With the drop number `D = q^2 / (g h^3)`: `y1 = 0.54 h D^0.425`, `y2 = 1.66 h D^0.27`.

    Parameters
    ----------
    flow_per_width_m2s
        Flow q for each metre of width, m2/s, greater than 0.
    height_m
        Height h of the drop, m, greater than 0.

    Returns
    -------
    tuple of float
        y1 and y2, m; water shallower than y2 lets the jet shoot on along the bed. Neither is
        on the wrong side of critical depth, whatever the height.

    Raises
    ------
    ValueError
        If a size is not positive.

    Examples
    --------
    >>> y1, y2 = drop_depths(0.010, 0.30)
    >>> round(y1 * 1000, 1), round(y2 * 1000, 1)
    (5.7, 59.3)
    """
    if not (flow_per_width_m2s > 0.0 and height_m > 0.0):
        raise ValueError("a drop has a flow and a height greater than 0")
    number = flow_per_width_m2s**2 / (GRAVITY_MS2 * height_m**3)
    critical_m = math.cbrt(flow_per_width_m2s**2 / GRAVITY_MS2)
    jet_m = 0.54 * height_m * math.pow(number, 0.425)
    jump_m = 1.66 * height_m * math.pow(number, 0.27)
    return min(jet_m, critical_m), max(jump_m, critical_m)
