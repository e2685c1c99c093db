"""Settings and results of the earthwork step."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from shapely.geometry import LineString, MultiLineString, Polygon

from geo_site.access import MachineRoute
from geo_site.layout import Layout
from geo_site.parameters import CubicMetres, Degrees, Metres, Parameters, setting
from geo_site.siting import BasinDesign, Placement

__all__ = ["Earthwork", "EarthworkParameters", "Excavation", "Feature", "Pile"]

_PRACTICE = "common practice, no source"


class EarthworkParameters(Parameters):
    """Settings of excavation, spoil, pile, haul and silt fence."""

    soil: Literal["unknown", "sand", "loam", "clay", "rock"] = setting(
        "unknown",
        unit="-",
        meaning="soil at the basin; unknown: from the soils given, else swelling as loam",
        source="the user",
    )
    swell_factor: float | None = setting(
        None,
        unit="-",
        meaning="loose over bank volume, instead of the soil's",
        source="the user; else US Army FM 5-434 table 1-1",
        within="[1, 2]",
    )
    shrink_factor: float | None = setting(
        None,
        unit="-",
        meaning="compacted over bank volume, instead of the soil's",
        source="the user; else US Army FM 5-434 table 1-1",
        within="[0.5, 2]",
    )
    sod_thickness: Metres = setting(
        0.05,
        unit="m",
        meaning="sod, cut first and set apart",
        source=_PRACTICE,
        within="[0, 0.3]",
    )
    topsoil_thickness: Metres = setting(
        0.10,
        unit="m",
        meaning="topsoil under the sod, stripped and set apart",
        source=_PRACTICE,
        within="[0, 1]",
    )
    trench_below_pipe: Metres = setting(
        0.10,
        unit="m",
        meaning="floor of the pipe trench below the pipe's centre line",
        source=_PRACTICE,
        within="[0, 1]",
    )
    repose_angle: Degrees = setting(
        33.0,
        unit="degrees",
        meaning="angle at which the loose pile stands",
        source="common practice, no source: 30 to 37 for mixed damp spoil; dry sand 34, "
        "USBR Hyd-299 (1950)",
        within="[10, 45]",
    )
    pile_height_limit: Metres = setting(
        1.8, unit="m", meaning="greatest height of the pile", source=_PRACTICE, within="(0, 6]"
    )
    pile_setback: Metres = setting(
        0.61,
        unit="m",
        meaning="pile to the edge of the excavation, trench, stream and berm",
        source="29 CFR 1926.651(j)(2): 2 ft from the edge of excavations",
        within="[0.6096, 30]",
    )
    flow_path_setback: Metres = setting(
        1.0,
        unit="m",
        meaning="pile to where storm water gathers",
        source=_PRACTICE,
        within="[0, 50]",
    )
    reach_from_route: Metres = setting(
        6.0,
        unit="m",
        meaning="how far from the excavation or the machine route a pile's middle may lie",
        source="common practice, no source: boom of a small excavator",
        within="(0, 50]",
    )
    least_pile: CubicMetres = setting(
        0.5,
        unit="m3",
        meaning="a smaller loose pile is not worth its place; all is hauled",
        source=_PRACTICE,
        within="[0, 10]",
    )
    truck: CubicMetres = setting(
        8.0, unit="m3", meaning="loose soil in one load", source=_PRACTICE, within="(0, 30]"
    )
    fence_trench_width: Metres = setting(
        0.15,
        unit="m",
        meaning="width of the trench that the silt fence's foot is buried in",
        source="4 to 6 in, a county manual of practice as read",
        within="(0, 1]",
    )
    fence_offset: Metres = setting(
        1.5,
        unit="m",
        meaning="silt fence to the toe of the pile and the edge of the excavation",
        source=_PRACTICE,
        within="[0.3, 10]",
    )


@dataclass(frozen=True, kw_only=True)
class Feature:
    """What is to be built, as far as it moves earth.

    Attributes
    ----------
    placement : Placement
        The basin's place.
    design : BasinDesign
        The basin.
    layout : Layout or None
        The stream; None where there is none.
    route : MachineRoute or None
        How the machine comes; None where unknown.
    toe : shapely.Polygon or None
        Of the pile, where a person drew it; None: a place is looked for.
    fence : shapely.MultiLineString or None
        As a person drew it; None: worked out.
    """

    placement: Placement
    design: BasinDesign
    layout: Layout | None
    route: MachineRoute | None
    toe: Polygon | None = None
    fence: MultiLineString | None = None


@dataclass(frozen=True, kw_only=True)
class Excavation:
    """The basin's pit on the real ground.

    Attributes
    ----------
    bank_m3 : float
        The whole pit up to the grass, bank; NaN where the ground under it is not known.
    greatest_depth_m : float
        Below the ground; NaN likewise.
    outline : shapely.Polygon
        Where its sides meet the ground.
    """

    bank_m3: float
    greatest_depth_m: float
    outline: Polygon


@dataclass(frozen=True, kw_only=True)
class Pile:
    """A pile of loose spoil at its angle of repose on the real ground.

    Attributes
    ----------
    geometry : shapely.Polygon
        Its toe.
    volume_m3 : float
        Loose.
    height_m : float
        Greatest thickness above the ground.
    bank_m3 : float
        What it was before it was dug.
    crest_level_m : float
        Its highest level.
    """

    geometry: Polygon
    volume_m3: float
    height_m: float
    bank_m3: float
    crest_level_m: float


@dataclass(frozen=True, kw_only=True)
class Earthwork:
    """Earth moved: ``bank + brought / swell = (pile + haul) / swell + berm / shrink``.

    The strip of sod and topsoil is set apart for reuse and is in none of these.

    Attributes
    ----------
    pit_m3 : float
        The whole pit up to the grass, bank: what :func:`excavate` gives.
    excavation_m3, stream_cut_m3, trench_m3 : float
        Dug from pit, stream bed and pipe trench below the strip, bank.
    bank_m3 : float
        Their sum.
    topsoil_m3 : float
        Topsoil stripped and set apart, as it lay.
    sod_m2 : float
        Sod cut and set apart.
    berm_m3 : float
        Berm, compacted.
    soil : str
        Soil whose factors are used.
    swell_factor, shrink_factor : float
        Loose, and compacted, over bank volume.
    loose_m3 : float
        What is left for pile and haul, loose.
    brought_m3 : float
        What the berm needs beyond what is dug, loose.
    pile : Pile or None
        None where nothing is left or no place was found.
    haul_m3 : float
        Trucked away, loose.
    haul_loads : int
        Loads for that.
    silt_fence : shapely.LineString or None
        None where none can stand.
    flags : tuple of str
        Duties and doubts, a sentence each.
    """

    pit_m3: float
    excavation_m3: float
    stream_cut_m3: float
    trench_m3: float
    bank_m3: float
    topsoil_m3: float
    sod_m2: float
    berm_m3: float
    soil: str
    swell_factor: float
    shrink_factor: float
    loose_m3: float
    brought_m3: float
    pile: Pile | None
    haul_m3: float
    haul_loads: int
    silt_fence: LineString | MultiLineString | None
    flags: tuple[str, ...]
