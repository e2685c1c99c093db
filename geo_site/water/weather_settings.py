"""Settings of the return gravel and its leaves, of the climate, and of losses."""

from __future__ import annotations

from pydantic import model_validator

from geo_site.parameters import Degrees, Metres, Parameters, SquareMetres, setting

__all__ = ["ClimateParameters", "IntakeParameters", "LossParameters"]

_CHOSEN = "chosen for this tool, no source"
_PRACTICE = "common practice, no source"
_LOCAL = "the user's climate table, for the hottest dry month or week"


class IntakeParameters(Parameters):
    """The gravel that takes the stream back into the basin, and the leaves on it."""

    stone_size: Metres = setting(
        0.030, unit="m", meaning="size of the cover gravel", source=_PRACTICE, within="(0, 0.3]"
    )
    stone_porosity: float = setting(
        0.40,
        unit="-",
        meaning="voids of the cover gravel",
        source="storm water manuals, clean stone of one size (from memory)",
        within="(0, 0.9]",
    )
    head: Metres = setting(
        0.0,
        unit="m",
        meaning="water that may stand over the gravel before it runs off over the rim",
        source="chosen for this tool: none, the gravel lies as high as the rim",
        within="[0, 0.3]",
    )
    fouled_depth: Metres = setting(
        0.02,
        unit="m",
        meaning="top of the gravel that silt and crumbled leaves fill",
        source="an assumption; look after a season",
        within="[0, 0.2]",
    )
    fouled_size: Metres = setting(
        0.003,
        unit="m",
        meaning="size of grain that the fouled layer behaves like",
        source="an assumption; look after a season",
        within="(0, 0.1]",
    )
    fouled_porosity: float = setting(
        0.30,
        unit="-",
        meaning="voids of the fouled layer",
        source="an assumption; look after a season",
        within="(0, 0.9]",
    )
    spread: Metres = setting(
        1.0,
        unit="m",
        meaning="how far the stream spreads over the gravel before it has sunk in",
        source="an assumption: see it run",
        within="(0, 10]",
    )
    apron_end: Metres | None = setting(
        None,
        unit="m",
        meaning="how far over the gravel the stream's liner apron reaches, from the edge of the "
        "gravel; none: it ends at the edge",
        source="the user's detail",
        within="[0, 20]",
    )
    leaf_reach: Metres = setting(
        6.0,
        unit="m",
        meaning="how far from a crown its leaves come down or are blown",
        source=_PRACTICE,
        within="[0, 50]",
    )
    wind_from: Degrees | None = setting(
        None,
        unit="deg",
        meaning="where the wind of the leaf fall comes from, clockwise from grid north; none: "
        "from all sides",
        source="the user's climate table",
        within="[0, 360]",
    )
    assumed_crown_radius: Metres = setting(
        4.0,
        unit="m",
        meaning="crown radius of a tree whose crown is not given",
        source=_CHOSEN,
        within="[0, 30]",
    )
    litter_low: float = setting(
        0.25,
        unit="kg/m2",
        meaning="dry leaves shed in a year on each square metre of crown, at least",
        source="Bray and Gorham (1964), Advances in Ecological Research 2: 2.5 to 3.6 t/ha "
        "(from memory)",
        within="[0, 2]",
    )
    litter_high: float = setting(
        0.36,
        unit="kg/m2",
        meaning="the same, at most",
        source="Bray and Gorham (1964), as above (from memory)",
        within="(0, 2]",
    )
    leaf_days: float = setting(
        45.0,
        unit="days",
        meaning="length of the leaf fall",
        source=_PRACTICE,
        within="[1, 200]",
    )
    leaf_peak: float = setting(
        3.0,
        unit="-",
        meaning="leaves of the worst days over the mean of the leaf fall",
        source=_PRACTICE,
        within="[1, 20]",
    )
    clogging_low: float = setting(
        0.07,
        unit="kg/m2",
        meaning="dry leaves that shut a square metre of gravel, at least: one layer of flat leaves",
        source="an assumption: a leaf of broadleaved trees weighs 60 to 90 g/m2 (from memory)",
        within="(0, 5]",
    )
    clogging_high: float = setting(
        0.30,
        unit="kg/m2",
        meaning="the same, at most: about four layers",
        source="an assumption",
        within="(0, 5]",
    )

    @model_validator(mode="after")
    def _refuse_a_range_the_wrong_way(self) -> IntakeParameters:
        if self.litter_low > self.litter_high or self.clogging_low > self.clogging_high:
            raise ValueError("a low figure is above its high one")
        return self


class ClimateParameters(Parameters):
    """The weather of a hot dry week where the stream lies; all or none."""

    latitude: Degrees | None = setting(
        None, unit="deg", meaning="latitude, north positive", source=_LOCAL, within="(-66, 66)"
    )
    altitude: Metres | None = setting(
        None, unit="m", meaning="height above the sea", source=_LOCAL, within="[-450, 5000]"
    )
    day_of_year: int | None = setting(
        None, unit="-", meaning="day of the year, 1 to 366", source=_LOCAL, within="[1, 366]"
    )
    greatest_temperature: float | None = setting(
        None, unit="degC", meaning="mean of the days' greatest", source=_LOCAL, within="[-20, 55]"
    )
    least_temperature: float | None = setting(
        None, unit="degC", meaning="mean of the nights' least", source=_LOCAL, within="[-40, 45]"
    )
    greatest_humidity: float | None = setting(
        None, unit="%", meaning="relative humidity at dawn", source=_LOCAL, within="[0, 100]"
    )
    least_humidity: float | None = setting(
        None, unit="%", meaning="relative humidity after noon", source=_LOCAL, within="[0, 100]"
    )
    wind: float | None = setting(
        None, unit="m/s", meaning="mean wind at 2 m", source=_LOCAL, within="[0, 30]"
    )
    radiation: float | None = setting(
        None,
        unit="MJ/m2/day",
        meaning="sun's radiation on level ground",
        source=_LOCAL,
        within="[0, 45]",
    )
    pan_evaporation: float | None = setting(
        None,
        unit="mm/day",
        meaning="evaporation of a pan near by, used where the weather is not given",
        source=_LOCAL,
        within="[0, 40]",
    )
    pan_coefficient: float = setting(
        0.70,
        unit="-",
        meaning="open water over a class A pan",
        source="NOAA Technical Report NWS 33 (from memory)",
        within="(0, 1.5]",
    )

    @model_validator(mode="after")
    def _refuse_extremes_the_wrong_way(self) -> ClimateParameters:
        for low, high in (
            (self.least_temperature, self.greatest_temperature),
            (self.least_humidity, self.greatest_humidity),
        ):
            if low is not None and high is not None and low > high:
                raise ValueError("a least figure is above its greatest")
        return self


class LossParameters(Parameters):
    """What loses water besides the stream's own surface, and the line that makes it up."""

    plant_area: SquareMetres = setting(
        0.0,
        unit="m2",
        meaning="planting that drinks from the stream",
        source="the user's planting",
        within="[0, 1000]",
    )
    plant_coefficient: float = setting(
        1.2,
        unit="-",
        meaning="water use of wet planting over that of short grass",
        source="FAO-56 table 12, reeds and the like in full leaf (from memory)",
        within="[0, 2]",
    )
    stone_area: SquareMetres = setting(
        0.0,
        unit="m2",
        meaning="stone beside the bed that is kept wet, in plan",
        source="the user's stone",
        within="[0, 1000]",
    )
    stone_factor: float = setting(
        1.5,
        unit="-",
        meaning="evaporation of wet stone over that of open water, for each square metre in plan",
        source="an assumption: rough, sun-warmed stone has more surface than its plan",
        within="[0, 5]",
    )
    fill_opening: Metres | None = setting(
        None,
        unit="m",
        meaning="inside diameter of the fill line's outlet; none: no fill line is described",
        source="the user's fill line",
        within="(0, 0.3]",
    )
    fill_air_gap: Metres | None = setting(
        None,
        unit="m",
        meaning="height of that outlet above the level at which the basin overflows; none: unknown",
        source="the user's fill line",
        within="[0, 2]",
    )
    fill_beside_wall: bool = setting(
        False,
        unit="-",
        meaning="the outlet stands near a wall",
        source="the user's fill line",
    )
