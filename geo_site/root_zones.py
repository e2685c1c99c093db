"""How far from a tree its roots are protected.

Question
    Within which radius of a stem may nobody dig, drive or pile soil?
In
    Stem diameters, in metres. The height at which a diameter is measured differs: 1.5 m in
    BS 5837, 1.4 m (4.5 ft) in North American practice, 1.3 m elsewhere; keep it with the number.
Out
    Radii in metres.
Method
    A radius is a multiple of the stem diameter; rules of four bodies are given side by side.
Reference
    BS 5837:2012, section 4.6 (root protection area); the root zone of 1 ft and 1.5 ft for each
    inch of stem is North American arboricultural practice; the structural radius is AS 4970.
"""

import math
from collections.abc import Sequence

PROTECTION_RATIO = 12.0
"""Root protection radius over stem diameter (BS 5837:2012)."""
PROTECTION_RADIUS_LIMIT_M = 15.0
"""Largest root protection radius: 707 m2 (BS 5837:2012; from memory)."""
CRITICAL_RATIO = 12.0
"""Critical root zone: 1 ft of radius for 1 in of stem (from memory)."""
SENSITIVE_RATIO = 18.0
"""Critical root zone of an old or sensitive tree: 1.5 ft for 1 in of stem."""
STRUCTURAL_RADIUS_LEAST_M = 1.5
"""Least structural root radius (AS 4970; from memory)."""

_SEPARATE_STEMS = 5


def stem_diameter_from_girth(girth_m: float) -> float:
    """Stem diameter of a measured girth, `d = girth / pi`.

    Parameters
    ----------
    girth_m
        Length of the tape round the stem, m.

    Returns
    -------
    float
        Diameter, m.

    Raises
    ------
    ValueError
        If the girth is not a positive number.

    Examples
    --------
    >>> round(stem_diameter_from_girth(1.4137), 3)
    0.45
    """
    return _positive(girth_m, "girth") / math.pi


def combined_stem_diameter(diameters_m: Sequence[float]) -> float:
    """One diameter that stands for the stems of a tree with several.

    Two to five stems: `sqrt(sum(d^2))`. More: `sqrt(mean(d)^2 n)` (from memory).

    Parameters
    ----------
    diameters_m
        Diameter of each stem, m.

    Returns
    -------
    float
        Combined diameter, m.

    Raises
    ------
    ValueError
        If there is no stem, or one is not a positive number.

    References
    ----------
    BS 5837:2012, section 4.6.1.

    Examples
    --------
    >>> combined_stem_diameter([0.3, 0.4])
    0.5
    """
    if not diameters_m:
        raise ValueError("a tree needs at least one stem diameter")
    stems = [_positive(diameter, "stem diameter") for diameter in diameters_m]
    if len(stems) <= _SEPARATE_STEMS:
        return math.hypot(*stems)
    return math.fsum(stems) / len(stems) * math.sqrt(len(stems))


def root_protection_radius(diameter_m: float) -> float:
    """Radius of the root protection area, `min(12 d, 15 m)`.

    Parameters
    ----------
    diameter_m
        Stem diameter at 1.5 m above ground, m.

    Returns
    -------
    float
        Radius, m.

    Raises
    ------
    ValueError
        If the diameter is not a positive number.

    References
    ----------
    BS 5837:2012, section 4.6.1 and annex D; the limit of 15 m from memory.

    Examples
    --------
    >>> round(root_protection_radius(0.45), 9)
    5.4
    """
    return min(PROTECTION_RATIO * _positive(diameter_m, "stem diameter"), PROTECTION_RADIUS_LIMIT_M)


def critical_root_radius(diameter_m: float, ratio: float = CRITICAL_RATIO) -> float:
    """Radius of the critical root zone, `ratio d`, without an upper limit.

    Parameters
    ----------
    diameter_m
        Stem diameter at 1.4 m (4.5 ft) above ground, m.
    ratio
        Radius over diameter: `CRITICAL_RATIO`, or `SENSITIVE_RATIO` for old or sensitive trees.

    Returns
    -------
    float
        Radius, m.

    Raises
    ------
    ValueError
        If the diameter or the ratio is not a positive number.

    Examples
    --------
    >>> round(critical_root_radius(0.4572) / 0.3048, 9)
    18.0
    """
    return _positive(ratio, "ratio") * _positive(diameter_m, "stem diameter")


def structural_root_radius(diameter_m: float) -> float:
    """Radius of the roots that hold the tree up, `0.64 (50 d)^0.42`, at least 1.5 m.

    Parameters
    ----------
    diameter_m
        Stem diameter just above the root flare, m.

    Returns
    -------
    float
        Radius, m. Cutting roots within it may make the tree fall.

    Raises
    ------
    ValueError
        If the diameter is not a positive number.

    References
    ----------
    AS 4970, structural root zone; formula from memory.

    Examples
    --------
    >>> round(structural_root_radius(0.60), 2)
    2.67
    """
    radius_m = 0.64 * math.pow(50.0 * _positive(diameter_m, "stem diameter"), 0.42)
    return max(radius_m, STRUCTURAL_RADIUS_LEAST_M)


def _positive(value: float, name: str) -> float:
    if not (math.isfinite(value) and value > 0.0):
        raise ValueError(f"a {name} must be a positive number of metres, not {value!r}")
    return float(value)
