"""The machine: its size, the slopes that it may go, how far it reaches."""

from __future__ import annotations

from math import radians, tan

from geo_site.parameters import Metres, Parameters, Slope, setting

__all__ = ["AccessParameters"]

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
