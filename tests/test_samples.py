"""The two samples, from files to files, and one site in three units of length."""

from __future__ import annotations

import json
import sqlite3
from itertools import pairwise
from pathlib import Path

import geopandas as gpd
import numpy as np
import pyogrio
import pytest
import rasterio
from affine import Affine
from laws import broken_laws
from made_plans import sample_plan
from PIL import Image
from rasterio.crs import CRS as RasterCRS
from shapely import LineString, transform
from shapely.geometry import box

import geo_site
from geo_site.plan import Plan, figures_of, propose
from geo_site.webmap import write_webmap

SAMPLES = Path(__file__).parent.parent / "sample_data"


@pytest.fixture(scope="module", params=["hillside", "lidar"])
def sample(request: pytest.FixtureRequest) -> Plan:
    """The plan of each sample."""
    return sample_plan(request.param)


def test_a_place_is_proposed_and_the_laws_hold(sample: Plan) -> None:
    assert sample.status == "proposed"
    assert len(sample.candidates) >= 3
    assert broken_laws(sample) == []


def test_the_picture_in_the_documents_is_of_this_plan(sample: Plan) -> None:
    """Its file holds the figures that it was drawn from; docs/make_pictures.py draws it anew."""
    name = "hillside" if "hillside" in sample.site.name else "lidar"
    with Image.open(SAMPLES.parent / "docs" / "pictures" / f"{name}.png") as picture:
        drawn = json.loads(picture.info["Description"])
    assert drawn == pytest.approx(figures_of(sample), abs=1e-3)


def test_the_page_is_light_enough_for_a_phone(sample: Plan, tmp_path: Path) -> None:
    assert write_webmap(sample, tmp_path / "plan.html").stat().st_size < 1_000_000


def test_no_basin_comes_near_a_line(sample: Plan) -> None:
    """By a distance measured on points a centimetre apart, not by the program's own."""
    assert sample.proposal is not None
    edge = sample.proposal.placement.excavation.exterior
    points = np.array([edge.interpolate(s).coords[0] for s in np.arange(0, edge.length, 0.01)])
    for line in sample.site.utilities.itertuples():
        corners = np.array(line.geometry.coords)[:, :2]
        least = min(_to_segment(points, a, b) for a, b in pairwise(corners))
        rows = [
            row
            for row in sample.clearances
            if row.against == line.id and row.work == "basin_excavation"
        ]
        assert len(rows) == 1
        half = 0.0 if np.isnan(line.diameter_m) else line.diameter_m / 2
        assert rows[0].clearance_m == pytest.approx(least - half, abs=2e-3)
        assert rows[0].clearance_m >= rows[0].required_m


def _to_segment(points: np.ndarray, a: np.ndarray, b: np.ndarray) -> float:
    along = np.clip(((points - a) @ (b - a)) / ((b - a) @ (b - a)), 0.0, 1.0)
    return float(np.min(np.hypot(*(points - a - along[:, None] * (b - a)).T)))


def test_unanswered_member_is_never_cleared() -> None:
    plan = sample_plan("lidar")
    verdicts = {row.verdict for row in plan.clearances if row.against == "s-1"}
    assert verdicts == {"unknown"}


def test_files_open_and_agree_with_the_plan(sample: Plan, tmp_path: Path) -> None:
    geo_site.write_plan(sample, tmp_path / "out")
    path = tmp_path / "out" / "plan.gpkg"
    layers = {name for name, _ in pyogrio.list_layers(path)}
    assert {"basin", "stream_alignment", "clearances", "contours", "dig_area"} <= layers
    basin = gpd.read_file(path, layer="basin")
    assert sample.proposal is not None
    footprint = sample.proposal.placement.footprint
    unit = 1.0 if basin.crs.axis_info[0].unit_name == "metre" else 1200 / 3937
    assert basin.geometry.iloc[0].area * unit**2 == pytest.approx(footprint.area, rel=1e-6)
    told = json.loads((tmp_path / "out" / "plan.json").read_text(encoding="utf-8"))
    assert told["stream"]["fall_m"] == pytest.approx(sample.proposal.layout.fall_m)
    with sqlite3.connect(path) as database:
        styled = database.execute("select count(*) from layer_styles").fetchone()[0]
    assert styled == len(layers - {"layer_styles"})
    with rasterio.open(tmp_path / "out" / "terrain" / "ground.tif") as ground:
        assert ground.crs.is_projected


UNITS = {"m": (32119, 1.0), "us-ft": (2264, 1200 / 3937)}
OREGON = {"m": (2993, 1.0), "ft": (2994, 0.3048)}


def _write_site(folder: Path, code: int, unit_m: float, word: str) -> Path:
    """One hillside on the grid of ``code``, every coordinate and level in its unit."""
    folder.mkdir()
    origin = (600_000.0, 200_000.0)  # metres of the grid, false easting included
    x, y = np.meshgrid(np.arange(-29.5, 70.0), np.arange(69.5, -30.0, -1.0))
    level = 100.0 + 0.02 * x + 0.11 * y + 0.06 * np.sin(x / 3.3) * np.cos(y / 4.1)
    cell = 1.0 / unit_m
    left, top = (origin[0] - 30.0) / unit_m, (origin[1] + 70.0) / unit_m
    profile = {
        "driver": "GTiff",
        "width": 100,
        "height": 100,
        "count": 1,
        "dtype": "float64",
        "crs": RasterCRS.from_epsg(code),
        "transform": Affine(cell, 0, left, 0, -cell, top),
    }
    with rasterio.open(folder / "dem.tif", "w", **profile) as file:
        file.write(level / unit_m, 1)

    def placed(geometry):
        return transform(geometry, lambda xy: (xy + origin) / unit_m)

    lot = gpd.GeoDataFrame({"lot": ["1"]}, geometry=[placed(box(0, 0, 40, 35))], crs=code)
    lot.to_file(folder / "lot.gpkg")
    line = placed(LineString([(28, -20), (31, 60)]))
    marks = {"id": ["G"], "kind": ["gas"], "diameter": [0.05], "quality_level": ["QL-B"]}
    gpd.GeoDataFrame(marks, geometry=[line], crs=code).to_file(folder / "lines.gpkg")
    (folder / "site.toml").write_text(
        'name = "one hillside"\nreport_units = "si"\n'
        '[inputs.parcel]\npath = "lot.gpkg"\naccuracy = 0.2\n'
        f'[inputs.terrain]\npath = "dem.tif"\nvertical_unit = "{word}"\nrmse_z = 0.1\n'
        '[inputs.utilities]\npath = "lines.gpkg"\n'
        "[siting]\nunits = 8\nshortlist = 3\nrotation_step = 15\n",
        encoding="utf-8",
    )
    return folder / "site.toml"


@pytest.mark.parametrize("grids", [UNITS, OREGON], ids=["survey feet", "feet"])
def test_feet_give_the_plan_that_metres_give(
    grids: dict[str, tuple[int, float]], tmp_path: Path
) -> None:
    """GEOD-08, GEOD-09: EPSG registry's foot grids and their metric twins, one ground."""
    plans = {
        word: propose(geo_site.read_site(_write_site(tmp_path / word, code, unit, word)))
        for word, (code, unit) in grids.items()
    }
    metres, feet = plans.values()
    assert metres.proposal is not None
    assert feet.proposal is not None
    shared = metres.proposal.placement.footprint.symmetric_difference(
        feet.proposal.placement.footprint
    )
    assert shared.area < 1e-4
    assert feet.proposal.layout.fall_m == pytest.approx(metres.proposal.layout.fall_m, abs=1e-6)
    assert feet.proposal.earthwork.bank_m3 == pytest.approx(
        metres.proposal.earthwork.bank_m3, rel=3e-4
    )
    for a, b in zip(metres.clearances, feet.clearances, strict=True):
        assert b.clearance_m == pytest.approx(a.clearance_m, abs=1e-4)
        assert b.verdict == a.verdict
