"""Works that a person drew or pinned, in the site's CRS, metres.

In: nothing; readers make them from an edited plan or from ``[fixed]`` of the site file. Out:
:class:`Drawn`. What is there is kept as it is drawn; what is None or empty is worked out.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from shapely.geometry import LineString, MultiLineString, MultiPoint, MultiPolygon, Point, Polygon

__all__ = ["Breach", "Drawn", "DrawnFall", "DrawnPool", "DrawnReach", "Earlier"]


@dataclass(frozen=True, kw_only=True)
class DrawnReach:
    """A stretch of the stream whose kind the person left or gave.

    Attributes
    ----------
    line : shapely.LineString
        Downstream; with Z where its sill levels are given.
    kind : str
        ``pool``, ``riffle`` or ``fall``; empty where it was cleared.
    """

    line: LineString
    kind: str


@dataclass(frozen=True, kw_only=True)
class DrawnFall:
    """A fall.

    Attributes
    ----------
    lip : shapely.Point
        Middle of its lip; with Z where the level is given.
    height_m, lip_width_m : float
        NaN where not given.
    """

    lip: Point
    height_m: float = math.nan
    lip_width_m: float = math.nan


@dataclass(frozen=True, kw_only=True)
class DrawnPool:
    """A pool.

    Attributes
    ----------
    outline : shapely.Polygon
        As drawn, in plan.
    depth_m : float
        Of its hollow below the sill; NaN where not given.
    """

    outline: Polygon
    depth_m: float = math.nan


@dataclass(frozen=True, kw_only=True)
class Breach:
    """A rule that a drawn work breaks; the work stays as it is drawn.

    Attributes
    ----------
    work : str
        Which work.
    rule : str
        Name of the constraint or of the setting.
    against : str
        Id of the object in the user's file; empty where it is no object.
    asked, found : float
        In the unit; NaN where the rule has no number.
    unit : str
        Of both; ``-`` for none.
    sentence : str
        What is wrong, and what would be right.
    """

    work: str
    rule: str
    against: str
    asked: float
    found: float
    unit: str
    sentence: str


@dataclass(frozen=True, kw_only=True)
class Earlier:
    """What an earlier plan said of itself, as far as its file still tells.

    Attributes
    ----------
    figures : mapping of str to float
        By the names that the changes are told under; empty where the file has lost them.
    """

    figures: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """Works and ground that a person fixed.

    Attributes
    ----------
    basin : shapely.Polygon or None
        Outline of the void units, without Z.
    basin_depth_m : float
        From the rim to the pit floor; NaN: by the settings.
    spillway : shapely.Point or None
        Where the stream must begin; only where no stream is drawn.
    stream : shapely.LineString or None
        Downstream, lip first; with Z where its sill levels are given.
    reaches, falls, pools : tuple
        Of the stream, in order downstream; empty where they are to be worked out.
    pipe : shapely.LineString or None
        Pump first, without Z: its depth follows from the settings.
    spoil_pile : shapely.Polygon or None
        Toe of the pile.
    silt_fence, machine_route : shapely.MultiLineString or None
        As drawn; the route's parts each begin at an access point.
    keep_off : shapely.MultiPolygon
        Ground that no work may take.
    must_pass : shapely.MultiPoint
        Points that the stream must pass.
    notes : tuple of str
        What had to be turned, closed or left out on reading, a sentence each.
    """

    basin: Polygon | None = None
    basin_depth_m: float = math.nan
    spillway: Point | None = None
    stream: LineString | None = None
    reaches: tuple[DrawnReach, ...] = ()
    falls: tuple[DrawnFall, ...] = ()
    pools: tuple[DrawnPool, ...] = ()
    pipe: LineString | None = None
    spoil_pile: Polygon | None = None
    silt_fence: MultiLineString | None = None
    machine_route: MultiLineString | None = None
    keep_off: MultiPolygon = field(default_factory=MultiPolygon)
    must_pass: MultiPoint = field(default_factory=MultiPoint)
    notes: tuple[str, ...] = ()

    @property
    def has_works(self) -> bool:
        """Whether any work is drawn."""
        works = (
            self.basin,
            self.spillway,
            self.stream,
            self.pipe,
            self.spoil_pile,
            self.silt_fence,
            self.machine_route,
        )
        return any(work is not None for work in works)
