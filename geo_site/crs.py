"""Which coordinate system is worked in: the one question, asked once.

In: the CRS of the terrain and of the parcel file, and where the site is. Out: one projected
metric CRS for everything inside, and transformers that refuse a datum shift too coarse for a
clearance. Method: the terrain's own grid is kept when it is projected and true to scale at
the site; a foot grid becomes its metric twin (same projection, metres). Reference: IOGP
Geomatics Guidance Note 7-2 for the projections; PROJ does the arithmetic.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import pyproj
from numpy.typing import NDArray
from pyproj import CRS
from pyproj.enums import WktVersion
from pyproj.transformer import TransformerGroup

from geo_site.errors import InputRefused

__all__ = [
    "Degrees",
    "Shift",
    "as_wkt",
    "code_of",
    "combined_factor",
    "horizontal",
    "is_true_to_scale",
    "linear_unit_m",
    "metric_twin",
    "scale_factor",
    "shift_between",
    "to_degrees",
    "unit_of_twin",
    "utm_for",
]

_EARTH_RADIUS_M = 6_372_160.0  # mean radius used by NOAA Manual NOS NGS 5 (20,906,000 ft)
_SCALE_TOLERANCE = 2e-3  # 2 mm in a metre: beyond it (web maps, world grids) distances mislead
_WORST_SHIFT_M = 1.0  # a datum shift known no better than this cannot carry a clearance


def horizontal(crs: CRS) -> CRS:
    """Give the horizontal part of a CRS, without its vertical part.

    Parameters
    ----------
    crs : pyproj.CRS
        Any CRS, compound or not.

    Returns
    -------
    pyproj.CRS
        The first sub-CRS of a compound one, the source of a bound one, else ``crs`` itself.
    """
    if crs.is_compound:
        return horizontal(crs.sub_crs_list[0])
    if crs.is_bound and crs.source_crs is not None:
        return horizontal(crs.source_crs)
    return crs


def linear_unit_m(crs: CRS) -> float:
    """Length in metres of one unit of a projected CRS's axes.

    Examples
    --------
    >>> linear_unit_m(CRS.from_epsg(2994))
    0.3048
    """
    return float(crs.axis_info[0].unit_conversion_factor)


@lru_cache(maxsize=16)
def metric_twin(crs: CRS) -> CRS:
    """Give the same projection with its axes in metres.

    Coordinates of the twin are those of ``crs`` times :func:`linear_unit_m`, exactly: no point
    moves on the ground.

    Parameters
    ----------
    crs : pyproj.CRS
        A projected CRS.

    Returns
    -------
    pyproj.CRS
        ``crs`` itself when it is metric already.

    Examples
    --------
    >>> feet = CRS.from_epsg(2264)
    >>> twin = metric_twin(feet)
    >>> to_twin = pyproj.Transformer.from_crs(feet, twin, always_xy=True)
    >>> round(to_twin.transform(2_000_000.0, 0.0)[0], 4)
    609601.2192
    """
    if linear_unit_m(crs) == 1.0:
        return crs
    twin = crs.to_json_dict()
    twin.pop("id", None)
    twin["name"] = f"{crs.name} (metres)"
    for axis in twin["coordinate_system"]["axis"]:
        axis["unit"] = "metre"
    return CRS.from_json_dict(twin)


def unit_of_twin(working: CRS, crs: CRS) -> float | None:
    """Metres in one unit of a CRS whose metric twin is worked in; None where it is not.

    Examples
    --------
    >>> feet = CRS.from_epsg(2264)
    >>> round(unit_of_twin(metric_twin(feet), feet), 9), unit_of_twin(utm_for(-81.0, 36.0), feet)
    (0.30480061, None)
    """
    if crs.is_projected and working.equals(metric_twin(crs), ignore_axis_order=True):
        return linear_unit_m(crs)
    return None


def utm_for(lon: float, lat: float) -> CRS:
    """Give the WGS 84 UTM zone of a point in degrees.

    Examples
    --------
    >>> utm_for(-81.0, 36.0).to_epsg()
    32617
    """
    zone = int(min(max((lon + 180.0) // 6.0 + 1.0, 1.0), 60.0))
    return CRS.from_epsg((32600 if lat >= 0.0 else 32700) + zone)


@lru_cache(maxsize=16)
def scale_factor(crs: CRS, x: float, y: float) -> float:
    """Grid distance over ellipsoid distance at a point, the worst of the two directions.

    Parameters
    ----------
    crs : pyproj.CRS
        A projected CRS.
    x, y : float
        A point in the units of ``crs``.

    Returns
    -------
    float
        Scale factor k; NaN where the projection is not defined at the point.
    """
    projection = pyproj.Proj(crs)
    to_degrees = pyproj.Transformer.from_crs(crs, crs.geodetic_crs, always_xy=True)
    lon, lat = to_degrees.transform(x, y)
    factors = projection.get_factors(lon, lat)
    scales = np.array([factors.meridional_scale, factors.parallel_scale])
    if not np.all(np.isfinite(scales)):
        return float("nan")
    return float(scales[np.argmax(np.abs(scales - 1.0))])


def is_true_to_scale(crs: CRS, x: float, y: float) -> bool:
    """Whether distances in a projected CRS are within 0.2 % of the ellipsoid's at a point."""
    return bool(abs(scale_factor(crs, x, y) - 1.0) <= _SCALE_TOLERANCE)


def combined_factor(
    grid_scale: float, ellipsoid_height_m: float, radius_m: float = _EARTH_RADIUS_M
) -> float:
    """Give grid distance over distance on the ground at a height.

    ``k R / (R + h)``: the grid's scale factor times the elevation factor.

    Parameters
    ----------
    grid_scale : float
        From :func:`scale_factor`.
    ellipsoid_height_m : float
        Of the ground above the ellipsoid: level above the geoid plus geoid height, m.
    radius_m : float
        Of the earth at the site, m.

    Returns
    -------
    float
        Below 1 where a tape on the ground reads more than the map.

    References
    ----------
    NOAA Manual NOS NGS 5, State Plane Coordinate System of 1983 (1989), section 4.

    Examples
    --------
    >>> round(combined_factor(0.9996, 300.0), 6)
    0.999553
    """
    return grid_scale * radius_m / (radius_m + ellipsoid_height_m)


@dataclass(frozen=True)
class Shift:
    """A way from one CRS to another, in x, y order.

    Attributes
    ----------
    transformer : pyproj.Transformer
        The operation used.
    accuracy_m : float
        How well the positions are known after it, 0 for a pure change of projection. It adds
        to the position uncertainty of every line that came through it.
    """

    transformer: pyproj.Transformer
    accuracy_m: float

    def __call__(self, xy: NDArray[np.float64]) -> NDArray[np.float64]:
        """Move points, shape (n, 2), and give them back in the same shape."""
        x, y = self.transformer.transform(xy[:, 0], xy[:, 1], errcheck=True)
        return np.column_stack([x, y])


def shift_between(
    source: CRS,
    target: CRS,
    *,
    file: str | None = None,
    stated_accuracy_m: float | None = None,
) -> Shift:
    """Find the way from one CRS to another, or refuse it.

    Parameters
    ----------
    source, target : pyproj.CRS
        CRSs; only their horizontal parts count.
    file : str, optional
        Named in the refusal.
    stated_accuracy_m : float, optional
        What the user vouches for instead of the registry's figure.

    Returns
    -------
    Shift
        Ready to call.

    Raises
    ------
    InputRefused
        No operation is known, or the best one that is installed is known no better than 1 m,
        or not at all: a clearance cannot stand on that.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)  # a missing grid is judged below
        group = TransformerGroup(horizontal(source), horizontal(target), always_xy=True)
    way = f"{source.name} to {target.name}"
    if not group.transformers:
        raise InputRefused(
            f"no way from {way} is known", remedy="give the file in the terrain's CRS", file=file
        )
    first = group.transformers[0]
    accuracy_m = first.accuracy if stated_accuracy_m is None else stated_accuracy_m
    if accuracy_m is None or not 0.0 <= accuracy_m <= _WORST_SHIFT_M:
        known = f"known to {accuracy_m:g} m only" if (accuracy_m or -1.0) > 0.0 else "not known"
        grid = "" if group.best_available else " (the grid of the better one is not installed)"
        raise InputRefused(
            f"the accuracy of the datum shift from {way} is {known}{grid}",
            remedy="transform the file with a grid-based shift first, or state shift_accuracy "
            "(metres, at most 1) for this input",
            file=file,
        )
    return Shift(first, float(accuracy_m))


@dataclass(frozen=True)
class Degrees:
    """Positions on WGS 84, as a phone or a one-call centre takes them.

    Attributes
    ----------
    lon_lat : ndarray, shape (n, 2)
        Longitude and latitude, degrees.
    accuracy_m : float
        How well the registry knows the shift to WGS 84; NaN: not stated. The grid's own
        positions are no worse for it.
    """

    lon_lat: NDArray[np.float64]
    accuracy_m: float


def to_degrees(crs: CRS, xy: NDArray[np.float64]) -> Degrees:
    """Give positions of a projected CRS in degrees on WGS 84.

    Parameters
    ----------
    crs : pyproj.CRS
        Of the positions.
    xy : ndarray, shape (n, 2)
        In its units.

    Returns
    -------
    Degrees
        Never refused, for no clearance stands on it; its accuracy is to be told beside it.

    Raises
    ------
    InputRefused
        No way to WGS 84 is known.

    Examples
    --------
    >>> there = to_degrees(CRS.from_epsg(32617), np.array([[500_000.0, 3_983_948.453]]))
    >>> [round(float(value), 6) for value in there.lon_lat[0]], there.accuracy_m
    ([-81.0, 36.0], 0.0)
    """
    first = _way_to_degrees(crs)
    lon, lat = first.transform(xy[:, 0], xy[:, 1], errcheck=True)
    known = first.accuracy is not None and first.accuracy >= 0.0
    return Degrees(np.column_stack([lon, lat]), float(first.accuracy) if known else np.nan)


@lru_cache(maxsize=16)  # finding the way takes longer than going it
def _way_to_degrees(crs: CRS) -> pyproj.Transformer:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)  # a missing grid shows in the accuracy
        group = TransformerGroup(horizontal(crs), CRS.from_epsg(4326), always_xy=True)
    if not group.transformers:
        raise InputRefused(
            f"no way from {crs.name} to WGS 84 is known", remedy="give the parcel in another CRS"
        )
    return group.transformers[0]


def code_of(crs: CRS) -> str:
    """Authority and code that a CRS itself states, such as ``EPSG:32617``; empty for none.

    The registry is not searched for one that matches: that takes a quarter of a second, and a
    metric twin has none.

    Examples
    --------
    >>> code_of(CRS.from_epsg(2264)), code_of(metric_twin(CRS.from_epsg(2264)))
    ('EPSG:2264', '')
    """
    stated = crs.to_json_dict().get("id", {})
    return f"{stated['authority']}:{stated['code']}" if stated else ""


def as_wkt(crs: CRS) -> str:
    """WKT 2 text of a CRS: how one is passed between libraries with a PROJ of their own."""
    return str(crs.to_wkt(WktVersion.WKT2_2019))
