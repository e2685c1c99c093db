"""Settings of the pipe and of the pump."""

from __future__ import annotations

from pydantic import field_validator

from geo_site.parameters import Degrees, Metres, Parameters, setting
from geo_site.pipes import (
    FITTING_LOSSES,
    PLASTIC_C,
    PLASTIC_ROUGHNESS_M,
    SCHEDULE_40_INSIDE_M,
)

__all__ = ["PipeParameters", "PumpParameters"]

_PRACTICE = "common practice, no source"
_OURS = "our choice"
_FASTEST, _SLOWEST = 1.2, 0.3  # of the speed of the curve: farther off the laws do not hold


class PipeParameters(Parameters):
    """Settings of the pipe from the pump to the spillway."""

    nominal: str | None = setting(
        None,
        unit="in",
        meaning="nominal size of schedule 40 pipe that is laid; none: it is chosen",
        source="the user's pipe",
    )
    temperature: float = setting(
        20.0,
        unit="degrees C",
        meaning="temperature of the water: cold water drags more",
        source=_PRACTICE,
        within="[0, 40]",
    )
    roughness: Metres = setting(
        PLASTIC_ROUGHNESS_M,
        unit="m",
        meaning="roughness of the pipe's wall",
        source="plastic: EPANET 2 Users Manual table 3.2 (from memory)",
        within="[0, 0.005]",
    )
    hazen_williams: float = setting(
        PLASTIC_C,
        unit="-",
        meaning="Hazen-Williams C of the wall, for the check beside Darcy-Weisbach",
        source="plastic: Illinois Administrative Code 77, part 906, appendix A",
        within="[50, 160]",
    )
    fittings: dict[str, int] = setting(
        {"entrance": 1, "check_valve": 1, "elbow_90": 2, "gate_valve_open": 1, "exit": 1},
        unit="-",
        meaning="fittings by kind and number, besides the bends of the route",
        source="common practice, no source; K of each: EPANET 2 Users Manual table 3.3 "
        "(from memory)",
    )
    bend_tolerance: Metres = setting(
        0.10,
        unit="m",
        meaning="how far straight lengths of pipe may lie off the route as drawn",
        source=_OURS,
        within="[0, 1]",
    )
    least_bend: Degrees = setting(
        15.0,
        unit="degrees",
        meaning="bend of the route that the pipe takes without a fitting",
        source=_PRACTICE,
        within="[0, 45]",
    )
    extra_length: Metres = setting(
        0.0,
        unit="m",
        meaning="pipe that neither route nor risers show",
        source="the user",
        within="[0, 100]",
    )

    @field_validator("nominal")
    @classmethod
    def _known_size(cls, value: str | None) -> str | None:
        if value is not None and value not in SCHEDULE_40_INSIDE_M:
            raise ValueError(f"not a size that is known: {', '.join(SCHEDULE_40_INSIDE_M)}")
        return value

    @field_validator("fittings")
    @classmethod
    def _known_fittings(cls, value: dict[str, int]) -> dict[str, int]:
        strange = sorted(set(value) - set(FITTING_LOSSES))
        if strange:
            raise ValueError(f"unknown fitting {strange[0]}; valid: {', '.join(FITTING_LOSSES)}")
        if any(count < 0 for count in value.values()):
            raise ValueError("a number of fittings is at least 0")
        return value


class PumpParameters(Parameters):
    """Settings of the choice of a pump and of its running cost."""

    speeds: tuple[float, ...] = setting(
        (1.0,),
        unit="-",
        meaning="speeds at which each pump is tried, over the speed of its curve",
        source="affinity laws, as the Hydraulic Institute states them (from memory)",
    )
    flow_tolerance: float = setting(
        0.05,
        unit="-",
        meaning="part of the wanted flow that a pump may fall short of it",
        source=_OURS,
        within="[0, 0.5]",
    )
    greatest_excess: float = setting(
        0.30,
        unit="-",
        meaning="part of the wanted flow that a pump may give beyond it and still be chosen",
        source=_OURS,
        within="[0, 10]",
    )
    hours_per_day: float = setting(
        24.0, unit="h", meaning="hours that the pump runs each day", source=_PRACTICE,
        within="[0, 24]",
    )  # fmt: skip
    years: float = setting(
        10.0,
        unit="years",
        meaning="years of running that pipe sizes are compared over",
        source=_OURS,
        within="[0, 50]",
    )
    discount_rate: float = setting(
        0.0,
        unit="1/year",
        meaning="what later money counts less each year; 0: as much as money now",
        source=_OURS,
        within="[0, 0.3]",
    )
    assumed_efficiency: float = setting(
        0.35,
        unit="-",
        meaning="power of the water over electric power, to compare pipe sizes by",
        source="common practice, no source: 0.2 to 0.5 of small pumps",
        within="(0, 0.9]",
    )

    @field_validator("speeds")
    @classmethod
    def _sound_speeds(cls, value: tuple[float, ...]) -> tuple[float, ...]:
        if not value or any(not _SLOWEST <= speed <= _FASTEST for speed in value):
            raise ValueError(f"one or more speeds, each from {_SLOWEST} to {_FASTEST}")
        return value
