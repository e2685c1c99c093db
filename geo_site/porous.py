"""How fast water sinks through a bed of stones, clean or with a fouled layer on top.

Question
    Which area of gravel takes the whole flow of a stream?
In
    Sizes of stones, porosities, thicknesses and heads in metres.
Out
    Gradients (m of head for each m of bed), velocities in m/s over the whole plan area.
Method
    Ergun's equation, a Forchheimer law `i = a v + b v^2` with factors from the size of the
    stones. Layers follow each other: their losses add up at one velocity.
Reference
    Ergun (1952), Chemical Engineering Progress 48, 89-94.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

__all__ = ["StoneLayer", "ergun_gradient", "sinking_velocity"]

GRAVITY_MS2 = 9.80665
"""Standard acceleration of gravity, m/s2."""
WATER_VISCOSITY_M2S = 1.004e-6
"""Kinematic viscosity of water at 20 degrees C, m2/s (from memory)."""


@dataclass(frozen=True, kw_only=True)
class StoneLayer:
    """A layer of stones of about one size.

    Attributes
    ----------
    thickness_m : float
        Along the flow, m, at least 0.
    stone_size_m : float
        Diameter of the sphere that stands for a stone, m, greater than 0.
    porosity : float
        Part of the space that is void, between 0 and 1.
    """

    thickness_m: float
    stone_size_m: float
    porosity: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.thickness_m) and self.thickness_m >= 0.0):
            raise ValueError(f"a layer is at least 0 m thick, not {self.thickness_m!r}")
        if not self.stone_size_m > 0.0:
            raise ValueError(f"stones are larger than 0 m, not {self.stone_size_m!r}")
        if not 0.0 < self.porosity < 1.0:
            raise ValueError(f"a porosity lies between 0 and 1, not {self.porosity!r}")


def ergun_gradient(velocity_ms: float, layer: StoneLayer) -> float:
    """Head lost for each metre of a bed, Ergun's equation.

    `i = 150 nu (1 - n)^2 v / (g n^3 d^2) + 1.75 (1 - n) v^2 / (g n^3 d)`

    Parameters
    ----------
    velocity_ms
        Flow over the whole plan area, m/s, at least 0.
    layer
        Stones.

    Returns
    -------
    float
        Head, m for each m of bed.

    Notes
    -----
    Measured on beds of near-spherical grains at `v d / (nu (1 - n))` of about 1 to 2500. Flat or
    sharp stones lose more.

    References
    ----------
    Ergun (1952).

    Examples
    --------
    >>> gravel = StoneLayer(thickness_m=1.0, stone_size_m=0.02, porosity=0.4)
    >>> round(ergun_gradient(0.1, gravel), 3)
    0.858
    """
    slow, fast = _factors(layer)
    return slow * velocity_ms + fast * velocity_ms**2


def sinking_velocity(layers: Sequence[StoneLayer], head_m: float) -> float:
    """Velocity at which water sinks through layers into open space below.

    The head over the bed and the height of the bed itself drive it:
    `head + sum(t) = sum(t (a v + b v^2))`, solved for `v`.

    Parameters
    ----------
    layers
        From top to bottom; at least one has a thickness.
    head_m
        Water standing over the bed, m, at least 0.

    Returns
    -------
    float
        Flow over the whole plan area, m/s.

    Raises
    ------
    ValueError
        If there is no bed, or the head is below 0.

    Notes
    -----
    The bed is taken as full of water from top to bottom and open to the air below.

    References
    ----------
    Ergun (1952).

    Examples
    --------
    >>> gravel = StoneLayer(thickness_m=0.15, stone_size_m=0.02, porosity=0.4)
    >>> velocity_ms = sinking_velocity([gravel], 0.0)
    >>> round(velocity_ms, 4), round(ergun_gradient(velocity_ms, gravel), 9)
    (0.1081, 1.0)
    """
    bed_m = sum(layer.thickness_m for layer in layers)
    if not (bed_m > 0.0 and head_m >= 0.0):
        raise ValueError(f"a bed of {bed_m!r} m under a head of {head_m!r} m says nothing")
    slow = sum(layer.thickness_m * _factors(layer)[0] for layer in layers)
    fast = sum(layer.thickness_m * _factors(layer)[1] for layer in layers)
    drive_m = head_m + bed_m
    # The root of fast v^2 + slow v = drive in the form that does not cancel.
    return 2.0 * drive_m / (slow + math.sqrt(slow**2 + 4.0 * fast * drive_m))


def _factors(layer: StoneLayer) -> tuple[float, float]:
    """Factors of the velocity and of its square in the gradient."""
    n, d = layer.porosity, layer.stone_size_m
    slow = 150.0 * WATER_VISCOSITY_M2S * (1.0 - n) ** 2 / (GRAVITY_MS2 * n**3 * d**2)
    return slow, 1.75 * (1.0 - n) / (GRAVITY_MS2 * n**3 * d)
