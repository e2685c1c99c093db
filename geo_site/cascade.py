"""A stream as a chain of reservoirs: how fast what is poured in at the top comes out below.

Question
    How does the outflow of a stretch of water follow its inflow in time?
In
    The water above its sill at the steady flow, in m3; flow in m3/s; steps in s.
Out
    Water held and let go, m3.
Method
    Each stretch lets go `Q (m / M)^p`: what it holds above its sill is a level times an area, and
    a lip's flow rises with the power 3/2 of that level, a wide riffle's with 5/3 of its depth
    (Manning). The step is implicit, so that it is stable at any length, and what goes out is what
    came in less what stayed, so that no water is made or lost.
Reference
    Level-pool routing, Chow, Maidment and Mays (1988), Applied Hydrology, 8.2; backward Euler.
"""

import math

__all__ = ["FREE", "LIP_POWER", "RIFFLE_POWER", "held_after"]

LIP_POWER = 1.5
"""Power of the level in the flow over a lip (Francis)."""
RIFFLE_POWER = 5.0 / 3.0
"""Power of the depth in the flow of a wide riffle (Manning)."""
FREE = 1e-12
"""Water of a stretch, m3, below which it only hands on what comes."""

_STEPS = 60
_NEAR = 1e-8  # of what is held: Newton's next step is then the square of this


def held_after(
    offered_m3: float, steady_m3: float, passed_m3: float, power: float, before_m3: float = 0.0
) -> float:
    """Water that a stretch still holds at the end of a step: the root of `x + P (x/M)^p = b`.

    Parameters
    ----------
    offered_m3
        What it held above its sill before the step, and what came in during it, m3, at least 0.
    steady_m3
        What it holds above its sill at the steady flow, m3, at least 0.
    passed_m3
        What the steady flow would let go in the step, m3, greater than 0.
    power
        Power of the water held in the flow, at least 1.
    before_m3
        What it held before the step, m3: where the root is looked for first, if that is known.

    Returns
    -------
    float
        From 0 to ``offered_m3``, m3; the rest has gone on downstream.

    Notes
    -----
    Of first order in the step: halve the step and see.

    References
    ----------
    Backward Euler on `dm/dt = inflow - Q (m/M)^p`; Newton, whose steps on a convex function come
    from above and never overshoot, but for a first one from below.

    Examples
    --------
    >>> round(held_after(0.3, 0.2, 0.1, 1.5), 12)  # in balance: 0.1 came, 0.1 goes
    0.2
    >>> held_after(0.0, 0.2, 0.1, 1.5)
    0.0
    """
    if steady_m3 <= FREE or offered_m3 <= 0.0:
        return 0.0
    held_m3 = before_m3
    if not 0.0 < held_m3 <= offered_m3:
        held_m3 = min(offered_m3, steady_m3 * math.pow(offered_m3 / passed_m3, 1.0 / power))
    for _ in range(_STEPS):
        if held_m3 <= 0.0:
            return 0.0
        gone_m3 = passed_m3 * math.pow(held_m3 / steady_m3, power)
        step_m3 = (held_m3 + gone_m3 - offered_m3) / (1.0 + power * gone_m3 / held_m3)
        held_m3 -= step_m3
        if abs(step_m3) <= _NEAR * held_m3:
            break
    return min(max(held_m3, 0.0), offered_m3)
