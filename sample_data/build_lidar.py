"""Make the second sample: an invented lot on real open lidar.

The terrain and the small house footprints are real and keep their attribution
(``lidar/ATTRIBUTION.md``); the lot, the big house, lines and trees are invented and lie where no
such things are. Run: ``python sample_data/build_lidar.py DEM.tif HOUSES.gpkg``, with the two files
that the attribution names.
"""

from __future__ import annotations

import itertools
import os
import sys
from pathlib import Path

import geopandas as gpd
import numpy as np
import rasterio
from rasterio.windows import from_bounds
from shapely import LineString, Point, Polygon, box

FOLDER = Path(__file__).parent / "lidar"
CRS = "EPSG:32756"
CROP = (382_340.0, 6_354_520.0, 382_540.0, 6_354_680.0)
ORIGIN = (382_400.0, 6_354_595.0)  # local metres count from here


def place(points: list[tuple[float, float]]) -> list[tuple[float, float]]:
    return [(ORIGIN[0] + u, ORIGIN[1] + v) for u, v in points]


def spot(u: float, v: float) -> Point:
    return Point(place([(u, v)])[0])


def rectangle(west: float, south: float, east: float, north: float) -> Polygon:
    return box(*place([(west, south)])[0], *place([(east, north)])[0])


def write(file: str, layer: str, rows: list[dict]) -> None:
    frame = gpd.GeoDataFrame(rows, geometry=[row.pop("at") for row in rows], crs=CRS)
    frame.to_file(FOLDER / file, layer=layer, driver="GPKG", VERSION="1.3")


def write_terrain(source: str) -> None:
    with rasterio.open(source) as dem:
        window = from_bounds(*CROP, transform=dem.transform).round_offsets().round_lengths()
        profile = {
            "driver": "GTiff",
            "width": window.width,
            "height": window.height,
            "count": 1,
            "dtype": "float32",
            "crs": CRS,
            "transform": dem.window_transform(window),
            "nodata": dem.nodata,
            "compress": "deflate",
            "predictor": 3,
        }
        values = dem.read(1, window=window).astype(np.float32)
    with rasterio.open(FOLDER / "terrain.tif", "w", **profile) as file:
        file.write(values, 1)


def write_parcels() -> None:
    corners = place([(12, 2), (58, -4), (62, 46), (16, 52)])
    ring = [*corners, corners[0]]
    sides = [LineString(pair) for pair in itertools.pairwise(ring)]
    rows = [{"side": name, "at": side} for name, side in zip("SENW", sides, strict=True)]
    write("parcels.gpkg", "boundary_lines", rows)


def write_locates() -> None:
    lines = [
        ("g-7", "gas", 32, "B2", "Gas", [(-5, 30), (14, 33), (26, 34)]),
        ("e-3", "electric", 40, "B1", "Power", [(-5, 45), (15, 44), (27, 41)]),
        ("w-2", "potable_water", 25, "B3", "Water", [(-5, 26), (14, 28.5), (26, 31)]),
        ("c-9", "communication", 20, "B1", "Fibre", [(-5, 46), (15, 45.5), (27, 43)]),
        ("s-1", "sewer", 150, "B2", "Sewer", [(-5, 4), (30, 1.0), (66, -1.5)]),
        ("y-1", "electric", 12, "B1", None, [(37, 42), (52, 43), (58, 30)]),
    ]
    write(
        "locates.gpkg",
        "marks",
        [
            {
                "name": name,
                "kind": kind,
                "dia_mm": diameter,
                "level": level,
                "member": member,
                "side": "public" if member else "private",
                "at": LineString(place(points)),
            }
            for name, kind, diameter, level, member, points in lines
        ],
    )


def write_context(houses: str) -> None:
    file = "context.gpkg"
    real = gpd.read_file(houses, bbox=CROP)
    footprints = [
        {"id": name, "kind": "house", "at": at}
        for name, at in zip(real["name"], real.geometry, strict=True)
    ]
    invented = [
        {"id": "own house", "kind": "house", "at": rectangle(27, 30, 38, 44)},
        {"id": "terrace", "kind": "patio", "at": rectangle(29, 26, 37, 30)},
    ]
    write(file, "structures", invented + footprints)
    trees = [("t1", 50, 38, 0.35, 4.0), ("t2", 22, 12, 0.50, 5.5), ("t3", 56, 8, 0.30, 3.5)]
    write(
        file,
        "trees",
        [
            {"id": name, "trunk": trunk, "crown": crown, "at": spot(u, v)}
            for name, u, v, trunk, crown in trees
        ],
    )
    write(file, "access", [{"id": "gate", "at": spot(14.3, 30.0)}])
    write(file, "views", [{"id": "terrace", "at": spot(33.0, 27.0)}])
    write(file, "power", [{"id": "board", "at": spot(38.5, 31.0)}])


def main() -> None:
    os.environ["OGR_CURRENT_DATE"] = "2026-03-14T00:00:00.000Z"
    FOLDER.mkdir(exist_ok=True)
    for old in FOLDER.glob("*.gpkg"):
        old.unlink()
    write_terrain(sys.argv[1])
    write_parcels()
    write_locates()
    write_context(sys.argv[2])


if __name__ == "__main__":
    main()
