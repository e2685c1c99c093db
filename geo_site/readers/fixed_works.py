"""Works and ground that the site file pins: ``[fixed]``.

In: the site file and its site without them. Out: :class:`~geo_site.drawn.Drawn` and a record of
each file. Method: each table names a file as ``[inputs]`` do; ``plan`` and ``layers`` take works
of an edited plan; all are then judged and turned as those of an edited plan are.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import shapely
from shapely import Point

from geo_site.drawn import Drawn
from geo_site.errors import InputRefused
from geo_site.readers.drawn_checks import Place, check_shapes
from geo_site.readers.drawn_layers import Shape, read_shapes
from geo_site.readers.drawn_works import Parts, drawn_from
from geo_site.readers.features import record_of
from geo_site.readers.fixed_tables import FixedInput, FixedTables
from geo_site.readers.guards import safe_path
from geo_site.readers.parcels import as_text
from geo_site.readers.plan_file import LOST, WORK_LAYERS, PlanShapes, read_plan_shapes
from geo_site.readers.vectors import VectorFile, open_vector, way_between
from geo_site.site import InputRecord, Site

__all__ = ["read_fixed"]

_LAYERS = {"stream": "stream_alignment", "pipe": "pipe_run"}
_SORTS = {
    "basin": "area",
    "spillway": "point",
    "stream_alignment": "line",
    "pipe_run": "line",
    "spoil_pile": "area",
    "silt_fence": "line",
    "machine_route": "line",
    "keep_off": "area",
    "must_pass": "point",
}
_AT_M = 0.5  # a hand's breadth on a screen: how far from a line a point may be that means it


def read_fixed(
    tables: FixedTables, folder: Path, site: Site
) -> tuple[Drawn, tuple[InputRecord, ...]]:
    """Read what ``[fixed]`` names.

    Parameters
    ----------
    tables : FixedTables
        From the site file.
    folder : pathlib.Path
        Where the site file is.
    site : Site
        Without pinned works.

    Returns
    -------
    drawn : Drawn
        Empty where nothing is pinned.
    records : tuple of InputRecord
        One for each file, named ``fixed.basin`` and the like.

    Raises
    ------
    InputRefused
        As :func:`~geo_site.readers.plan_file.read_drawn`, and no or several features where one
        is wanted.
    """
    shapes: dict[str, tuple[Shape, ...]] = {}
    records: list[InputRecord] = []
    notes: list[str] = []
    if tables.plan is not None:
        taken = _from_plan(tables.plan, tables.layers, folder, site)
        shapes |= taken.shapes
        notes += [] if taken.said else [LOST]
        records += [_record(f"fixed.{f.layer}", f, shapes[f.layer]) for f in taken.files]
    for work, table in tables.works.items():
        file, found = _from_file(work, table, folder, site)
        shapes[_LAYERS.get(work, work)] = found
        records.append(_record(f"fixed.{work}", file, found))
    drawn = drawn_from(Parts(shapes), site)
    return replace(drawn, notes=(*drawn.notes, *notes, *_unused(drawn))), tuple(records)


def _from_plan(told: str, works: Sequence[str], folder: Path, site: Site) -> PlanShapes:
    path = safe_path(told, folder, name="plan", table="fixed.")
    wanted = [layer for work in works for layer in WORK_LAYERS[work]]
    found = read_plan_shapes(path, told, site, wanted)
    for work in works:
        layer = WORK_LAYERS[work][0]
        if not found.shapes.get(layer):
            raise InputRefused(
                f"[fixed] takes the {work} of it, and it has none",
                remedy="draw it, or take it out of fixed.layers",
                file=told,
                layer=layer,
            )
    return found


def _from_file(
    work: str, table: FixedInput, folder: Path, site: Site
) -> tuple[VectorFile, tuple[Shape, ...]]:
    layer = _LAYERS.get(work, work)
    file = open_vector(table, folder, work, group="fixed.")
    shapes = read_shapes(file, table, _SORTS[layer], site.crs)
    if table.where:
        shapes = _matching(shapes, table, file)
    elif table.at is not None:
        shapes = _there(shapes, table, file, site)
    if not shapes:
        raise file.refuse("the layer holds no features", "draw it, or choose another layer")
    check_shapes(layer, shapes, site.terrain, Place(file=file.told, layer=file.layer or None))
    return file, shapes


def _matching(shapes: tuple[Shape, ...], table: FixedInput, file: VectorFile) -> tuple[Shape, ...]:
    for name, wanted in table.where.items():
        if name not in file.fields:
            fields = ", ".join(file.fields) or "none"
            raise file.refuse(f"there is no field {name} for where", f"fields: {fields}")
        shapes = tuple(s for s in shapes if as_text(s.attributes.get(name)) == as_text(wanted))
        if not shapes:
            raise file.refuse(
                f"no feature has {name} = {as_text(wanted)}", "correct where, or the feature"
            )
    return shapes


def _there(
    shapes: tuple[Shape, ...], table: FixedInput, file: VectorFile, site: Site
) -> tuple[Shape, ...]:
    assert table.at is not None
    way = way_between(file.crs, site.crs, table)
    point = Point(way.points(np.array([table.at]))[0])
    found = tuple(shape for shape in shapes if shape.geometry.distance(point) <= _AT_M)
    if not found:
        raise file.refuse(
            f"no feature lies at the point {table.at}", "give a point in or on it, in its CRS"
        )
    return found


def _record(name: str, file: VectorFile, shapes: Sequence[Shape]) -> InputRecord:
    bounds = shapely.total_bounds([shape.geometry for shape in shapes])
    extent = tuple(float(value) for value in bounds)
    return record_of(name, file, len(shapes), extent, file.notes)


def _unused(drawn: Drawn) -> Iterator[str]:
    if drawn.spillway is not None and drawn.stream is not None:
        yield "the pinned spillway is not used: the pinned stream has its own"
