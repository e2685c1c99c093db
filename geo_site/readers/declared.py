"""What a terrain file says of itself, and whether several files say the same.

In: the CRS, the band's unit and the extent of each file. Out: one :class:`TerrainProbe`, or a
refusal that names the files in conflict. What no file says is None or empty: it is asked for,
never guessed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isclose
from pathlib import Path

from pyproj import CRS

from geo_site.crs import horizontal
from geo_site.errors import InputRefused

__all__ = [
    "HIGHEST_M",
    "LOWEST_M",
    "METRES_PER_UNIT",
    "MOST_CELLS",
    "Bounds",
    "Declared",
    "TerrainProbe",
    "agreed",
    "declare",
    "level_unit",
    "spoken_crs",
]

Bounds = tuple[float, float, float, float]

METRES_PER_UNIT = {"m": 1.0, "ft": 0.3048, "us-ft": 1200.0 / 3937.0}
"""Metres in one unit of height, exact by definition."""

LOWEST_M, HIGHEST_M = -500.0, 9_000.0
"""What a ground level can be: the lowest dry ground is about 430 m below the sea."""

MOST_CELLS = 400_000_000
"""Cells that are read at most: 1.6 GB of levels; far beyond any lot and its catchment."""

_WORDS = {
    "m": ("m", "metre", "metres", "meter", "meters"),
    "ft": ("ft", "foot", "feet", "international foot", "international feet"),
    "us-ft": (
        "us-ft", "us_ft", "usft", "ftus", "us foot", "us feet", "us survey foot",
        "us survey feet", "us_survey_foot", "foot_us", "survey foot", "sfoot",
    ),
}  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Declared:
    """What one terrain file says of itself.

    Attributes
    ----------
    path : pathlib.Path
        Where it is.
    told : str
        Its path as the user wrote it.
    crs : pyproj.CRS
        Horizontal CRS.
    vertical_unit : {"m", "ft", "us-ft"} or None
        Unit of its levels; None where it is silent.
    vertical_datum : str
        Name of its vertical datum, or "".
    bounds : tuple of float
        West, south, east, north in ``crs``.
    notes : tuple of str
        What was found on the way.
    """

    path: Path
    told: str
    crs: CRS
    vertical_unit: str | None
    vertical_datum: str
    bounds: Bounds
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class TerrainProbe:
    """What the terrain files say of themselves, together.

    Attributes
    ----------
    crs : pyproj.CRS
        Horizontal CRS, as declared.
    vertical_unit : {"m", "ft", "us-ft"} or None
        Unit of the levels where every file says so itself, else None.
    vertical_datum : str
        Name of the vertical datum where every file names it, else "".
    bounds : tuple of float
        West, south, east, north in ``crs``, around all files.
    """

    crs: CRS
    vertical_unit: str | None
    vertical_datum: str
    bounds: Bounds


def declare(
    path: Path,
    told: str,
    crs: CRS | None,
    bounds: Bounds,
    *,
    band_unit: str | None = None,
    notes: tuple[str, ...] = (),
) -> Declared:
    """Read what a file's CRS and band unit say about its levels.

    Parameters
    ----------
    path : pathlib.Path
        Where the file is.
    told : str
        Its path as the user wrote it.
    crs : pyproj.CRS or None
        As found, compound or not.
    bounds : tuple of float
        West, south, east, north.
    band_unit : str, optional
        Unit as the band names it.
    notes : tuple of str
        What was found on the way.

    Returns
    -------
    Declared
        With the horizontal CRS only.

    Raises
    ------
    InputRefused
        No CRS, a local one, or heights in a unit that is none of ours, or that point down.
    """
    if crs is None:
        raise InputRefused(
            "the terrain has no CRS",
            remedy="write it into the file (a .prj beside an .asc)",
            file=told,
        )
    flat = horizontal(crs).to_2d()
    if not (flat.is_projected or flat.is_geographic):
        raise InputRefused(
            f"{flat.name} is neither a projected nor a geographic CRS",
            remedy="write the true CRS into the file",
            file=told,
        )
    by_crs, datum = _vertical_of(crs, told)
    by_band = _unit_named(band_unit, told) if band_unit else None
    if by_crs and by_band and by_crs != by_band:
        raise InputRefused(
            f"the CRS says heights in {by_crs}, the band says {by_band}",
            remedy="correct the file",
            file=told,
        )
    return Declared(
        path=path,
        told=told,
        crs=flat,
        vertical_unit=by_crs or by_band,
        vertical_datum=datum,
        bounds=bounds,
        notes=notes,
    )


def _vertical_of(crs: CRS, told: str) -> tuple[str | None, str]:
    if crs.is_bound and crs.source_crs is not None:
        return _vertical_of(crs.source_crs, told)
    if crs.is_compound:
        vertical = next((part for part in crs.sub_crs_list if part.is_vertical), None)
        if vertical is None:
            return None, ""
        axis = vertical.axis_info[0]
        if axis.direction != "up":
            raise InputRefused(
                f"heights of {vertical.name} count {axis.direction}wards",
                remedy="give levels that count upwards",
                file=told,
            )
        datum = vertical.datum.name if vertical.datum is not None else vertical.name
        return _unit_of_length(axis.unit_conversion_factor, axis.unit_name, told), str(datum)
    if len(crs.axis_info) == 3:
        axis = crs.axis_info[2]
        unit = _unit_of_length(axis.unit_conversion_factor, axis.unit_name, told)
        return unit, f"ellipsoidal height, {crs.name}"
    return None, ""


def _unit_of_length(metres: float, name: str, told: str) -> str:
    for unit, factor in METRES_PER_UNIT.items():
        if isclose(metres, factor, rel_tol=1e-7):  # the two feet differ by 2e-6
            return unit
    raise InputRefused(
        f"heights in {name} are not read", remedy="give them in m, ft or us-ft", file=told
    )


def _unit_named(name: str, told: str) -> str:
    plain = " ".join(name.lower().replace(".", "").split())
    for unit, words in _WORDS.items():
        if plain in words:
            return unit
    raise InputRefused(
        f"the band's unit is {name!r}", remedy="give heights in m, ft or us-ft", file=told
    )


def agreed(files: Sequence[Declared]) -> TerrainProbe:
    """Make one of what all files say, or refuse.

    Parameters
    ----------
    files : sequence of Declared
        At least one.

    Returns
    -------
    TerrainProbe
        Around all of them.

    Raises
    ------
    InputRefused
        CRSs, vertical units or vertical datums differ: both are named.
    """
    first = files[0]
    for other in files[1:]:
        if not first.crs.equals(other.crs, ignore_axis_order=True):
            raise _differ("CRS", first, spoken_crs(first.crs), other, spoken_crs(other.crs))
    unit = _the_same("vertical unit", files, [file.vertical_unit or "" for file in files])
    datum = _the_same("vertical datum", files, [file.vertical_datum for file in files])
    west, south, east, north = zip(*(file.bounds for file in files), strict=True)
    return TerrainProbe(
        crs=first.crs,
        vertical_unit=unit or None,
        vertical_datum=datum,
        bounds=(min(west), min(south), max(east), max(north)),
    )


def _the_same(what: str, files: Sequence[Declared], said: Sequence[str]) -> str:
    spoken = [(file, word) for file, word in zip(files, said, strict=True) if word]
    for file, word in spoken[1:]:
        if word != spoken[0][1]:
            raise _differ(what, *spoken[0], file, word)
    return said[0] if len(spoken) == len(files) else ""


def _differ(what: str, first: Declared, one: str, second: Declared, two: str) -> InputRefused:
    return InputRefused(
        f"the {what} of {first.told} is {one}, of {second.told} {two}",
        remedy=f"give tiles of one {what}",
        file=f"{first.told}, {second.told}",
    )


def level_unit(files: Sequence[Declared], given: str | None) -> str:
    """Settle the unit of the levels: the file's word, else the user's, never a guess.

    Parameters
    ----------
    files : sequence of Declared
        As found.
    given : str or None
        ``vertical_unit`` of the site file.

    Returns
    -------
    {"m", "ft", "us-ft"}
        A key of :data:`METRES_PER_UNIT`.

    Raises
    ------
    InputRefused
        Nobody says, or the user contradicts a file.
    """
    if given is not None and given not in METRES_PER_UNIT:
        raise InputRefused(f"vertical_unit is {given!r}", remedy="say m, ft or us-ft")
    for file in files:
        if given and file.vertical_unit and file.vertical_unit != given:
            raise InputRefused(
                f"the file says heights in {file.vertical_unit}, vertical_unit says {given}",
                remedy="leave vertical_unit away, or correct the file if it is wrong",
                file=file.told,
            )
        if not (given or file.vertical_unit):
            raise InputRefused(
                "the file does not say whether its heights are metres or feet",
                remedy="say vertical_unit = m, ft or us-ft",
                file=file.told,
            )
    return given or str(files[0].vertical_unit)


def spoken_crs(crs: CRS) -> str:
    """Name and authority code of a CRS, as far as it has one."""
    code = crs.to_authority()
    return f"{crs.name} ({':'.join(code)})" if code else str(crs.name)
