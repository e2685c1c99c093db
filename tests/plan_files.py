"""A small plan file beside the site of ``site_files``: a lot, a basin, a stream that ends in it."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import plan_edits
import shapely
from shapely import LineString, Point, box
from shapely.geometry.base import BaseGeometry
from site_files import CRS, LOT, ORIGIN, at_origin, write_vector

from geo_site.layers import LAYERS_VERSION, MADE_BY

BASIN = box(18.0, 2.0, 22.0, 5.0)
STREAM = LineString([(20.0, 20.0, 9.0), (20.0, 12.0, 8.5), (20.0, 4.0, 8.0)])


def small_plan(folder: Path, *, version: int = LAYERS_VERSION) -> Path:
    """Write ``plan.gpkg`` with what a refusal needs, and no more."""
    path = folder / "plan.gpkg"
    for layer, shape in {
        "parcel": LOT,
        "basin": BASIN,
        "stream_alignment": STREAM,
        "stream_falls": Point(20.0, 12.0, 8.5),
    }.items():
        write_vector(path, [_placed(shape)], {"depth_m": [0.7]}, layer=layer, crs=CRS)
    said = json.dumps({"made_by": MADE_BY, "layers_version": version, "figures": {"fall_m": 1.0}})
    write_metadata(path, said)
    return path


def _placed(shape: BaseGeometry) -> BaseGeometry:
    if not shape.has_z:
        return at_origin(shape)
    return shapely.transform(shape, lambda xyz: xyz + np.array([*ORIGIN, 0.0]), include_z=True)


def write_metadata(path: Path, said: str) -> None:
    """Say in the file what the plan says of itself."""
    with plan_edits.opened(path) as database:
        database.execute(
            "CREATE TABLE gpkg_metadata (id INTEGER PRIMARY KEY, md_scope TEXT NOT NULL DEFAULT "
            "'dataset', md_standard_uri TEXT NOT NULL, mime_type TEXT NOT NULL DEFAULT "
            "'application/json', metadata TEXT NOT NULL DEFAULT '')"
        )
        database.execute(
            "INSERT INTO gpkg_metadata (md_standard_uri, metadata) VALUES ('', ?)", (said,)
        )
