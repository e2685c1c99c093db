"""A plan that a person edited in a desktop GIS: the works in it, and what it said before.

In: a GeoPackage with the layers that ``propose`` writes, edited in any way, and its site. Out:
the :class:`~geo_site.drawn.Drawn` works in the working CRS, and the figures that the plan said of
itself. Method: a layer or feature that is not there is a work to be worked out; layers that
follow from others (excavation, clearances, digging and the like) are not read. The file is
opened for reading only.
"""

from __future__ import annotations

import json
import math
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

import shapely

from geo_site.drawn import Drawn, Earlier
from geo_site.errors import InputRefused
from geo_site.layers import ALTERNATIVE, LAYERS_VERSION, MADE_BY
from geo_site.readers import guards
from geo_site.readers.drawn_checks import Place, check_shapes
from geo_site.readers.drawn_layers import Shape, number_at, read_shapes
from geo_site.readers.drawn_works import Parts, drawn_from
from geo_site.readers.inputs import FileInput
from geo_site.readers.vectors import Lister, VectorFile, layers_in, open_vector, unreadable
from geo_site.site import Site

__all__ = ["LOST", "SORTS", "WORK_LAYERS", "PlanShapes", "read_drawn", "read_plan_shapes"]

SORTS: Mapping[str, str] = MappingProxyType(
    {
        "basin": "area",
        "stream_alignment": "line",
        "stream_reaches": "line",
        "stream_falls": "point",
        "stream_pools": "area",
        "pipe_run": "line",
        "spoil_pile": "area",
        "silt_fence": "line",
        "machine_route": "line",
    }
)
"""Layers that are read, and what their features must be."""
_PLAIN = ("sequence", "kind", ALTERNATIVE)
LOST = (
    "the plan file has lost what it said of itself: depths, heights and widths in its columns are "
    "not read, and changes cannot be told"
)
"""Told of a plan file without its metadata."""
_LEAST_SHARE = 0.5  # of the smaller of two lots: less in common is another site


WORK_LAYERS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "basin": ("basin",),
        "stream": ("stream_alignment", "stream_reaches", "stream_falls", "stream_pools"),
        "pipe": ("pipe_run",),
        "spoil_pile": ("spoil_pile",),
        "silt_fence": ("silt_fence",),
        "machine_route": ("machine_route",),
    }
)
"""Layers that make up each work, the one that it cannot be without first."""


@dataclass(frozen=True, kw_only=True)
class PlanShapes:
    """What was read of a plan file.

    Attributes
    ----------
    shapes : mapping of str to tuple of Shape
        By layer, in the working CRS; checked.
    files : tuple of VectorFile
        The layers, as opened.
    said : mapping
        The plan's own metadata; empty where another program has lost them.
    alternative : int
        Which plan was read.
    """

    shapes: Mapping[str, tuple[Shape, ...]]
    files: tuple[VectorFile, ...]
    said: Mapping[str, Any]
    alternative: int


def read_drawn(
    path: str | Path, site: Site, *, alternative: int | None = None
) -> tuple[Drawn, Earlier]:
    """Read the works of an edited plan.

    Parameters
    ----------
    path : str or Path
        The GeoPackage.
    site : Site
        Its site.
    alternative : int or None
        Which plan, where the file holds several; None: it holds one.

    Returns
    -------
    Drawn
        In the site's CRS, m. What is not there is None or empty.
    Earlier
        Figures of the plan before it was edited; empty where the file has lost them.

    Raises
    ------
    InputRefused
        Not a plan, one of another site or of another version of the layers, two basins, a basin
        that is no area, shapes that cross themselves, works outside the terrain.
    """
    file = guards.safe_path(str(path), Path(), name="plan", table="")
    found = read_plan_shapes(file, file.name, site, tuple(SORTS), alternative=alternative)
    drawn = drawn_from(Parts(found.shapes), site)
    if not found.said:
        drawn = replace(drawn, notes=(*drawn.notes, LOST))
    return drawn, _earlier(found.said, found.alternative)


def read_plan_shapes(
    file: Path, told: str, site: Site, wanted: Sequence[str], *, alternative: int | None = None
) -> PlanShapes:
    """Read layers of a plan file and check that it is one of this site.

    Parameters
    ----------
    file : pathlib.Path
        From ``safe_path``.
    told : str
        As the user wrote it.
    site : Site
        Its site.
    wanted : sequence of str
        Layers, keys of :data:`SORTS`.
    alternative : int or None
        Which plan, where the file holds several; None: it holds one.

    Returns
    -------
    PlanShapes
        Layers that are not in the file are left out.

    Raises
    ------
    InputRefused
        As :func:`read_drawn`.
    """
    if guards.sniff(file, told) != "gpkg":
        raise InputRefused(
            "a plan is handed back as a GeoPackage, and this is none",
            remedy="hand back plan.gpkg as it was edited",
            file=told,
        )
    _refuse_unsaved(file, told)
    lister = cache(layers_in)
    layers = _layers(file, told, lister)
    known = [name for name in SORTS if name in layers]
    if not known:
        raise InputRefused(
            "no layer of a plan is in it",
            remedy=f"hand back a plan with its layers: {', '.join(SORTS)}",
            file=told,
        )
    said = _metadata(file, told)
    _check_crs(file, told, [name for name in known if name in wanted])
    if "parcel" in layers:
        _check_site(_opened(file, told, "parcel", lister), site)
    opened = [_opened(file, told, name, lister) for name in known if name in wanted]
    read = {
        one.layer: read_shapes(one, FileInput(path=told), SORTS[one.layer], site.crs)
        for one in opened
    }
    number = _number_of(read, alternative, told)
    shapes = {}
    for one in opened:
        shapes[one.layer] = _trusted(_chosen(read[one.layer], number), bool(said))
        check_shapes(one.layer, shapes[one.layer], site.terrain, Place(file=told, layer=one.layer))
    return PlanShapes(
        shapes=MappingProxyType(shapes), files=tuple(opened), said=said, alternative=number
    )


def _refuse_unsaved(file: Path, told: str) -> None:
    """Refuse a file whose last edits still lie beside it."""
    beside = file.with_name(f"{file.name}-wal")
    if beside.exists() and beside.stat().st_size > 0:
        raise InputRefused(
            f"another program has it open: its last edits lie in {beside.name}",
            remedy="save the edits and close the program, then hand it back",
            file=told,
        )


def _trusted(shapes: tuple[Shape, ...], is_ours: bool) -> tuple[Shape, ...]:
    """Keep figures of a file that says whose they are; without that, order and kind only."""
    if is_ours:
        return shapes
    return tuple(
        replace(shape, attributes={k: v for k, v in shape.attributes.items() if k in _PLAIN})
        for shape in shapes
    )


def _layers(file: Path, told: str, lister: Lister) -> list[str]:
    try:
        found = lister(str(file))
    except (RuntimeError, ValueError, OSError) as fault:
        raise unreadable(fault, told) from None
    return [name for name, kind in found if kind is not None]


def _asked(file: Path, query: str, values: tuple[str, ...]) -> list[tuple[Any, ...]]:
    """Ask the file's own tables, for reading only; nothing where they are not there."""
    database = sqlite3.connect(f"{file.as_uri()}?mode=ro&immutable=1", uri=True)
    try:
        return database.execute(query, values).fetchall()
    except sqlite3.Error:
        return []
    finally:
        database.close()


def _metadata(file: Path, told: str) -> Mapping[str, Any]:
    """What the plan's own metadata say; empty where another program has lost them."""
    query = "SELECT metadata FROM gpkg_metadata WHERE instr(metadata, ?)"
    rows = _asked(file, query, (MADE_BY,))
    said = _parsed(rows[0][0]) if rows else {}
    version = said.get("layers_version", LAYERS_VERSION)
    if version != LAYERS_VERSION:
        raise InputRefused(
            f"its layers are of version {version}, this program reads version {LAYERS_VERSION}",
            remedy="propose again with this version, and draw in that plan",
            file=told,
        )
    return said


def _check_crs(file: Path, told: str, names: Sequence[str]) -> None:
    rows = _asked(file, "SELECT table_name, srs_id FROM gpkg_geometry_columns", ())
    unknown = {name for name, number in rows if isinstance(number, int) and number <= 0}
    for name in names:
        if name in unknown:
            raise InputRefused(
                "the layer does not say which CRS its coordinates are in",
                remedy="give it the CRS that the other layers of the plan have",
                file=told,
                layer=name,
            )


def _parsed(text: object) -> dict[str, Any]:
    try:
        said = json.loads(str(text))
    except json.JSONDecodeError:
        return {}
    return said if isinstance(said, dict) else {}


def _opened(file: Path, told: str, name: str, lister: Lister) -> VectorFile:
    table = FileInput(path=file.name, layer=name)
    return replace(open_vector(table, file.parent, name, lister=lister), told=told)


def _check_site(file: VectorFile, site: Site) -> None:
    """Refuse a plan whose lot is another."""
    lots = read_shapes(file, FileInput(path=file.told), "area", site.crs)
    lot = shapely.union_all([shape.geometry for shape in lots])
    if lot.is_empty:
        return
    shared_m2 = lot.intersection(site.parcel).area
    if shared_m2 < _LEAST_SHARE * min(lot.area, site.parcel.area):
        raise InputRefused(
            "this is a plan of another site: its lot is not the site file's",
            remedy="give the site file that it was made from",
            file=file.told,
            layer="parcel",
            ids=[shape.number for shape in lots],
        )


def _number_of(read: Mapping[str, tuple[Shape, ...]], alternative: int | None, told: str) -> int:
    """Number of the plan that is read; one of several is never taken unasked."""
    numbers = {number_at(shape, ALTERNATIVE) for shapes in read.values() for shape in shapes}
    there = sorted(int(number) for number in numbers if math.isfinite(number))
    if alternative is None and len(there) <= 1:
        return there[0] if there else 1
    held = ", ".join(map(str, there)) or "one plan, without numbers"
    if alternative is None:
        raise InputRefused(
            f"it holds several plans: {held}",
            remedy="say which one is judged, with --alternative N (in Python: alternative=N); "
            "under [fixed] name a file that holds one",
            file=told,
        )
    if alternative != 1 and alternative not in there:
        raise InputRefused(
            f"it holds no plan {alternative}", remedy=f"choose one that it holds: {held}", file=told
        )
    return alternative


def _chosen(shapes: tuple[Shape, ...], alternative: int) -> tuple[Shape, ...]:
    """Features of one plan, where the file holds several; what is drawn anew belongs to it."""
    numbers = [number_at(shape, ALTERNATIVE) for shape in shapes]
    return tuple(
        shape
        for shape, number in zip(shapes, numbers, strict=True)
        if math.isnan(number) or number == alternative
    )


def _earlier(said: Mapping[str, Any], alternative: int) -> Earlier:
    others = said.get("figures_of_alternatives")
    told = [said.get("figures"), *(others if isinstance(others, list) else ())]
    figures = told[alternative - 1] if alternative <= len(told) else None
    if not isinstance(figures, dict):
        return Earlier()
    known = {
        str(name): float(value)
        for name, value in figures.items()
        if isinstance(value, int | float) and math.isfinite(value)
    }
    return Earlier(figures=MappingProxyType(known))
