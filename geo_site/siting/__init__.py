"""Every place where the basin fits, and a first score.

Question
    Where on the ground that is left can the basin be dug, and which places are worth working out?
In
    The ground free for the basin and for the stream, the terrain, the machine's reach, a design.
Out
    Distinct placements, best search score first.
Method
    Every arrangement, rotation and position of a fine grid: screened on rasters by conditions
    that no good place breaks, then tested in vectors with the excavation's outline.
Reference
    29 CFR 1926 Subpart P (batter by soil class and depth).
"""

from geo_site.siting.by_hand import DrawnBasin, place_drawn
from geo_site.siting.design import (
    Arrangement,
    BasinDesign,
    SearchWeights,
    SitingParameters,
    Wish,
    design_basin,
)
from geo_site.siting.fields import Room
from geo_site.siting.placement import Placement
from geo_site.siting.search import fits_at, search

__all__ = [
    "Arrangement",
    "BasinDesign",
    "DrawnBasin",
    "Placement",
    "Room",
    "SearchWeights",
    "SitingParameters",
    "Wish",
    "design_basin",
    "fits_at",
    "place_drawn",
    "search",
]
