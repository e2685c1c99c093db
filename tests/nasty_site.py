"""A site that is hard to draw: a sliver of a lot, many lines with long and foreign names, a hole.

Invented; US units. Whoever draws a page should look at this one.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np
from made_sites import make_site, make_terrain
from shapely import LineString, Point, box
from shapely.affinity import rotate

from geo_site.plan import Plan, propose
from geo_site.raster import Raster
from geo_site.site import Site

NAMES = (
    "Газопровод низкого давления, улица Ленина",
    "Αγωγός ύδρευσης, οδός Σόλωνος",
    "上水道本管 第三区",
    "خط الكهرباء الرئيسي",
    "\U0001f6b0 water \u26a0\ufe0f line",
    "The Regional Company for Everything Under the Ground, district 7, section 12 b",
    "=cmd|' /C calc'!A0",
    "x" * 70,
)
KINDS = ("gas", "electric", "communication", "potable_water", "sewer", "reclaimed_water", "unknown")
TURN_DEG = 27.0
HOLE = (47.0, 11.5)
_QUICK = {"siting": {"units": 2, "shortlist": 2, "candidates": 2, "rotation_step": 27.0}}


def nasty_site() -> Site:
    """A lot of 6 m x 60 m, turned, with forty lines beside and across its ends."""
    lot = rotate(box(0.0, 0.0, 60.0, 6.0), TURN_DEG, origin=(30.0, 3.0))
    lines = [_line(number) for number in range(40)]
    west, south, east, north = lot.bounds
    ground = make_terrain(
        lambda x, y: 212.0 - 0.07 * (x * np.cos(np.radians(TURN_DEG)) + y * 0.45),
        bounds=(round(west) - 20, round(south) - 20, round(east) + 20, round(north) + 20),
    )
    site = make_site(
        _with_hole(ground),
        lot=lot,
        parcel_accuracy_m=0.3,
        report_units="us",
        tables={
            **_QUICK,
            "constraints": {
                "boundary": {"basin": 0.2, "stream": 0.1, "pipe": 0.1, "pile": 0.1, "fence": 0.1}
            },
            "layout": {"wanted_fall": 0.5},
        },
        utilities=lines,
        structures=[{"id": "Дом № 5", "geometry": _turned(box(-9, -8, -2, 12))}],
        trees=[{"id": "木", "geometry": Point(6, -9), "crown_radius_m": 3.0}],
        access=[{"geometry": _turned(Point(0.0, 3.0))}],
        origin=(500_000.0, 4_000_000.0),
    )
    return replace(
        site,
        name="Полоса / 細い土地 / شريط " + "with a very long name " * 6,
        revision="B, for review",
    )


def _turned(shape):
    return rotate(shape, TURN_DEG, origin=(30.0, 3.0))


def _line(number: int) -> dict[str, object]:
    side = -1 if number % 2 else 1
    off = 3.0 + side * (6.5 + 0.6 * number)
    name = f"{NAMES[number % len(NAMES)]} {number}"
    return {
        "id": name,
        "kind": KINDS[number % len(KINDS)],
        "diameter_m": 0.05 + 0.01 * (number % 5),
        "quality_level": "QL-B" if number % 3 else None,
        "member": f"{NAMES[(number + 3) % len(NAMES)]} and partners",
        "marked_by": "a locator whose name is long, of a firm whose name is longer",
        "geometry": _turned(LineString([(-12, off), (20, off + 0.5), (75, off - 0.5)])),
    }


def _with_hole(ground: Raster) -> Raster:
    """Lose the ground of a few cells on the lot itself, near its upper end."""
    holed = ground.values.copy()
    column, row = (int(value) for value in ~ground.transform * HOLE)
    holed[row - 2 : row + 2, column - 2 : column + 3] = np.nan
    return Raster(holed, ground.transform, ground.crs)


@lru_cache
def nasty_plan() -> Plan:
    """The plan of it, made once a run."""
    return propose(nasty_site())
