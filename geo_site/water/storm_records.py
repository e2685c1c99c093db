"""What is found out about storms: run-on, peaks, the way of overflow, the swale."""

from __future__ import annotations

from dataclasses import dataclass

from shapely.geometry import LineString, MultiLineString
from shapely.geometry.base import BaseGeometry

from geo_site.terrain import Catchment, FlowPath

__all__ = [
    "Leaving",
    "NearStructure",
    "RunOn",
    "Storm",
    "StormReport",
    "StormWorks",
    "SurfaceShare",
    "Swale",
    "TravelLeg",
    "WayOfOverflow",
]


@dataclass(frozen=True, kw_only=True)
class StormWorks:
    """What a storm is judged on.

    Attributes
    ----------
    run_ons : tuple of (shapely geometry, Catchment)
        Each work that water runs onto, and its catchment: pit and stream.
    free : shapely geometry
        Ground in which a swale may be dug.
    keep_off : shapely geometry
        What a swale's water may not run onto besides: the spoil pile.
    overflow : FlowPath
        Where water goes that leaves the basin.
    free_room_m3 : float
        What the basin can still take in; NaN: unknown.
    """

    run_ons: tuple[tuple[BaseGeometry, Catchment], ...]
    free: BaseGeometry
    keep_off: BaseGeometry
    overflow: FlowPath
    free_room_m3: float


@dataclass(frozen=True, kw_only=True)
class SurfaceShare:
    """Ground of one kind in a catchment.

    Attributes
    ----------
    cover : str
        What lies there.
    soil_group : str
        A to D; ``unknown``: nothing says, and D was used.
    area_m2 : float
        Of the catchment.
    curve_number, runoff_coefficient : float
        Used for it.
    stated_by : str
        ``surface``, ``structure`` or ``setting``: whose word it is.
    """

    cover: str
    soil_group: str
    area_m2: float
    curve_number: float
    runoff_coefficient: float
    stated_by: str


@dataclass(frozen=True, kw_only=True)
class TravelLeg:
    """A piece of the longest way of the water.

    Attributes
    ----------
    kind : str
        ``sheet``, ``shallow`` or ``channel``.
    length_m : float
        Its length.
    slope : float
        Used for it: that of the ground, or the least one of the settings.
    time_s : float
        Taken by the water; NaN where the rain is not known.
    """

    kind: str
    length_m: float
    slope: float
    time_s: float


@dataclass(frozen=True, kw_only=True)
class RunOn:
    """The ground that sheds onto a work.

    Attributes
    ----------
    runs_onto : str
        The work.
    area_m2 : float
        Of the catchment, the ground under the work included.
    is_lower_bound : bool
        True where water may come from beyond the terrain.
    shares : tuple of SurfaceShare
        What lies there; their areas add up to the catchment.
    curve_number, runoff_coefficient : float
        Means by area, for a look; runoff is worked out share by share.
    legs : tuple of TravelLeg
        The longest way down to the work; empty where no ground lies above it.
    concentration_s : float
        Time of concentration, at least that of the settings; NaN where the rain is not known.
    kirpich_s : float
        The same by Kirpich's formula, for comparison; NaN without a way.
    path : shapely.LineString
        The longest way, downstream.
    """

    runs_onto: str
    area_m2: float
    is_lower_bound: bool
    shares: tuple[SurfaceShare, ...]
    curve_number: float
    runoff_coefficient: float
    legs: tuple[TravelLeg, ...]
    concentration_s: float
    kirpich_s: float
    path: LineString


@dataclass(frozen=True, kw_only=True)
class Storm:
    """One storm on one work; NaN: not known.

    Attributes
    ----------
    runs_onto : str
        The work.
    return_years : float
        In the rainfall table's own series.
    duration_s : float
        Of the rain that gives the rational peak: the time of concentration.
    depth_m : float
        Rain in that time.
    intensity_ms : float
        Depth over duration.
    day_depth_m : float
        Rain in 24 hours.
    runoff_m : float
        Of that, what runs off, mean over the catchment, by curve numbers.
    volume_m3 : float
        What runs onto the work in 24 hours.
    rational_m3s, curve_number_m3s : float
        Greatest flow by each method, NaN where the method is not valid.
    peak_m3s : float
        The one that counts.
    method : str
        ``rational``, ``curve number`` or ``unknown``.
    why : str
        Why that one.
    is_lower_bound : bool
        True where water may come from beyond the terrain.
    spilled_m3 : float
        What the basin does not take; of basin and stream together only.
    """

    runs_onto: str
    return_years: float
    duration_s: float
    depth_m: float
    intensity_ms: float
    day_depth_m: float
    runoff_m: float
    volume_m3: float
    rational_m3s: float
    curve_number_m3s: float
    peak_m3s: float
    method: str
    why: str
    is_lower_bound: bool
    spilled_m3: float


@dataclass(frozen=True, kw_only=True)
class Leaving:
    """Where water leaves the lot.

    Attributes
    ----------
    x, y : float
        On the lot's line.
    along_m : float
        From the beginning of the way to there.
    side : str
        Which side of the lot, in words.
    azimuth_deg : float
        Towards which the lot's line looks there, clockwise from north.
    """

    x: float
    y: float
    along_m: float
    side: str
    azimuth_deg: float


@dataclass(frozen=True, kw_only=True)
class NearStructure:
    """A structure that a way of water comes near.

    Attributes
    ----------
    source_id : str
        Id in the user's file.
    along_m : float
        From the beginning of the way to the nearest point.
    distance_m : float
        Least distance of the way, which follows cells of the terrain; under half a cell it may
        reach the structure.
    slope : float
        Of the ground from the way to the structure, positive where it falls towards it; NaN
        under half a cell, and where the ground is not known.
    """

    source_id: str
    along_m: float
    distance_m: float
    slope: float


@dataclass(frozen=True, kw_only=True)
class WayOfOverflow:
    """Where spilled water runs.

    Attributes
    ----------
    line : shapely.LineString
        Downstream; empty where it leaves the terrain at once.
    structures : tuple of NearStructure
        Those near, the nearest first.
    leaving : Leaving or None
        Where it leaves the lot; None where the terrain does not show that it does.
    """

    line: LineString
    structures: tuple[NearStructure, ...]
    leaving: Leaving | None


@dataclass(frozen=True, kw_only=True)
class Swale:
    """One arm of the swale that keeps run-on off; what it lets go runs clear of the works.

    Attributes
    ----------
    line : shapely.LineString
        Its middle as wanted, downstream.
    stands : shapely.MultiLineString
        Of that, what lies on ground where digging is free.
    length_m : float
        Of what stands.
    gap_m : float
        Of what does not.
    slope : float
        Fall along its bed.
    kept_off_m2 : float
        Ground whose water it catches.
    flow_m3s, depth_m, water_depth_m, top_width_m, velocity_ms, shear_pa : float
        For the design storm; NaN: unknown, no rain is given. The depth is what is dug, the
        water's is without freeboard.
    lining : str
        What stands that water.
    leaving : Leaving or None
        Where its water leaves the lot.
    """

    line: LineString
    stands: MultiLineString
    length_m: float
    gap_m: float
    slope: float
    kept_off_m2: float
    flow_m3s: float
    depth_m: float
    water_depth_m: float
    top_width_m: float
    velocity_ms: float
    shear_pa: float
    lining: str
    leaving: Leaving | None


@dataclass(frozen=True, kw_only=True)
class StormReport:
    """Everything about storms.

    Attributes
    ----------
    rainfall : str
        What the rainfall table says of itself; empty without one.
    series : str
        Which storms it counts; empty without one.
    run_ons : tuple of RunOn
        Pit, stream, and both together.
    storms : tuple of Storm
        For each of those and each return period; empty without rain.
    free_room_m3 : float
        What the basin can still take in.
    overflow : WayOfOverflow
        Where spilled water runs.
    swales : tuple of Swale
        Its arms; empty where none is needed or none can be laid.
    swale_dig : shapely geometry
        Ground that the swale breaks.
    notes : tuple of str
        What was assumed, a sentence each.
    warnings : tuple of str
        What does not work or is not known, a sentence each.
    """

    rainfall: str
    series: str
    run_ons: tuple[RunOn, ...]
    storms: tuple[Storm, ...]
    free_room_m3: float
    overflow: WayOfOverflow
    swales: tuple[Swale, ...]
    swale_dig: BaseGeometry
    notes: tuple[str, ...]
    warnings: tuple[str, ...]
