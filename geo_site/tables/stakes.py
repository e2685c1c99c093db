"""Points for a set-out instrument: point, easting, northing, level, code, note.

Positions are in the CRS of the parcel file and in its unit; levels and the lengths in the notes are
in that unit too, so that one file has one unit. Head lines that begin with # say which CRS and
unit, and what a tape on the ground reads for a distance on the grid.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from shapely import get_coordinates

from geo_site.crs import code_of, combined_factor, linear_unit_m, scale_factor
from geo_site.layers import LAYERS, output_crs, to_table
from geo_site.tables.lists import guarded

if TYPE_CHECKING:
    from geo_site.plan import Plan

__all__ = ["write_set_out"]

_HEADER = ("point", "easting", "northing", "level", "code", "note")
_UNIT_NAMES = {1.0: "metres", 0.3048: "feet"}
_DECIMALS = 4
_METRES = re.compile(r"\b(\d+\.\d+) m\b")


def write_set_out(plan: Plan, path: str | Path) -> Path:
    """Write the points to stake.

    Parameters
    ----------
    plan : Plan
        With or without a proposal; without one there is a head and no point.
    path : str or Path
        Target.

    Returns
    -------
    Path
        The target.
    """
    target = Path(path)
    layer = next(layer for layer in LAYERS if layer.name == "set_out")
    points = to_table(layer, plan)
    unit_m = linear_unit_m(output_crs(plan.site))
    with target.open("w", encoding="utf-8", newline="") as file:
        for line in _head(plan, unit_m):
            file.write(f"# {line}\r\n")
        writer = csv.writer(file, lineterminator="\r\n")
        writer.writerow(_HEADER)
        places = get_coordinates(points.geometries, include_z=True) / [1.0, 1.0, unit_m]
        for name, note, place in zip(
            points.columns["code"], points.columns["note"], places, strict=True
        ):
            numbers = [f"{value:.{_DECIMALS}f}" for value in place]
            told = guarded(_in_unit(note, unit_m))
            writer.writerow([name, *numbers, name.rstrip("0123456789"), told])
    return target


def _in_unit(note: str, unit_m: float) -> str:
    """Say the metres of a note in the file's unit: two units of level in a row are mixed up."""
    if unit_m == 1.0:
        return note
    return _METRES.sub(lambda found: f"{float(found[1]) / unit_m:.2f} ft", note)


def _head(plan: Plan, unit_m: float) -> Iterator[str]:
    site, crs = plan.site, output_crs(plan.site)
    unit = _UNIT_NAMES.get(unit_m, "US survey feet")
    told = "".join(mark for mark in site.name if mark.isprintable())
    code = code_of(crs)
    yield f"set-out of {told}"
    yield f"positions: {crs.name}{f' ({code})' if code else ''}, in {unit}"
    rounded = "" if unit_m == 1.0 else ", from whole centimetres"
    datum = site.vertical_datum or "vertical datum not stated"
    yield f"levels: {datum}, in {unit}; notes in the same{rounded}"
    scale = scale_factor(site.crs, *site.parcel.centroid.coords[0])
    level_m = _level(plan)
    ground = combined_factor(scale, level_m)
    yield (
        f"grid scale {scale:.7f}; with the height of {level_m:.0f} m counted {ground:.7f}: divide "
        "a grid distance by it for the distance on the ground (geoid height is left out)"
    )
    yield "a desk study from lidar and mapped lines: check levels and the boundary before staking"


def _level(plan: Plan) -> float:
    here = plan.site.parcel.representative_point()
    level_m = float(plan.terrain.ground.sample(np.array([[here.x, here.y]]))[0])
    return level_m if level_m == level_m else 0.0  # noqa: PLR0124 - no data is not itself
