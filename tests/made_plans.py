"""Small plans for tests of what is written, made once per run by the whole method."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from made_sites import ORIGIN, make_site
from shapely.geometry import LineString, Point, box

from geo_site import read_site
from geo_site.plan import Kept, Plan, Settings, propose
from geo_site.plan.choosing import Job
from geo_site.site import Site
from geo_site.siting import design_basin
from geo_site.terrain import Terrain
from geo_site.water import first_need

FORMULA = "=cmd|' /C calc'!A0"
MARKUP = '<b>"O\'Brien" & sons</b>'
FAR_LETTERS = "газ-水道-Ω"
SAMPLES = Path(__file__).parent.parent / "sample_data"
_QUICK = {
    "siting": {"candidates": 2, "shortlist": 3, "rotation_step": 15},
    "relaxing": {"most_searches": 1},
}


@lru_cache
def proposed() -> Plan:
    """A stream on even ground, with lines of awkward names near and in the way of nothing."""
    site = make_site(
        lambda x, y: 100.0 - 0.08 * y + 0.01 * x,
        origin=ORIGIN,
        tables=_QUICK,
        utilities=[
            {
                "id": FORMULA,
                "geometry": LineString([(0, 28), (40, 28)]),
                "kind": "gas",
                "diameter_m": 0.05,
                "quality_level": "QL-B",
                "member": "Member",
                "side": "public",
            },
            {"id": MARKUP, "geometry": LineString([(1, 0), (1, 30)]), "kind": "electric"},
            {"id": FAR_LETTERS, "geometry": LineString([(39, 0), (39, 30)])},
        ],
        trees=[{"geometry": Point(38, 28), "trunk_diameter_m": 0.2}],
        access=[{"geometry": Point(20, -0.5)}],
    )
    return propose(site)


@lru_cache
def without_place() -> Plan:
    """A lot too small for the basin's excavation."""
    return propose(make_site(lot=box(0.0, 0.0, 6.0, 6.0), tables=_QUICK, origin=ORIGIN))


@lru_cache
def sample_plan(name: str) -> Plan:
    """The plan of a sample, ``hillside`` or ``lidar``, made once for all tests that look at it."""
    return propose(read_site(SAMPLES / name / "site.toml"))


def job_on(site: Site, used: Settings, terrain: Terrain, kept: Kept | None = None) -> Job:
    """What the search for places looks at; SettingRefused where no basin can be made."""
    return Job(
        site=site,
        used=used,
        terrain=terrain,
        design=design_basin(first_need(used.water, used.layout), used.siting),
        say=lambda word: None,
        kept=kept or Kept(),
    )
