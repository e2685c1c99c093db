"""Settings of storms, of the ground that sheds them, and of the swale that keeps them off."""

from __future__ import annotations

from typing import Literal

from pydantic import field_validator

from geo_site.parameters import Metres, Parameters, Slope, SquareMetres, setting
from geo_site.runoff import COVERS

__all__ = ["StormParameters", "SwaleParameters"]

_PRACTICE = "common practice, no source"
_OURS = "our choice"


class SwaleParameters(Parameters):
    """The swale above the works that keeps run-on off them."""

    offset: Metres = setting(
        1.5,
        unit="m",
        meaning="from pit and stream to the swale's middle, at least",
        source=_PRACTICE,
        within="(0, 20]",
    )
    fall: Slope = setting(
        0.015, unit="rise/run", meaning="fall along it", source=_PRACTICE, within="(0, 0.1]"
    )
    longest: Metres = setting(
        40.0,
        unit="m",
        meaning="length of one arm that is still laid out",
        source=_OURS,
        within="[2, 300]",
    )
    end_setback: Metres = setting(
        3.0,
        unit="m",
        meaning="from its outlet to the lot's line: room in which its water spreads",
        source=_PRACTICE,
        within="[0, 50]",
    )
    bottom_width: Metres = setting(
        0.0,
        unit="m",
        meaning="width of its bottom; 0: a V",
        source=_PRACTICE,
        within="[0, 3]",
    )
    side_run: float = setting(
        3.0,
        unit="-",
        meaning="run over rise of its sides: 3 can be mown",
        source=_PRACTICE,
        within="[0.5, 10]",
    )
    roughness: float = setting(
        0.035,
        unit="s/m^(1/3)",
        meaning="Manning's n of its lining",
        source="Chow (1959) table 5-6, short grass 0.027 to 0.033, gravel and stone more; chosen "
        "above",
        within="[0.01, 0.3]",
    )
    freeboard: Metres = setting(
        0.10,
        unit="m",
        meaning="its edge above the water of the design storm",
        source="common practice, no source; HEC-15 asks 0.15 m of roadside channels (from memory)",
        within="[0, 1]",
    )
    least_depth: Metres = setting(
        0.20, unit="m", meaning="shallowest that is dug", source=_PRACTICE, within="[0.05, 1]"
    )
    greatest_velocity: float = setting(
        1.2,
        unit="m/s",
        meaning="velocity that grass stands",
        source="4 ft/s, channel design handbooks (from memory)",
        within="(0, 5]",
    )
    greatest_shear: float = setting(
        48.0,
        unit="Pa",
        meaning="shear that grass stands",
        source="HEC-15, vegetation of class C, 1.0 lb/ft2 (from memory)",
        within="(0, 500]",
    )
    assumed_width: Metres = setting(
        1.2,
        unit="m",
        meaning="top width that is kept clear where its size is not known",
        source=_OURS,
        within="(0, 5]",
    )


class StormParameters(Parameters):
    """Which storms are tried, and what the ground makes of them."""

    return_years: tuple[float, ...] = setting(
        (2.0, 10.0, 25.0, 100.0),
        unit="years",
        meaning="return periods, in the rainfall table's own series",
        source=_PRACTICE,
    )
    design_return_years: float = setting(
        10.0,
        unit="years",
        meaning="return period that the swale is made for",
        source=_PRACTICE,
        within="(0, 1000]",
    )
    cover: str = setting(
        "lawn",
        unit="-",
        meaning="what lies on ground that no surface and no structure covers",
        source="TR-55 table 2-2: open space with grass on more than 75 % (from memory)",
    )
    soil_group: Literal["A", "B", "C", "D", "unknown"] = setting(
        "unknown",
        unit="-",
        meaning="hydrologic soil group where no soil is given; unknown: D, the wettest, is taken",
        source="the user: soil survey",
    )
    rainfall_type: Literal["II"] = setting(
        "II",
        unit="-",
        meaning="form of the 24-hour storm; coefficients of the other types are not known here",
        source="TR-55 appendix B: most of the inland United States, the most intense of the four "
        "(from memory)",
    )
    abstraction_ratio: float = setting(
        0.2,
        unit="-",
        meaning="initial abstraction over retention",
        source="TR-55 equation 2-2; 0.05: Woodward et al. (2003)",
    )
    pond_part: float = setting(
        0.0,
        unit="-",
        meaning="part of the catchment under ponds and swamps",
        source="the user",
        within="[0, 0.05]",
    )
    sheet_roughness: float = setting(
        0.15,
        unit="s/m^(1/3)",
        meaning="Manning's n of sheet flow",
        source="TR-55 table 3-1, short grass; dense grass 0.24",
        within="[0.005, 1]",
    )
    least_concentration: float = setting(
        300.0,
        unit="s",
        meaning="shortest time of concentration",
        source="common practice, no source: 5 minutes",
        within="[60, 3600]",
    )
    least_slope: Slope = setting(
        0.005,
        unit="rise/run",
        meaning="slope that a flatter leg is given: lidar does not show less on a short leg",
        source=_OURS,
        within="(0, 0.05]",
    )
    channel_from: SquareMetres = setting(
        20_000.0,
        unit="m2",
        meaning="ground drained from which on water runs in a channel",
        source=_PRACTICE,
        within="[1000, inf)",
    )
    channel_depth: Metres = setting(
        0.3,
        unit="m",
        meaning="depth of the water in that channel, sides 2:1, bottom as wide as it is deep",
        source="an assumption: look at it",
        within="(0, 3]",
    )
    channel_roughness: float = setting(
        0.05,
        unit="s/m^(1/3)",
        meaning="Manning's n of that channel",
        source="Chow (1959) table 5-6, natural channels with stones and weeds (from memory)",
        within="[0.01, 0.3]",
    )
    near_structure: Metres = setting(
        10.0,
        unit="m",
        meaning="how near to a structure the way of overflow is told",
        source=_OURS,
        within="[0, 100]",
    )
    overflow_reach: Metres = setting(
        50.0,
        unit="m",
        meaning="how far along its way overflow is looked at for structures",
        source=_OURS,
        within="(0, 1000]",
    )
    swale: SwaleParameters = SwaleParameters()

    @field_validator("abstraction_ratio")
    @classmethod
    def _a_ratio_with_numbers(cls, given: float) -> float:
        if given not in (0.05, 0.2):
            raise ValueError("curve numbers are known with 0.2 and 0.05 only")
        return given

    @field_validator("cover")
    @classmethod
    def _a_cover_that_we_know(cls, given: str) -> str:
        if given not in COVERS:
            raise ValueError(f"no such cover; valid: {', '.join(COVERS)}")
        return given

    @field_validator("return_years")
    @classmethod
    def _rising_years(cls, given: tuple[float, ...]) -> tuple[float, ...]:
        if not given or list(given) != sorted(set(given)) or given[0] <= 0.0:
            raise ValueError("give return periods once each, rising, greater than 0")
        return given
