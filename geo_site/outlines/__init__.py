"""A pit's edge on real ground, and windows laid over a grid.

Question
    How far out do the sloped sides of a pit meet the ground, and where on a grid does a turned
    rectangle cover no marked cell?
In
    Levels in metres on a grid (rows from north to south, NaN not known); points and directions.
Out
    Distances, levels in metres; masks on the grid.
Method
    Levels are bilinear between cell centres. From each point of the pit floor's edge the side
    is followed outward, `z = floor + d / batter`, until it comes out of the ground; the place
    is halved down to a micrometre. Windows are row runs on prefix sums.
Reference
    Plane geometry. Crow, F. C. (1984), Summed-area tables for texture mapping, SIGGRAPH 18(3),
    207-212, for the prefix sums (here by row).
"""

from geo_site.outlines.levels import Surface, highest_between, level_at, levels_at
from geo_site.outlines.pits import Pit, pit_edge, screen_pits
from geo_site.outlines.rectangles import edge_rays, floor_points, outline_points
from geo_site.outlines.windows import clear_windows, row_runs, row_sums, window_counts

__all__ = [
    "Pit",
    "Surface",
    "clear_windows",
    "edge_rays",
    "floor_points",
    "highest_between",
    "level_at",
    "levels_at",
    "outline_points",
    "pit_edge",
    "row_runs",
    "row_sums",
    "screen_pits",
    "window_counts",
]
