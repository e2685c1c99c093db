"""Speed, by hand: ``pytest -o addopts="" tests/benchmarks --benchmark-columns=min,median``.

Ratios within one run are what counts; single times say more of the machine than of the code.
"""

from __future__ import annotations

import itertools
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pyflwdir
import pytest
from shapely.affinity import translate

import geo_site
from geo_site.drainage import accumulate, flood, outlet_cells
from geo_site.plan import Kept, assess
from geo_site.readers import read_drawn
from geo_site.site import Site
from geo_site.terrain import TerrainParameters, analyse

SAMPLE = Path(__file__).parents[2] / "sample_data" / "hillside" / "site.toml"
SIDE = 1000


@pytest.fixture(scope="module")
def site() -> Site:
    """The invented sample."""
    return geo_site.read_site(SAMPLE)


@pytest.fixture(scope="module")
def ground() -> np.ndarray:
    """Rough ground of a million cells: white noise summed twice, so that hollows are many."""
    rng = np.random.default_rng(1)
    rough = rng.normal(0.0, 1.0, (SIDE, SIDE)).cumsum(axis=0).cumsum(axis=1)
    return (rough / rough.std() * 20.0).astype(np.float32)


def test_read(benchmark: Any) -> None:
    benchmark.pedantic(geo_site.read_site, args=(SAMPLE,), rounds=5, warmup_rounds=1)


def test_analyse(benchmark: Any, site: Site) -> None:
    benchmark.pedantic(analyse, args=(site, TerrainParameters()), rounds=5, warmup_rounds=1)


def test_propose(benchmark: Any, site: Site) -> None:
    benchmark.pedantic(geo_site.propose, args=(site,), rounds=5, warmup_rounds=1)


def test_write(benchmark: Any, site: Site, tmp_path: Path) -> None:
    plan = geo_site.propose(site)
    where = iter(range(100))
    benchmark.pedantic(
        lambda: geo_site.write_plan(plan, tmp_path / str(next(where))), rounds=5, warmup_rounds=1
    )


@pytest.fixture(scope="module")
def plan_file(site: Site, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The plan of the sample, as a person takes it into a GIS."""
    path = tmp_path_factory.mktemp("plan") / "plan.gpkg"
    geo_site.write_geopackage(geo_site.propose(site), path)
    return path


@pytest.mark.benchmark(group="a basin moved by half a metre, judged again")
def test_assess(benchmark: Any, site: Site, plan_file: Path) -> None:
    """Everything from the site as read."""
    drawn, earlier = read_drawn(plan_file, site)
    moved = replace(drawn, basin=translate(drawn.basin, 0.5, 0.0))
    benchmark.pedantic(assess, args=(site, moved, earlier), rounds=5, warmup_rounds=1)


@pytest.mark.benchmark(group="a basin moved by half a metre, judged again")
def test_assess_with_the_terrain_kept(benchmark: Any, site: Site, plan_file: Path) -> None:
    """Each time the basin lies elsewhere."""
    drawn, earlier = read_drawn(plan_file, site)
    kept, steps = Kept(), itertools.count()

    def next_place() -> tuple[tuple[Any, ...], dict[str, Any]]:
        basin = translate(drawn.basin, 0.1 * next(steps), 0.0)
        return (site, replace(drawn, basin=basin), earlier), {"kept": kept}

    benchmark.pedantic(assess, setup=next_place, rounds=10, warmup_rounds=2)


@pytest.mark.benchmark(group="a basin moved by half a metre, judged again")
def test_assess_in_a_process_of_its_own(benchmark: Any, plan_file: Path, tmp_path: Path) -> None:
    """With imports, reading and all documents."""
    command = [sys.executable, "-m", "geo_site", "assess", str(SAMPLE), str(plan_file)]
    command += ["-o", str(tmp_path / "out"), "--overwrite", "-q"]
    benchmark.pedantic(
        subprocess.run, args=(command,), kwargs={"check": False}, rounds=5, warmup_rounds=1
    )


@pytest.mark.benchmark(group="fill and accumulate, a million cells")
def test_drainage(benchmark: Any, ground: np.ndarray) -> None:
    def drain() -> np.ndarray:
        outlets = outlet_cells(np.ones(ground.shape, dtype=bool), holes_drain=True)
        return accumulate(flood(ground, outlets, 1.0, 1.0).direction, np.ones(ground.shape))

    assert benchmark.pedantic(drain, rounds=3, warmup_rounds=1).max() > SIDE


@pytest.mark.benchmark(group="fill and accumulate, a million cells")
def test_drainage_peer(benchmark: Any, ground: np.ndarray) -> None:
    def drain() -> np.ndarray:
        filled, direction = pyflwdir.dem.fill_depressions(ground)
        assert filled.shape == ground.shape
        return pyflwdir.from_array(direction, ftype="d8").upstream_area()

    assert benchmark.pedantic(drain, rounds=3, warmup_rounds=1).max() > SIDE
