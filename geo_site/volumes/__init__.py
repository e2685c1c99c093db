"""Volumes of earth: pits, cut and fill, piles, and how soil swells.

Question
    How much soil comes out, goes in, and lies beside the hole?
In
    Sizes, or grids of levels in metres (rows from north to south; NaN is not known).
Out
    Volumes in m3, said to be bank, loose or compacted; depths and levels in m.
Method
    What a lined basin holds and weighs (`basins`), closed forms (`solids`), grids with cut and
    fill apart (`grids`), piles at their angle of repose on real ground (`piles`), factors and
    rules by soil (`soils`).
Reference
    US Army FM 5-434 (swell and shrink); 29 CFR 1926 Subpart P (excavations).
"""

from geo_site.volumes.basins import (
    bulk_density,
    cover_against_uplift,
    layer_mass,
    liner_size,
    stored_volume,
    uplift_force,
)
from geo_site.volumes.grids import (
    CutAndFill,
    battered_depths,
    corner_grid_volume,
    cut_and_fill,
)
from geo_site.volumes.piles import pile_crest_level, reaches_edge, repose_surface
from geo_site.volumes.soils import (
    BATTER_OF_UNKNOWN_SOIL,
    DEPTH_RULES,
    EXCAVATION_BATTERS,
    REPOSE_ANGLES,
    SOIL_VOLUMES,
    SPOIL_SETBACK_M,
    DepthRule,
    ReposeAngle,
    SoilClass,
    SoilName,
    SoilVolumes,
    bank_from_compacted,
    bank_from_loose,
    compacted_from_bank,
    depth_rules,
    loose_from_bank,
)
from geo_site.volumes.solids import (
    average_end_area_volume,
    battered_pit_volume,
    battered_top,
    cone_of_volume,
    prismoidal_volume,
    rounded_pit_volume,
    truncated_cone_volume,
)

__all__ = [
    "BATTER_OF_UNKNOWN_SOIL",
    "DEPTH_RULES",
    "EXCAVATION_BATTERS",
    "REPOSE_ANGLES",
    "SOIL_VOLUMES",
    "SPOIL_SETBACK_M",
    "CutAndFill",
    "DepthRule",
    "ReposeAngle",
    "SoilClass",
    "SoilName",
    "SoilVolumes",
    "average_end_area_volume",
    "bank_from_compacted",
    "bank_from_loose",
    "battered_depths",
    "battered_pit_volume",
    "battered_top",
    "bulk_density",
    "compacted_from_bank",
    "cone_of_volume",
    "corner_grid_volume",
    "cover_against_uplift",
    "cut_and_fill",
    "depth_rules",
    "layer_mass",
    "liner_size",
    "loose_from_bank",
    "pile_crest_level",
    "prismoidal_volume",
    "reaches_edge",
    "repose_surface",
    "rounded_pit_volume",
    "stored_volume",
    "truncated_cone_volume",
    "uplift_force",
]
