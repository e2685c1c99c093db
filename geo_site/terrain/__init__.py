"""What the ground does: how steep it is, where water stands, where it runs and from where.

Question
    How does the ground slope, which low places hold water, how much ground drains through each
    place, and could some of that ground lie beyond the data?
In
    A :class:`geo_site.site.Site`: its terrain, structures, culverts and parcel.
Out
    A :class:`Terrain`: rasters on the terrain's own grid, and vectors near the parcel.
Method
    Gradients by Horn's formula on the ground as it is. Water is followed on a copy on which
    buildings stand up and culverts are cut through, over the whole terrain given and never on
    a clip: depressions are filled by priority-flood and kept as information.
Reference
    The formulas are those of ``geo_site.slopes`` and ``geo_site.drainage``; see there.
"""

from __future__ import annotations

from geo_site.terrain.analysis import analyse
from geo_site.terrain.flow import catchment_of, spill_path
from geo_site.terrain.levels import contours
from geo_site.terrain.results import (
    Catchment,
    Contour,
    Depression,
    FlowPath,
    Terrain,
    TerrainParameters,
)

__all__ = [
    "Catchment",
    "Contour",
    "Depression",
    "FlowPath",
    "Terrain",
    "TerrainParameters",
    "analyse",
    "catchment_of",
    "contours",
    "spill_path",
]
