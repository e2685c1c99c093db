"""Water that is lost: evaporation, planting, splash; what must be filled in, and how long it lasts.

Question
    How much leaves on a hot day, and how many days without rain until the pump sucks air?
In
    The wet area, the user's climate, usable and moving water.
Out
    :class:`Losses`; what is said about the fill line.
Method
    Open water by Penman from the weather of a hot dry week; else from a pan; else the flat figure
    of the settings. Wet planting by FAO-56 times a coefficient. Splash is the user's figure. Days
    are what can be pumped beyond what moves, over the loss of a day.
Reference
    Penman (1956); FAO-56; see :mod:`geo_site.evaporation`. Air gap: plumbing codes (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from geo_site import evaporation
from geo_site.water.records import WaterParameters

__all__ = ["Losses", "air_gap_needed", "fill_line_told", "lose", "losses"]

_MJ_W = evaporation.MJ_PER_DAY_W
_LEAST_GAP_M = 0.025
_BASES = {
    "penman": "Penman, from the weather given",
    "pan": "a pan, from the figure given",
    "flat": "the flat figure of the settings",
}


@dataclass(frozen=True, kw_only=True)
class Losses:
    """Water that leaves on one hot dry day, and what follows from it.

    Attributes
    ----------
    basis : {"penman", "pan", "flat"}
        Where the evaporation of open water comes from.
    evaporation_mm : float
        Of open water, each day.
    evaporation_m3_per_day, planting_m3_per_day, splash_m3_per_day : float
        From stream and wet stone; by wet planting; thrown out.
    loss_m3_per_day : float
        All together.
    makeup_m3 : float
        To be filled in each week.
    losses_m3 : float
        Until the next refill.
    days_without_rain : float
        Days until the pump sucks air; 0 where it does at once, infinite where nothing is lost.
    warnings : tuple of str
        What is assumed, a sentence each.
    """

    basis: Literal["penman", "pan", "flat"]
    evaporation_mm: float
    evaporation_m3_per_day: float
    planting_m3_per_day: float
    splash_m3_per_day: float
    loss_m3_per_day: float
    makeup_m3: float
    losses_m3: float
    days_without_rain: float
    warnings: tuple[str, ...]


def lose(wet_m2: float, spare_m3: float, parameters: WaterParameters) -> Losses:
    """Say what is lost on a hot dry day and how long the water lasts.

    Parameters
    ----------
    wet_m2 : float
        Stream bed and pools in plan, m2.
    spare_m3 : float
        Usable water less what comes back at a stop, m3; below 0 the basin is too small.
    parameters : WaterParameters
        Climate, planting, splash, days between fills.

    Returns
    -------
    Losses
        With what was assumed.
    """
    basis, open_mm, planted_mm = _rates(parameters)
    settings = parameters.losses
    stone_m2 = settings.stone_factor * settings.stone_area
    evaporated_m3 = open_mm / 1000.0 * (wet_m2 + stone_m2)
    drunk_m3 = planted_mm / 1000.0 * settings.plant_area
    daily_m3 = evaporated_m3 + drunk_m3 + parameters.splash_loss
    lasting_days = _lasting(spare_m3, daily_m3)
    return Losses(
        basis=basis,
        evaporation_mm=open_mm,
        evaporation_m3_per_day=evaporated_m3,
        planting_m3_per_day=drunk_m3,
        splash_m3_per_day=parameters.splash_loss,
        loss_m3_per_day=daily_m3,
        makeup_m3=7.0 * daily_m3,
        losses_m3=daily_m3 * parameters.days_between_fills,
        days_without_rain=lasting_days,
        warnings=_warnings(basis, lasting_days, parameters),
    )


def _lasting(spare_m3: float, daily_m3: float) -> float:
    if spare_m3 <= 0.0:
        return 0.0
    return spare_m3 / daily_m3 if daily_m3 > 0.0 else math.inf


def losses(wet_m2: float, parameters: WaterParameters) -> float:
    """Loss of a wet area until the next refill, m3."""
    return lose(wet_m2, 0.0, parameters).losses_m3


def _rates(parameters: WaterParameters) -> tuple[Literal["penman", "pan", "flat"], float, float]:
    """Basis, and evaporation of open water and of wet planting, mm/day."""
    climate, factor = parameters.climate, parameters.losses.plant_coefficient
    weather = _weather(parameters)
    if weather is not None:
        wind = evaporation.penman_1956_wind(weather.wind_ms)
        open_mm = evaporation.open_water_evaporation(weather, wind)
        return "penman", open_mm, factor * evaporation.reference_evapotranspiration(weather)
    if climate.pan_evaporation is not None:
        pan_mm = evaporation.pan_to_open_water(climate.pan_evaporation, climate.pan_coefficient)
        return "pan", pan_mm, factor * pan_mm
    return "flat", parameters.evaporation, factor * parameters.evaporation


def _weather(parameters: WaterParameters) -> evaporation.Weather | None:
    """Give the weather of the settings, where all of it is given."""
    c = parameters.climate
    if (
        c.latitude is None
        or c.altitude is None
        or c.day_of_year is None
        or c.greatest_temperature is None
        or c.least_temperature is None
        or c.greatest_humidity is None
        or c.least_humidity is None
        or c.wind is None
        or c.radiation is None
    ):
        return None
    return evaporation.Weather(
        latitude_deg=c.latitude,
        altitude_m=c.altitude,
        day=c.day_of_year,
        greatest_c=c.greatest_temperature,
        least_c=c.least_temperature,
        vapour_pa=evaporation.vapour_from_humidity(
            c.greatest_temperature,
            c.least_temperature,
            c.greatest_humidity / 100.0,
            c.least_humidity / 100.0,
        ),
        wind_ms=c.wind,
        radiation_wm2=c.radiation * _MJ_W,
    )


def _missing(parameters: WaterParameters) -> list[str]:
    """Names of the weather that is not given."""
    given = parameters.climate.model_dump(exclude={"pan_evaporation", "pan_coefficient"})
    return [name for name, value in given.items() if value is None]


def _warnings(basis: str, lasting_days: float, parameters: WaterParameters) -> tuple[str, ...]:
    told = []
    missing = _missing(parameters)
    if basis != "penman" and len(missing) < len(type(parameters.climate).model_fields) - 2:
        told.append(
            f"The weather is not complete (missing: {', '.join(missing)}): evaporation is taken "
            f"from {_BASES[basis]}."
        )
    elif basis == "flat":
        told.append(
            f"Evaporation is taken as {parameters.evaporation:g} mm/day (an assumption): give the "
            "weather of a hot dry week."
        )
    if parameters.splash_loss == 0.0:
        told.append("Water lost by splashing is taken as none: measure it on the finished stream.")
    if lasting_days < parameters.days_between_fills:
        told.append(
            f"On hot days without rain the pump sucks air after {lasting_days:.1f} days; "
            f"{parameters.days_between_fills:g} days between fills are wanted."
        )
    return tuple(told)


def air_gap_needed(opening_m: float, *, beside_wall: bool) -> float:
    """Air gap that a fill line's outlet keeps over the level at which the basin overflows.

    Twice the opening and at least 25 mm; three times near a wall, and at least 38 mm.

    Parameters
    ----------
    opening_m : float
        Inside diameter of the outlet, m, greater than 0.
    beside_wall : bool
        Whether it stands near a wall.

    Returns
    -------
    float
        Height, m.

    Raises
    ------
    ValueError
        If the opening is not greater than 0.

    References
    ----------
    International Plumbing Code section 608 (from memory); local codes govern.

    Examples
    --------
    >>> air_gap_needed(0.020, beside_wall=False), air_gap_needed(0.010, beside_wall=False)
    (0.04, 0.025)
    """
    if not opening_m > 0.0:
        raise ValueError(f"an outlet has an opening greater than 0 m, not {opening_m!r}")
    factor, least_m = (3.0, 1.5 * _LEAST_GAP_M) if beside_wall else (2.0, _LEAST_GAP_M)
    return max(factor * opening_m, least_m)


def fill_line_told(parameters: WaterParameters) -> tuple[str, ...]:
    """Say what is wrong or unknown about the fill line's air gap; nothing where there is none.

    Parameters
    ----------
    parameters : WaterParameters
        Opening and air gap.

    Returns
    -------
    tuple of str
        A sentence each.
    """
    settings = parameters.losses
    if settings.fill_opening is None:
        return ()
    needed_m = air_gap_needed(settings.fill_opening, beside_wall=settings.fill_beside_wall)
    asked = f"{needed_m * 1000:.0f} mm (plumbing codes, from memory; local code governs)"
    if settings.fill_air_gap is None:
        return (f"The air gap of the fill line is not known: it needs {asked}.",)
    if settings.fill_air_gap < needed_m:
        return (
            f"The air gap of the fill line is {settings.fill_air_gap * 1000:.0f} mm: it needs "
            f"{asked}, or a backflow preventer that the water supplier accepts.",
        )
    return ()
