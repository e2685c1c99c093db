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
    is halved down to a micrometre. Windows are row runs: on bits to find where one is clear, on
    prefix sums to count what it covers.
Reference
    Plane geometry. Crow, F. C. (1984), Summed-area tables for texture mapping, SIGGRAPH 18(3),
    207-212, for the prefix sums (here by row); `windows` has that of the bits.
"""

from geo_site.outlines.levels import Surface, highest_between, level_at, levels_at
from geo_site.outlines.pits import Pit, pit_edge, screen_pits
from geo_site.outlines.rectangles import edge_rays, floor_points, outline_points
from geo_site.outlines.scores import (
    SCORE_UNIT,
    Scoring,
    Turned,
    count_classes,
    level_mark,
    scored_places,
)
from geo_site.outlines.windows import (
    ClearRuns,
    Words,
    clear_runs,
    clear_windows,
    from_words,
    row_runs,
    row_sums,
    window_counts,
)

__all__ = [
    "SCORE_UNIT",
    "ClearRuns",
    "Pit",
    "Scoring",
    "Surface",
    "Turned",
    "Words",
    "clear_runs",
    "clear_windows",
    "count_classes",
    "edge_rays",
    "floor_points",
    "from_words",
    "highest_between",
    "level_at",
    "level_mark",
    "levels_at",
    "outline_points",
    "pit_edge",
    "row_runs",
    "row_sums",
    "scored_places",
    "screen_pits",
    "window_counts",
]
