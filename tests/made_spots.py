"""Made-up basins on even ground whose truth is known, for tests of how sure an answer is."""

from __future__ import annotations

import numpy as np
from made_sites import make_terrain
from shapely.affinity import rotate
from shapely.geometry import box

from geo_site.certainty import Spot
from geo_site.certainty.spots import points_along
from geo_site.raster import Raster

SIDE_M = 40
DEPTH_M, BATTER = 0.9, 1.5


def raster(levels: np.ndarray) -> Raster:
    """Levels on cells of 1 m, south-west corner at (0, 0)."""
    return make_terrain(levels, bounds=(0.0, 0.0, float(SIDE_M), float(SIDE_M)))


def true_ground(generator: np.random.Generator) -> np.ndarray:
    """A slope of 4 to 20 % with three long, low waves on it."""
    x, y = np.meshgrid(np.arange(SIDE_M) + 0.5, SIDE_M - np.arange(SIDE_M) - 0.5)
    towards, slope = generator.uniform(0, 2 * np.pi), generator.uniform(0.04, 0.2)
    levels = 100.0 + slope * (np.cos(towards) * x + np.sin(towards) * y)
    for _ in range(3):
        length_m, turn = generator.uniform(12, 40), generator.uniform(0, 2 * np.pi)
        phase = 2 * np.pi * (np.cos(turn) * x + np.sin(turn) * y) / length_m
        levels += generator.uniform(0, 0.15) * np.sin(phase + generator.uniform(0, 6))
    return levels


def spot_at(
    x: float, y: float, rotation_deg: float = 0.0, lip: tuple[float, float] = (20.5, 28.5)
) -> Spot:
    """A basin of 3.2 x 1.2 m in a pit of 0.9 m with a spillway somewhere."""
    footprint = rotate(box(x - 1.6, y - 0.6, x + 1.6, y + 0.6), rotation_deg)
    floor = rotate(box(x - 1.9, y - 0.9, x + 1.9, y + 0.9), rotation_deg)
    pit = floor.buffer(BATTER * DEPTH_M)
    return Spot(
        lip=np.array([lip]),
        outline=points_along(footprint),
        edge=points_along(pit),
        pit=pit,
        pit_floor=floor,
        depth_m=DEPTH_M,
        batter=BATTER,
    )


def any_spot(generator: np.random.Generator) -> Spot:
    """A basin near the middle, its spillway 5 to 12 m away."""
    x, y = generator.uniform(15, 25, 2)
    turn, away_m = generator.uniform(0, 2 * np.pi), generator.uniform(5, 12)
    lip = (x + away_m * np.cos(turn), y + away_m * np.sin(turn))
    return spot_at(x, y, generator.uniform(0, 180), lip)


def measured(spot: Spot, ground: Raster, deeper_m: float = 0.0) -> dict[str, float]:
    """Fall, rim, lowest edge and volume of the pit on some ground, point by point.

    The floor may be dug deeper than drawn, or less deep.
    """
    west, south, east, north = spot.pit.buffer(0.75).bounds
    x, y = np.meshgrid(np.arange(west + 0.125, east, 0.25), np.arange(south + 0.125, north, 0.25))
    xy = np.column_stack([x.ravel(), y.ravel()])
    distance_m = _distance(xy, spot)
    rim_m = ground.sample(spot.outline).min()
    depths = ground.sample(xy) - (rim_m - spot.depth_m - deeper_m) - distance_m / spot.batter
    depths = np.where(distance_m <= spot.batter * (spot.depth_m + 0.5), depths, 0.0)
    return {
        "fall": float(ground.sample(spot.lip)[0] - rim_m),
        "rim": float(rim_m),
        "edge": float(ground.sample(spot.edge).min()),
        "volume": float(np.maximum(depths, 0.0).sum() * 0.0625),
    }


def _distance(xy: np.ndarray, spot: Spot) -> np.ndarray:
    """From a rectangle, by its own axes."""
    corners = np.array(spot.pit_floor.exterior.coords[:4])
    middle = corners.mean(axis=0)
    sides = [corners[1] - corners[0], corners[2] - corners[1]]
    beyond = []
    for side in sides:
        length_m = np.hypot(*side)
        along = np.abs((xy - middle) @ (side / length_m))
        beyond.append(np.maximum(along - length_m / 2.0, 0.0))
    return np.hypot(*beyond)
