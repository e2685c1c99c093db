"""One place on a fine and a coarse raster: whole plans whose ranges hold each other's figures."""

from __future__ import annotations

import math
from collections import defaultdict
from pathlib import Path

import numpy as np
import pytest
from shapely.geometry import box
from site_files import write_terrain, write_vector
from test_certainty import halved, real_ground, thinned

import geo_site
from geo_site.plan import Plan, assess
from geo_site.readers import read_drawn, read_site
from geo_site.site import Site

WEST_NORTH = (500_000.0, 4_000_000.0)
SITE = """
name = "one lot"
report_units = "si"
[inputs.parcel]
path = "parcel.gpkg"
accuracy = 0.5
[inputs.terrain]
path = "terrain.tif"
vertical_unit = "m"
rmse_z = 0.10
[layout]
wanted_fall = 0.8
"""


def site_on(folder: Path, levels: np.ndarray, cell: float, lot: tuple[float, ...]) -> Site:
    """A lot, in metres east and south of the raster's corner, and nothing but its terrain."""
    folder.mkdir()
    west, north = WEST_NORTH
    shape = box(west + lot[0], north - lot[3], west + lot[2], north - lot[1])
    write_terrain(folder / "terrain.tif", levels, west_north=WEST_NORTH, cell=cell)
    write_vector(folder / "parcel.gpkg", [shape], {"lot": ["1"]})
    (folder / "site.toml").write_text(SITE)
    return read_site(folder / "site.toml")


def ranges_of(plan: Plan):
    sure, best = plan.certainty, plan.certainty.places[0]
    yield "stream's fall", sure.fall
    for name in ("fall", "rim", "overflow", "excavation", "catchment"):
        yield name, getattr(best, name)
    for area in sure.catchments:
        yield f"catchment of the {area.work}", area.range
    for name in ("spoil", "pile", "haul"):
        yield name, getattr(sure, name)


def held_by_each_other(
    tmp_path: Path, fine: tuple[np.ndarray, float], coarse: tuple[np.ndarray, float], lot
) -> dict[str, tuple[bool, bool]]:
    """Plan on the fine raster, judge its works on both: whether each holds the other's figure."""
    sites = [
        site_on(tmp_path / name, *raster, lot)
        for name, raster in (("fine", fine), ("coarse", coarse))
    ]
    plan = geo_site.propose(sites[0])
    geo_site.write_geopackage(plan, tmp_path / "plan.gpkg")
    one, two = (
        dict(ranges_of(assess(site, *read_drawn(tmp_path / "plan.gpkg", site, alternative=1))))
        for site in sites
    )
    return {
        name: (
            one[name].low - 1e-9 <= two[name].value <= one[name].high + 1e-9,
            two[name].low - 1e-9 <= one[name].value <= two[name].high + 1e-9,
        )
        for name in one
    }


def lots_on(shape_m: tuple[float, float], size_m: tuple[float, float], margin_m: float):
    """Lots side by side, west to east and north to south."""
    rows, columns = (
        int((whole - 2.0 * margin_m + 2.0) // (size + 2.0))
        for whole, size in zip(shape_m, size_m, strict=True)
    )
    for row in range(rows):
        for column in range(columns):
            north, west = (
                margin_m + number * (size + 2.0)
                for number, size in zip((row, column), size_m, strict=True)
            )
            yield west, north, west + size_m[1], north + size_m[0]


def test_unc_10_a_plan_on_lidar_of_1_m_and_on_its_means_over_2_m(tmp_path):
    """UNC-10: two lots on a hillside; every figure lies in the other raster's range."""
    fine = real_ground()
    for number, lot in enumerate([(15, 15, 51, 45), (95, 50, 131, 80)]):
        folder = tmp_path / str(number)
        folder.mkdir()
        found = held_by_each_other(folder, (fine, 1.0), (halved(fine), 2.0), lot)
        assert len(found) == 11
        assert {name: both for name, both in found.items() if both != (True, True)} == {}


@pytest.mark.slow
@pytest.mark.parametrize(
    ("fine", "cell", "coarsened", "lots"),
    [
        (real_ground(), 1.0, halved, lots_on((148, 148), (30, 34), 14)),
        (real_ground("montpellier_0p5m.tif"), 0.5, thinned, lots_on((100, 150), (26, 30), 8)),
    ],
    ids=["hillside", "nearly level"],
)
def test_unc_10_on_all_lots(tmp_path, fine, cell, coarsened, lots):
    """UNC-10: no figure held less than 0.95 by more than four standard errors; all, 0.95."""
    coarse = coarsened(fine)
    held, wide = defaultdict(list), cell * (fine.shape[0] // coarse.shape[0])
    for number, lot in enumerate(lots):
        folder = tmp_path / str(number)
        folder.mkdir()
        for name, both in held_by_each_other(folder, (fine, cell), (coarse, wide), lot).items():
            held[name].append(both)
    for name, found in held.items():
        least = 0.95 - 4.0 * math.sqrt(0.95 * 0.05 / len(found))
        assert np.mean(found, axis=0).min() >= least, name
    assert np.mean(list(held.values())) >= 0.95
