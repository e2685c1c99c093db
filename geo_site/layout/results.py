"""What the layout step hands on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiPolygon, Polygon

__all__ = ["Fall", "Kind", "Layout", "NoStream", "Pool", "StreamReach"]

Kind = Literal["pool", "riffle", "fall"]


@dataclass(frozen=True, kw_only=True)
class StreamReach:
    """A stretch of one kind; reaches follow each other without a gap, lip to end.

    Attributes
    ----------
    sequence : int
        1 for the first below the lip.
    kind : {"pool", "riffle", "fall"}
        A pool is level, a riffle falls gently, a fall drops within one station step.
    line : shapely.LineString
        With Z, downstream; Z is sill level, m.
    from_m, to_m : float
        Stations, m from the lip.
    sill_level_m : float
        Bed level at its upstream end (of a pool: all along).
    """

    sequence: int
    kind: Kind
    line: LineString
    from_m: float
    to_m: float
    sill_level_m: float


@dataclass(frozen=True, kw_only=True)
class Fall:
    """A drop.

    Attributes
    ----------
    sequence : int
        1 for the first below the lip, falls counted alone.
    station_m : float
        Of its lip, m from the spillway's lip.
    x, y : float
        Of its lip's middle, m.
    height_m : float
        Sill to sill.
    lip_level_m, lip_width_m : float
        Level and width of its lip.
    """

    sequence: int
    station_m: float
    x: float
    y: float
    height_m: float
    lip_level_m: float
    lip_width_m: float


@dataclass(frozen=True, kw_only=True)
class Pool:
    """A level run with a hollow.

    Attributes
    ----------
    sequence : int
        1 for the first below the lip, pools counted alone.
    geometry : shapely.Polygon
        Its outline at sill level.
    sill_level_m : float
        Level at which it spills when nothing runs.
    depth_m : float
        Of the hollow, below the sill.
    from_m, to_m : float
        Stations, m from the lip.
    """

    sequence: int
    geometry: Polygon
    sill_level_m: float
    depth_m: float
    from_m: float
    to_m: float


@dataclass(frozen=True, kw_only=True)
class Layout:
    """A stream on the ground.

    Attributes
    ----------
    alignment : shapely.LineString
        Downstream, spillway lip first, ends inside the basin's footprint; Z is sill level.
    stations_m, ground_m, bed_m : ndarray, shape (n,)
        Distance from the lip, level of the ground and of the sills at each vertex.
    kinds : ndarray of str, shape (n,)
        Kind of the step that leaves each station downstream; the last repeats the one before.
    reaches : tuple of StreamReach
        Lip to end, without a gap.
    falls, pools : tuple
        In order downstream.
    bed : shapely.Polygon
        Stream and pools, inside the free ground.
    dig : shapely.Polygon
        Ground broken for the stream: bed and sides of its cut, inside the free ground.
    pipe : shapely.LineString
        Centre line with Z, pump first, spillway last.
    trench_width_m : float
        Of the pipe's trench.
    pipe_under_bed : bool
        True where no free ground was found beside the bed and the pipe lies under it.
    lip_level_m : float
        First sill level.
    fall_m : float
        First sill level less the last.
    length_m : float
        Horizontal, along the alignment.
    sinuosity : float
        Length over the straight distance of the ends.
    ground_fall_m : float
        Ground at the lip less the basin's rim: what the ground alone gives.
    berm_height_m : float
        Greatest height of the bed above the ground; 0 for none.
    berm_m3 : float
        Fill of the berm, compacted, its end slope behind the lip included.
    stream_cut_m3 : float
        Cut for bed and hollows, bank volume, outside the basin's excavation.
    berm : shapely.Polygon or shapely.MultiPolygon or None
        Ground that the berm covers.
    hand_dig_m : float
        Length of stream along which some of the ground dug is hand-dig ground.
    step_ratio : float
        Step steepness over mean slope (1 to 2 in natural step-pool streams); NaN without falls
        or where the mean slope is 0.03 or less.
    """

    alignment: LineString
    stations_m: NDArray[np.float64]
    ground_m: NDArray[np.float64]
    bed_m: NDArray[np.float64]
    kinds: NDArray[np.str_]
    reaches: tuple[StreamReach, ...]
    falls: tuple[Fall, ...]
    pools: tuple[Pool, ...]
    bed: Polygon
    dig: Polygon
    pipe: LineString
    trench_width_m: float
    pipe_under_bed: bool
    lip_level_m: float
    fall_m: float
    length_m: float
    sinuosity: float
    ground_fall_m: float
    berm_height_m: float
    berm_m3: float
    stream_cut_m3: float
    berm: Polygon | MultiPolygon | None
    hand_dig_m: float
    step_ratio: float

    @property
    def trench(self) -> Polygon:
        """Ground that the pipe's trench takes."""
        return self.pipe.buffer(0.5 * self.trench_width_m, cap_style="flat")


@dataclass(frozen=True, kw_only=True)
class NoStream:
    """There is no stream for this basin, and why.

    Attributes
    ----------
    reason : str
        One sentence that names the limit.
    """

    reason: str
