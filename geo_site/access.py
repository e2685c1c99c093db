"""Ways for a machine over the ground that is left.

Question
    Does the machine get from an access point to the works, where, and how steep is it?
In
    Machine ground, hand-dig ground, the terrain's gradients, access points.
Out
    Cost of the way to every cell; a route to one work with its corridor.
Method
    Cells where the machine's middle may be: half its width and a gap from what is blocked, its
    body inside the parcel save at the access point. Least-cost ways over the eight neighbours
    (Dijkstra 1959) from all access points at once; a step steeper along or across than the
    machine may go is no step. The way is then pulled straight where it stays allowed.
Reference
    Dijkstra, E. W. (1959), A note on two problems in connexion with graphs, Numerische
    Mathematik 1, 269-271. Machine sizes and slopes: common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import radians, tan

from shapely.geometry import LineString, Polygon

from geo_site.parameters import Metres, Parameters, Slope, setting

__all__ = ["AccessParameters", "MachineRoute"]

_PRACTICE = "common practice, no source"
_CHOSEN = "chosen for this tool, no source"


class AccessParameters(Parameters):
    """Settings of the machine and of its way."""

    machine_width: Metres = setting(
        1.35, unit="m", meaning="width of the machine", source=_PRACTICE, within="(0, 5]"
    )
    gap: Metres = setting(
        0.30, unit="m", meaning="clear gap on each side", source=_PRACTICE, within="[0, 3]"
    )
    greatest_slope_along: Slope = setting(
        tan(radians(15.0)),
        unit="-",
        meaning="steepest ground along the tracks (15 deg)",
        source=_PRACTICE,
        within="(0, 1]",
    )
    greatest_slope_across: Slope = setting(
        tan(radians(10.0)),
        unit="-",
        meaning="steepest ground across the tracks (10 deg)",
        source=_PRACTICE,
        within="(0, 1]",
    )
    working_reach: Metres = setting(
        4.0,
        unit="m",
        meaning="how far from the work the route may end",
        source=_PRACTICE,
        within="(0, 15]",
    )
    entry: Metres = setting(
        4.0,
        unit="m",
        meaning="how far round an access point the machine may stand outside the parcel",
        source=_CHOSEN,
        within="[0, 30]",
    )
    cell: Metres = setting(
        0.5, unit="m", meaning="cell size of the search", source=_CHOSEN, within="[0.1, 2]"
    )
    hand_dig_cost: float = setting(
        2.0,
        unit="-",
        meaning="extra cost of each metre over hand-dig ground, in metres of way",
        source=_CHOSEN,
        within="[0, 100]",
    )

    @property
    def half_m(self) -> float:
        """From the middle of the machine to the edge of its corridor, m."""
        return self.machine_width / 2.0 + self.gap


@dataclass(frozen=True, kw_only=True)
class MachineRoute:
    """A way for the machine.

    Attributes
    ----------
    line : shapely.LineString
        From the access point to where the machine works.
    length_m : float
        Horizontal length, m.
    corridor : shapely.Polygon
        The line with half the machine's width and the gap on both sides.
    steepest_along, steepest_across : float
        Steepest ground along and across the line, rise/run.
    hand_dig_m : float
        Length of the line in hand-dig ground, m.
    """

    line: LineString
    length_m: float
    corridor: Polygon
    steepest_along: float
    steepest_across: float
    hand_dig_m: float
