"""Make the invented sample: about an acre on a hillside, in US survey feet.

Nothing here is a real place. The lot lies above a lane; the ground falls to the south-east with
a shallow swale down its east side and a terrace under the house. The client wants a small
stream below the patio. Public lines come from the lane; the outbuilding's feed, the yard drain
and the lighting circuit are private. Run: ``python sample_data/build_hillside.py``.
"""

from __future__ import annotations

import csv
import os
from pathlib import Path

import geopandas as gpd
import numpy as np
import rasterio
from affine import Affine
from shapely import LineString, Point, Polygon, box
from shapely.affinity import affine_transform

FOLDER = Path(__file__).parent / "hillside"
CRS = "EPSG:2272"  # Pennsylvania South, US survey feet
FT = 3937 / 1200  # survey feet in a metre
ORIGIN_FT = (1_820_000.0, 312_000.0)  # the lot's south-west corner
CELL_FT = 2.5
EXTENT_M = (-110.0, -90.0, 190.0, 190.0)  # local: west, south, east, north


def ground_m(u: np.ndarray, v: np.ndarray) -> np.ndarray:
    """Ground level, m, at local metres east (u) and north (v) of the lot's corner."""
    hill = 212.0 + 0.115 * v - 0.030 * u + 0.00022 * (v - 20.0) * np.abs(v - 20.0)
    swale = -0.9 * np.exp(-(((u - 66.0 - 0.10 * (v - 30.0)) / 5.5) ** 2))
    knoll = 1.6 * np.exp(-(((u + 30.0) / 22.0) ** 2) - ((v - 60.0) / 30.0) ** 2)
    lane = np.exp(-(((v + 9.0) / 4.0) ** 4))
    level = hill + swale + knoll
    level -= 0.004 * np.maximum(v - 62.0, 0.0) ** 2  # a crest behind the lot sheds the other way
    level = level * (1.0 - lane) + (211.2 - 0.030 * u) * lane
    terrace = _smooth_box(u, v, (36.0, 27.0, 60.0, 45.0), 3.0)
    return level * (1.0 - terrace) + 214.75 * terrace


def _smooth_box(
    u: np.ndarray, v: np.ndarray, sides: tuple[float, float, float, float], edge: float
) -> np.ndarray:
    west, south, east, north = sides
    outside = np.maximum(np.maximum(west - u, u - east), np.maximum(south - v, v - north))
    return np.clip(1.0 - np.maximum(outside, 0.0) / edge, 0.0, 1.0)


def roughness_m(shape: tuple[int, int]) -> np.ndarray:
    """Lidar noise and small relief: three octaves, about 2 cm each."""
    rng = np.random.default_rng(20260314)
    total = np.zeros(shape)
    for size, sigma in ((1, 0.010), (5, 0.020), (17, 0.025)):
        coarse = rng.normal(0.0, sigma, (shape[0] // size + 3, shape[1] // size + 3))
        total += _stretch(coarse, shape, size)
    return total


def _stretch(coarse: np.ndarray, shape: tuple[int, int], size: int) -> np.ndarray:
    rows, cols = np.arange(shape[0]) / size, np.arange(shape[1]) / size
    r, c = rows.astype(int), cols.astype(int)
    fr, fc = (rows - r)[:, None], (cols - c)[None, :]
    top = coarse[r][:, c] * (1 - fc) + coarse[r][:, c + 1] * fc
    low = coarse[r + 1][:, c] * (1 - fc) + coarse[r + 1][:, c + 1] * fc
    return top * (1 - fr) + low * fr


def write_terrain() -> None:
    west, south, east, north = EXTENT_M
    cols, rows = round((east - west) * FT / CELL_FT), round((north - south) * FT / CELL_FT)
    left, top = ORIGIN_FT[0] + west * FT, ORIGIN_FT[1] + north * FT
    u = west + (np.arange(cols) + 0.5) * CELL_FT / FT
    v = north - (np.arange(rows) + 0.5) * CELL_FT / FT
    level = ground_m(u[None, :], v[:, None]) + roughness_m((rows, cols))
    profile = {
        "driver": "GTiff",
        "width": cols,
        "height": rows,
        "count": 1,
        "dtype": "float32",
        "crs": CRS,
        "transform": Affine(CELL_FT, 0, left, 0, -CELL_FT, top),
        "nodata": -9999.0,
        "compress": "deflate",
        "predictor": 3,
        "tiled": True,
        "blockxsize": 256,
        "blockysize": 256,
    }
    with rasterio.open(FOLDER / "terrain.tif", "w", **profile) as file:
        file.write(np.round(level * FT, 2).astype("float32"), 1)
        file.update_tags(AREA_OR_POINT="Area")


def place(geometry):
    """Local metres to the CRS's feet."""
    return affine_transform(geometry, [FT, 0, 0, FT, *ORIGIN_FT])


def write(file: str, layer: str, rows: list[dict]) -> None:
    frame = gpd.GeoDataFrame(rows, geometry=[place(row.pop("at")) for row in rows], crs=CRS)
    frame.to_file(FOLDER / file, layer=layer, driver="GPKG", VERSION="1.3")


def write_parcels() -> None:
    lots = {
        "13": [(-48, 1), (0, 0), (-2, 57), (-50, 55)],
        "14": [(0, 0), (73, -2), (75, 56), (-2, 57)],
        "15": [(73, -2), (118, -3), (121, 57), (75, 56)],
    }
    write("parcels.gpkg", "lots", [{"LOT": n, "at": Polygon(c)} for n, c in lots.items()])


def write_locates() -> None:
    def line(number, word, level, inches, member, points, **more):
        return {
            "LOC_ID": number,
            "TYPE": word,
            "QL": level,
            "DIA_IN": inches,
            "MEMBER": member,
            "SIDE": more.get("side", "public"),
            "MARKED_BY": more.get("by", "member"),
            "DEPTH_FT": more.get("depth"),
            "at": LineString(points),
        }

    private = {"side": "private", "by": "private locator"}
    lines = [
        line("G1", "GAS", "QL-B", 1.25, "Gas", [(57.0, -9), (57.5, 12), (56.0, 30.5)], depth=1.5),
        line("W1", "WATER", "QL-C", 1.0, "Water", [(62, -9), (61.0, 18), (58.2, 33)], depth=4.0),
        line("E1", "ELEC", "QL-B", 3.0, "Electric", [(34.5, -9), (35.5, 20), (38.0, 33.5)]),
        line("C1", "COMM", "QL-B", 1.0, "Cable", [(33.0, -9), (34.2, 20), (38.0, 35.0)]),
        line("S1", "SEWER", "QL-C", 8.0, "Sewer", [(-60, 50.5), (0, 50.0), (74, 49.0), (125, 48)]),
        line("P1", "ELEC", "QL-B", 1.5, None, [(38.0, 41), (26, 44.5), (14.5, 46.5)], **private),
        line("P2", "DRAIN", None, 4.0, None, [(44, 26.5), (31, 15), (24.5, -4)], **private),
        line("P3", "ELEC", "QL-B", 0.75, None, [(42, 27), (33, 26), (30, 31.5)], **private),
    ]
    write("locates.gpkg", "marks", lines)


def write_context() -> None:
    file = "context.gpkg"
    write(
        file,
        "structures",
        [
            {"ID": "house", "KIND": "house", "at": box(38, 30, 56, 41)},
            {"ID": "patio", "KIND": "patio", "at": box(42, 26, 52, 30)},
            {"ID": "shop", "KIND": "outbuilding", "at": box(8, 43, 14.5, 49)},
            {"ID": "drive", "KIND": "drive", "at": box(63.5, -2, 67.5, 30)},
        ],
    )
    trees = [
        ("T1", 5.0, 9.0, 22, 5.5, True),
        ("T2", 17.5, 36.5, 16, 4.0, True),
        ("T3", 33.0, 44.5, 12, 3.0, False),
        ("T4", 70.0, 20.0, 26, 6.0, True),
        ("T5", 3.0, 30.0, 18, 4.5, False),
    ]
    write(
        file,
        "trees",
        [
            {"ID": n, "TRUNK_IN": d, "CROWN_FT": round(r * FT), "DECID": t, "at": Point(u, v)}
            for n, u, v, d, r, t in trees
        ],
    )
    write(file, "easements", [{"ID": "U-7", "KIND": "sewer", "at": box(-1.9, 47.2, 74.6, 52.8)}])
    septic = [{"ID": "field", "KIND": "field", "at": box(60, 33, 71, 46)}]
    septic += [{"ID": "tank", "KIND": "tank", "at": box(57.3, 37.5, 59.6, 39.2)}]
    write(file, "septic", septic)
    fixtures = [("lamp", "lamp_post", 30.0, 31.5), ("meter", "meter", 56.6, 31.0)]
    write(file, "fixtures", [{"ID": n, "KIND": k, "at": Point(u, v)} for n, k, u, v in fixtures])
    write(file, "overhead", [{"ID": "O1", "KV": 7.2, "HEIGHT_FT": 24.0,
                              "at": LineString([(-60, -3.5), (125, -5.5)])}])  # fmt: skip
    write(file, "access", [{"ID": "gate", "at": Point(20.0, 0.0)}])
    write(file, "views", [{"ID": "patio chair", "at": Point(46.0, 27.5)}])
    write(file, "power", [{"ID": "panel", "at": Point(38.0, 31.0)}])


# Invented pumps: gpm, ft, W. A gives the flow wanted through 2 in pipe, B through 3 in, C never.
PUMPS = {
    "Pump A": ((0, 16.0, 180), (20, 14.5, 200), (40, 11.5, 230), (60, 7.0, 250), (75, 2.5, 255)),
    "Pump B": ((0, 12.5, 90), (15, 11.4, 105), (30, 9.4, 118), (45, 6.4, 126), (58, 3.0, 128)),
    "Pump C": ((0, 4.6, 40), (20, 3.2, 45), (40, 1.0, 48)),
}
# Invented prices: item as quantities.csv names it, unit, price. Boulders have none: the sum of
# the sample is incomplete, and says so.
PRICES = (
    ("sod stripped", "ft2", 0.5), ("topsoil stripped", "yd3", 20), ("berm", "yd3", 25),
    ("basin excavation", "yd3", 45), ("stream cut", "yd3", 60), ("pipe trench", "yd3", 80),
    ("hauled away", "yd3", 35), ("silt fence", "ft", 4), ("turf to restore", "ft2", 0.9),
    ("void units", "count", 140), ("liner, basin", "ft2", 1.1), ("underlay, basin", "ft2", 0.3),
    ("gravel, bedding", "yd3", 55), ("gravel, beside the units", "yd3", 55),
    ("gravel, cover and return bed", "yd3", 55), ("gravel, sloping sides", "yd3", 55),
    ("liner, stream", "ft2", 1.1), ("underlay, stream", "ft2", 0.3),
    ("bed stone", "short-ton", 90), ("bank stone", "short-ton", 120),
    ("fall stone, up to 0.20 m", "short-ton", 180), ("fall stone, up to 0.35 m", "short-ton", 200),
    ("fall stone, over 0.35 m", "short-ton", 220),
    ("pipe 2 in", "ft", 2.1), ("pipe 3 in", "ft", 4.2), ("pipe 4 in", "ft", 6.0),
    ("elbow 45 2 in", "count", 4), ("elbow 45 3 in", "count", 11), ("elbow 45 4 in", "count", 19),
    ("elbow 90 2 in", "count", 4), ("elbow 90 3 in", "count", 12), ("elbow 90 4 in", "count", 21),
    ("check valve 2 in", "count", 45), ("check valve 3 in", "count", 95),
    ("check valve 4 in", "count", 180), ("gate valve 2 in", "count", 38),
    ("gate valve 3 in", "count", 85), ("gate valve 4 in", "count", 160),
    ("pump Pump A", "count", 620), ("pump Pump B", "count", 480),
    ("first fill", "gal", 0.012), ("electricity", "kWh", 0.17),
)  # fmt: skip


def write_lists() -> None:
    """Pump curves and prices, as an office would keep them in a spreadsheet."""
    with (FOLDER / "pumps.csv").open("w", encoding="utf-8", newline="") as file:
        rows = csv.writer(file, lineterminator="\n")
        rows.writerow(("pump", "flow_gpm", "head_ft", "power_w"))
        rows.writerows((pump, *point) for pump, points in PUMPS.items() for point in points)
    with (FOLDER / "prices.csv").open("w", encoding="utf-8", newline="") as file:
        rows = csv.writer(file, lineterminator="\n")
        rows.writerow(("item", "unit", "price", "currency", "note"))
        rows.writerows((*price, "USD", "invented") for price in PRICES)


# Invented rain, in no place: inches = 1.3 hours^0.3 (years / 2)^0.18.
RAIN_YEARS = (1, 2, 5, 10, 25, 50, 100)
RAIN_HOURS = {
    "5-min": 1 / 12, "10-min": 1 / 6, "15-min": 0.25, "30-min": 0.5, "60-min": 1, "2-hr": 2,
    "3-hr": 3, "6-hr": 6, "12-hr": 12, "24-hr": 24, "2-day": 48, "7-day": 168,
}  # fmt: skip


def write_rainfall() -> None:
    """Depths of rain in the form in which a public server hands them out."""
    lines = [
        "Point precipitation frequency estimates (inches)",
        "INVENTED for this sample: no place has this rain",
        "Time series type: Partial duration",
        "Location name: nowhere",
        "",
        "PRECIPITATION FREQUENCY ESTIMATES",
        f"by duration for ARI (years):, {','.join(str(years) for years in RAIN_YEARS)}",
    ]
    for name, hours in RAIN_HOURS.items():
        depths = [1.3 * hours**0.3 * (years / 2) ** 0.18 for years in RAIN_YEARS]
        lines.append(f"{name}:, {','.join(f'{depth:.2f}' for depth in depths)}")
    (FOLDER / "rainfall.csv").write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")


def main() -> None:
    os.environ["OGR_CURRENT_DATE"] = "2026-03-14T00:00:00.000Z"
    FOLDER.mkdir(exist_ok=True)
    for old in FOLDER.glob("*.gpkg"):
        old.unlink()
    write_terrain()
    write_parcels()
    write_locates()
    write_context()
    write_lists()
    write_rainfall()


if __name__ == "__main__":
    main()
