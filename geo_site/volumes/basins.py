"""What a lined, stone-filled basin holds, what its parts weigh, and what groundwater does."""

import math

WATER_UNIT_WEIGHT_NM3 = 9810.0
"""Weight of water, N/m3."""
WATER_DENSITY_TM3 = 1.0
"""Density of water, t/m3, as specific gravity is referred to."""


def stored_volume(length_m: float, width_m: float, depth_m: float, void_fraction: float) -> float:
    """Water that a filled basin holds, `V = a b h n`.

    Parameters
    ----------
    length_m, width_m
        Inside size, m.
    depth_m
        Depth of water that can be used, m: that below the pump's lowest level is not.
    void_fraction
        Part of the space that is free for water, 0 to 1: about 0.40 for clean stone of one
        size, 0.90 to 0.97 for modular void units (both from memory).

    Returns
    -------
    float
        Volume, m3.

    Raises
    ------
    ValueError
        If the void fraction is not from 0 to 1.

    Examples
    --------
    >>> stored_volume(4.0, 2.0, 0.5, 0.5)
    2.0
    """
    return length_m * width_m * depth_m * _part(void_fraction)


def bulk_density(specific_gravity: float, void_fraction: float) -> float:
    """Density of loose stone with its voids, `Gs (1 - n)`.

    Parameters
    ----------
    specific_gravity
        Density of the solid stone over that of water.
    void_fraction
        Part of the space that is void, 0 to 1.

    Returns
    -------
    float
        Density, t/m3.

    Raises
    ------
    ValueError
        If the void fraction is not from 0 to 1.

    Examples
    --------
    >>> round(bulk_density(2.65, 0.40), 3)
    1.59
    """
    return specific_gravity * WATER_DENSITY_TM3 * (1.0 - _part(void_fraction))


def layer_mass(area_m2: float, thickness_m: float, bulk_density_tm3: float) -> float:
    """Mass of a layer of stone or soil.

    Parameters
    ----------
    area_m2
        Area covered, m2.
    thickness_m
        Thickness, m.
    bulk_density_tm3
        Density with voids, t/m3.

    Returns
    -------
    float
        Mass, kg.

    Examples
    --------
    >>> layer_mass(10.0, 0.5, 1.6)
    8000.0
    """
    return area_m2 * thickness_m * bulk_density_tm3 * 1000.0


def liner_size(
    length_m: float, width_m: float, depth_m: float, overlap_m: float
) -> tuple[float, float]:
    """Sheet that lines a basin with vertical sides, `(a + 2h + 2f) x (b + 2h + 2f)`.

    Parameters
    ----------
    length_m, width_m, depth_m
        Inside size, m.
    overlap_m
        What lies over the rim on each side, m.

    Returns
    -------
    tuple of float
        Length and width of the sheet, m. Folds at the corners are within it.

    Examples
    --------
    >>> liner_size(12.0, 6.0, 2.5, 1.5)
    (20.0, 14.0)
    """
    added_m = 2.0 * (depth_m + overlap_m)
    return length_m + added_m, width_m + added_m


def uplift_force(area_m2: float, groundwater_above_base_m: float) -> float:
    """Force of groundwater on the base of an empty, tight basin, `F = gamma_w A h`.

    A liner has no weight: groundwater above the floor lifts it whatever the safety factor.

    Parameters
    ----------
    area_m2
        Area of the base, m2.
    groundwater_above_base_m
        Height of the groundwater above the base, m; below the base it is 0.

    Returns
    -------
    float
        Force upwards, N.

    References
    ----------
    Archimedes' principle, with 9.81 kN/m3.

    Examples
    --------
    >>> round(uplift_force(6.0, 0.6))
    35316
    """
    return WATER_UNIT_WEIGHT_NM3 * area_m2 * max(groundwater_above_base_m, 0.0)


def cover_against_uplift(
    groundwater_above_base_m: float, soil_unit_weight_nm3: float, safety_factor: float
) -> float:
    """Soil over the whole base that holds an empty basin down, `h = FS gamma_w hw / gamma_s`.

    The soil lies above the groundwater; the basin's own weight is left out.

    Parameters
    ----------
    groundwater_above_base_m
        Height of the groundwater above the base, m.
    soil_unit_weight_nm3
        Weight of the soil, N/m3, greater than 0.
    safety_factor
        1.1 to 1.5 by agency (from memory).

    Returns
    -------
    float
        Thickness, m.

    Raises
    ------
    ValueError
        If the weight of the soil is not positive.

    Examples
    --------
    >>> round(cover_against_uplift(0.6, 18_000.0, 1.2), 3)
    0.392
    """
    if not soil_unit_weight_nm3 > 0.0:
        raise ValueError(f"soil weighs more than nothing, not {soil_unit_weight_nm3!r} N/m3")
    return safety_factor * uplift_force(1.0, groundwater_above_base_m) / soil_unit_weight_nm3


def _part(value: float) -> float:
    if not (math.isfinite(value) and 0.0 <= value <= 1.0):
        raise ValueError(f"a void fraction lies between 0 and 1, not {value!r}")
    return value
