"""Settings of the basin's store, of what lies on it, of groundwater, and of a start and a stop."""

from __future__ import annotations

from geo_site.parameters import Metres, Parameters, SquareMetres, setting

__all__ = ["CycleParameters", "GroundwaterParameters", "LoadParameters", "StoreParameters"]

_CHOSEN = "chosen for this tool, no source"
_PRACTICE = "common practice, no source"


class StoreParameters(Parameters):
    """What counts as stored water."""

    gravel_counts: bool = setting(
        False,
        unit="-",
        meaning="count the water in the gravel beside the units as usable",
        source="chosen by the user: gravel clogs, and its voids are an estimate",
    )
    check_valve: bool = setting(
        False,
        unit="-",
        meaning="count on a check valve to keep the pipe full while the pump stands; one that "
        "leaks does not",
        source="chosen by the user; without it the pipe's water comes back at each stop",
    )
    filled_while_running: bool = setting(
        False,
        unit="-",
        meaning="the basin is kept at its full level while the pump runs (a float valve does that)",
        source="chosen by the user; the moving water then comes on top at each stop",
    )
    chamber_area: SquareMetres = setting(
        0.0,
        unit="m2",
        meaning="plan area of a pump chamber beside the units, open inside; 0: none",
        source="the user's pump chamber",
        within="[0, 10]",
    )
    chamber_depth: Metres = setting(
        0.0,
        unit="m",
        meaning="depth of the chamber's floor below the units' floor",
        source="the user's pump chamber",
        within="[0, 2]",
    )


class GroundwaterParameters(Parameters):
    """Groundwater under the basin, and what holds the basin down."""

    water_table_depth: Metres | None = setting(
        None,
        unit="m",
        meaning="depth below the rim of the highest groundwater of the year; none: unknown",
        source="a test pit in the wet season, or a soil survey",
        within="[-2, 100]",
    )
    hold_down_factor: float = setting(
        1.2,
        unit="-",
        meaning="weight asked for over the uplift",
        source="1.1 to 1.5 by agency (from memory)",
        within="[1, 3]",
    )
    stone_gravity: float = setting(
        2.65,
        unit="-",
        meaning="density of the solid stone of the gravel over that of water",
        source="granite and limestone 2.6 to 2.75 (from memory)",
        within="[1.5, 3.5]",
    )
    cover_weight: float = setting(
        18.0,
        unit="kN/m3",
        meaning="weight of soil or gravel over the units, and of soil added to hold them down",
        source="moist soil, 16 to 20 kN/m3 (from memory)",
        within="[10, 25]",
    )


class LoadParameters(Parameters):
    """What the void units are rated for, and what comes to lie and drive on them."""

    rated_load: float | None = setting(
        None,
        unit="kPa",
        meaning="load that the void units are rated for, on their top, for good; none: unknown",
        source="the unit's data sheet: the rating for lasting load, not the one for a moment",
        within="(0, 2000]",
    )
    stone_mass: float = setting(
        500.0,
        unit="kg",
        meaning="mass of the largest stone set over the units",
        source=_PRACTICE,
        within="[0, 20000]",
    )
    stone_contact: SquareMetres = setting(
        0.10,
        unit="m2",
        meaning="ground that this stone rests on, taken as a square",
        source=_PRACTICE,
        within="(0, 10]",
    )
    machine_pressure: float = setting(
        32.0,
        unit="kPa",
        meaning="mean ground pressure of the machine that could drive over the units; 0: none does",
        source="common practice, no source: excavators of up to 2 t; its plate decides",
        within="[0, 500]",
    )
    machine_factor: float = setting(
        2.0,
        unit="-",
        meaning="pressure at a track's edge, or while lifting, over the mean",
        source=_PRACTICE,
        within="[1, 5]",
    )
    track_length: Metres = setting(
        1.2, unit="m", meaning="length of a track on the ground", source=_PRACTICE, within="(0, 6]"
    )
    track_width: Metres = setting(
        0.23, unit="m", meaning="width of a track", source=_PRACTICE, within="(0, 1]"
    )
    track_gap: Metres = setting(
        0.53, unit="m", meaning="clear between the tracks", source=_PRACTICE, within="[0, 3]"
    )


class CycleParameters(Parameters):
    """One start, run and stop as it is followed in time, and a leak to try."""

    run_time: float = setting(
        1.0, unit="h", meaning="how long the pump runs", source=_CHOSEN, within="(0, 72]"
    )
    rest_time: float = setting(
        1.0, unit="h", meaning="how long it then stands", source=_CHOSEN, within="(0, 72]"
    )
    basin_leak: float = setting(
        0.0,
        unit="m3/day",
        meaning="leak of the basin to try, whether the pump runs or stands",
        source="chosen by the user",
        within="[0, 100]",
    )
    stream_leak: float = setting(
        0.0,
        unit="m3/day",
        meaning="leak of the stream's liner to try: only what runs can leak",
        source="chosen by the user",
        within="[0, 100]",
    )
    leak_from: float = setting(
        0.0,
        unit="h",
        meaning="when the leak begins",
        source="chosen by the user",
        within="[0, 144]",
    )
    leak_until: float = setting(
        144.0, unit="h", meaning="when it ends", source="chosen by the user", within="[0, 144]"
    )
