"""Cross-sections of bed and berm, and what they hold along the stream.

The bed's stone, liner and underlay reach ``bed_thickness`` below the sill over ``bed_width``.
Cut: a trapezoid on that base with sides of ``cut_side``; a pool's hollow adds half an ellipse of
the pool's width and the hollow's depth. Berm: a trapezoid from the ground to the sill whose crown
is the bed and a shoulder each side, with sides of ``berm_side``, less the bed's own body in it.
Ground is taken as level across the stream.
"""

from __future__ import annotations

from math import pi

import numpy as np
from numpy.typing import NDArray

from geo_site.layout.parameters import LayoutParameters

__all__ = [
    "berm_end_m3",
    "berm_volume_m3",
    "crown_width",
    "cut_areas",
    "fill_areas",
    "hollow_share",
]

Floats = NDArray[np.float64]


def crown_width(parameters: LayoutParameters) -> float:
    """Width of the berm's crown: the bed and a shoulder each side, m."""
    return parameters.bed_width + 2.0 * parameters.berm_shoulder


def cut_areas(above_m: Floats, parameters: LayoutParameters) -> Floats:
    r"""Cut for the bed: :math:`d (b + s d)`, ``d`` from the ground to the bed's base.

    Parameters
    ----------
    above_m : ndarray
        Sill above the ground, negative below, m.
    parameters : LayoutParameters
        ``bed_width`` b, ``cut_side`` s, ``bed_thickness``.

    Returns
    -------
    ndarray
        Areas of the section, m2, of the shape given.

    Examples
    --------
    Sill level with the ground, 0.15 m of bed, sides 0.5:

    >>> round(float(cut_areas(np.array(0.0), LayoutParameters())), 5)
    0.14625
    """
    deep_m = np.maximum(parameters.bed_thickness - above_m, 0.0)
    return np.asarray(deep_m * (parameters.bed_width + parameters.cut_side * deep_m))


def fill_areas(above_m: Floats, parameters: LayoutParameters) -> Floats:
    r"""Berm under and beside the bed: :math:`h (w + s h) - b \min(h, t)`.

    Parameters
    ----------
    above_m : ndarray
        Sill above the ground, m; no berm where not above.
    parameters : LayoutParameters
        Crown ``w``, ``berm_side`` s, ``bed_width`` b, ``bed_thickness`` t.

    Returns
    -------
    ndarray
        Areas of the section, m2, of the shape given.

    Examples
    --------
    >>> round(float(fill_areas(np.array(0.5), LayoutParameters())), 4)  # 0.5 x (1.5 + 1.0) - 0.135
    1.115
    """
    high_m = np.maximum(above_m, 0.0)
    whole = high_m * (crown_width(parameters) + parameters.berm_side * high_m)
    return np.asarray(whole - parameters.bed_width * np.minimum(high_m, parameters.bed_thickness))


def berm_end_m3(above_m: float, parameters: LayoutParameters) -> float:
    r"""Slope behind the lip: :math:`w s h^2 / 2 + \pi s^2 h^3 / 6`.

    Half a prism behind the crown and a quarter of a cone at each of its corners.

    Examples
    --------
    >>> round(berm_end_m3(0.5, LayoutParameters()), 4)  # 1.5 x 2 x 0.25 / 2 + pi x 4 x 0.125 / 6
    0.6368
    """
    high_m, side = max(above_m, 0.0), parameters.berm_side
    return crown_width(parameters) * side * high_m**2 / 2.0 + pi * side**2 * high_m**3 / 6.0


def berm_volume_m3(above_m: Floats, stations_m: Floats, parameters: LayoutParameters) -> float:
    """Berm along the stations (trapezoidal rule) and the slope behind the lip, m3."""
    along_m3 = float(np.trapezoid(fill_areas(above_m, parameters), stations_m))
    return along_m3 + berm_end_m3(float(above_m[0]), parameters)


def hollow_share(above_m: Floats, depth_m: float, parameters: LayoutParameters) -> Floats:
    """Share of a hollow's depth that is cut in the ground; the rest is left out of the berm.

    The berm is not made smaller for it.
    """
    if depth_m <= 0.0:
        return np.zeros_like(above_m)
    into_m = depth_m + parameters.bed_thickness - above_m
    return np.asarray(np.clip(into_m / depth_m, 0.0, 1.0))
