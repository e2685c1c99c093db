"""Stones in running water: the pull of the water, and the size that stays.

References
----------
FHWA HEC-15, Design of roadside channels with flexible linings (from memory).
"""

__all__ = ["WATER_N_M3", "bed_shear", "stable_stone"]

WATER_N_M3 = 9810.0
"""Weight of water, N/m3."""


def bed_shear(depth_m: float, slope: float) -> float:
    """Shear on the bed, `tau = gamma d S`.

    Parameters
    ----------
    depth_m
        Depth, m.
    slope
        Slope of the energy line (in uniform flow, of the bed), rise/run.

    Returns
    -------
    float
        Shear, Pa.

    Raises
    ------
    ValueError
        If a size is negative.

    Examples
    --------
    >>> round(bed_shear(0.10, 0.10), 1)
    98.1
    """
    if not (depth_m >= 0.0 and slope >= 0.0):
        raise ValueError("depth and slope are at least 0")
    return WATER_N_M3 * depth_m * slope


def stable_stone(
    shear_pa: float, shields_number: float = 0.047, specific_gravity: float = 2.65
) -> float:
    """Size of stone that a shear just lets lie, `D50 = tau / (F* (Gs - 1) gamma)`.

    Parameters
    ----------
    shear_pa
        Shear on the bed, Pa.
    shields_number
        F*, greater than 0: 0.047 for stones that must not move at all, up to 0.15.
    specific_gravity
        Of the stone, greater than 1.

    Returns
    -------
    float
        Median size, m. On beds steeper than 0.10 a stone needs to be larger still.

    Raises
    ------
    ValueError
        If the shear is negative, or the stone would float.

    Examples
    --------
    >>> round(stable_stone(98.1), 3)
    0.129
    """
    if not (shear_pa >= 0.0 and shields_number > 0.0 and specific_gravity > 1.0):
        raise ValueError("a shear is at least 0, and a stone is heavier than water")
    return shear_pa / (shields_number * (specific_gravity - 1.0) * WATER_N_M3)
