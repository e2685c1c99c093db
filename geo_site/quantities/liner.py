"""Liner of basin and stream, by what it covers.

In: the basin's design and place, layout and water, settings. Out: areas in m2. Method: the basin
as one sheet over floor and sides, as it is dug; the stream as bed, both banks up to the liner's
edge, faces of falls, edges laid flat, and a share for folds and offcuts.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from geo_site import volumes
from geo_site.layout import Layout
from geo_site.quantities.settings import QuantityParameters
from geo_site.siting import BasinDesign, Placement
from geo_site.water import Profile, Water

__all__ = ["BasinSheet", "StreamLiner", "basin_sheet", "mean_width", "stream_liner"]


@dataclass(frozen=True, kw_only=True)
class BasinSheet:
    """The sheet that lines the basin.

    Attributes
    ----------
    length_m, width_m : float
        Of the sheet.
    """

    length_m: float
    width_m: float

    @property
    def area_m2(self) -> float:
        """Of the whole sheet, the folds of its corners within it."""
        return self.length_m * self.width_m


@dataclass(frozen=True, kw_only=True)
class StreamLiner:
    """What the stream's liner covers.

    Attributes
    ----------
    bed_m2 : float
        Bed and pools, in plan.
    banks_m2 : float
        Both banks along their slope, up to the liner's edge.
    falls_m2 : float
        Faces of the falls.
    edges_m2 : float
        Laid flat beyond the edge, and over the basin's liner.
    waste_m2 : float
        Folds and offcuts.
    """

    bed_m2: float
    banks_m2: float
    falls_m2: float
    edges_m2: float
    waste_m2: float

    @property
    def area_m2(self) -> float:
        """What is bought."""
        return self.bed_m2 + self.banks_m2 + self.falls_m2 + self.edges_m2 + self.waste_m2


def basin_sheet(
    design: BasinDesign, placement: Placement, parameters: QuantityParameters
) -> BasinSheet:
    """Measure the sheet that lines the pit's floor and its sides up to the rim.

    Parameters
    ----------
    design : BasinDesign
        Depth, overdig and batter.
    placement : Placement
        Arrangement of the units.
    parameters : QuantityParameters
        Edge.

    Returns
    -------
    BasinSheet
        Along sloping sides as dug; a part of a pit whose ground rises above the rim is not lined.
    """
    laid, overdig_m = placement.arrangement, 2.0 * design.overdig_m
    side_m = design.depth_m * math.hypot(1.0, design.batter)
    length_m, width_m = volumes.liner_size(
        laid.length_m + overdig_m, laid.width_m + overdig_m, side_m, parameters.liner_edge
    )
    return BasinSheet(length_m=length_m, width_m=width_m)


def stream_liner(layout: Layout, water: Water, parameters: QuantityParameters) -> StreamLiner:
    """Measure what the stream's liner covers.

    Parameters
    ----------
    layout : Layout
        Bed, reaches, falls.
    water : Water
        Bed, and level of the liner's edge along it.
    parameters : QuantityParameters
        Banks, edges, waste.

    Returns
    -------
    StreamLiner
        The liner lies under the bed's stone, hollows with it; its edge is that of the water step.
    """
    width_m = mean_width(layout)
    banks_m2 = _banks(water.running.profile, parameters)
    falls_m2 = sum(fall.height_m for fall in layout.falls) * width_m
    edges_m2 = 2.0 * layout.length_m * parameters.liner_edge
    edges_m2 += width_m * (parameters.liner_edge + parameters.liner_overlap)
    covered_m2 = float(layout.bed.area) + banks_m2 + falls_m2 + edges_m2
    return StreamLiner(
        bed_m2=float(layout.bed.area),
        banks_m2=banks_m2,
        falls_m2=falls_m2,
        edges_m2=edges_m2,
        waste_m2=parameters.liner_waste * covered_m2,
    )


def mean_width(layout: Layout) -> float:
    """Bed and pools in plan over their length, m."""
    return float(layout.bed.area) / layout.length_m


def _banks(profile: Profile, parameters: QuantityParameters) -> float:
    """Both banks along their slope, from under the bed's stone up to the liner's edge, m2."""
    steps_m = np.diff(profile.station_m)
    along = math.hypot(1.0, parameters.bank_side)
    banks_m2 = 0.0
    for edge_m in (profile.liner_left_m, profile.liner_right_m):
        rise_m = np.maximum(edge_m - profile.bed_m, 0.0) + parameters.bed_stone_thickness
        banks_m2 += along * float(np.sum(steps_m * (rise_m[:-1] + rise_m[1:]) / 2.0))
    return banks_m2
