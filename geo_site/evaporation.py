"""How much water leaves open water and wetted plants on one day.

Question
    What does a hot day take from a stream?
In
    One day's :class:`Weather`, SI.
Out
    Millimetres for each day, which are litres for each square metre.
Method
    Penman's combination of radiation and wind: for open water with the wind function of 1956,
    for well watered plants in the form of FAO-56. A pan's figure times a coefficient where
    nothing but a pan is known.
Reference
    Allen, Pereira, Raes and Smith (1998), FAO Irrigation and Drainage Paper 56 (equation numbers
    below); Penman (1956), Neth. J. Agric. Sci. 4, 9-29; McMahon et al. (2013), Hydrol. Earth
    Syst. Sci. 17, 1331-1363, supplement.
"""

import math
from dataclasses import dataclass

__all__ = [
    "Weather",
    "extraterrestrial_radiation",
    "net_radiation",
    "open_water_evaporation",
    "pan_to_open_water",
    "penman_1956_wind",
    "radiation_from_sunshine",
    "reference_evapotranspiration",
    "saturation_pressure",
    "shuttleworth_wind",
    "vapour_from_humidity",
]

MJ_PER_DAY_W = 1e6 / 86_400.0
"""One MJ in a day as a mean power, W."""
WATER_ALBEDO = 0.08
"""Part of the sun's radiation that open water sends back (McMahon et al. 2013)."""
PLANT_ALBEDO = 0.23
"""Part of the sun's radiation that the grass of FAO-56 sends back."""

_SOLAR_W = 0.0820 * MJ_PER_DAY_W * 1440.0  # solar constant, FAO-56: 0.0820 MJ/m2/min
_STEFAN_MJ = 4.903e-9  # MJ/m2/day/K4
_LATENT_MJ = 2.45  # MJ to evaporate 1 kg
_KELVIN = 273.16  # as FAO-56 has it


@dataclass(frozen=True, kw_only=True)
class Weather:
    """One day, or the mean of a hot week.

    Attributes
    ----------
    latitude_deg : float
        North positive.
    altitude_m : float
        Above the sea.
    day : int
        Day of the year, 1 to 366.
    greatest_c, least_c : float
        Temperatures of the air, degrees C.
    vapour_pa : float
        Pressure of the vapour in the air, Pa.
    wind_ms : float
        At 2 m, mean of the day.
    radiation_wm2 : float
        Of the sun on level ground, mean of the day and night.
    """

    latitude_deg: float
    altitude_m: float
    day: int
    greatest_c: float
    least_c: float
    vapour_pa: float
    wind_ms: float
    radiation_wm2: float

    def __post_init__(self) -> None:
        if not -66.5 < self.latitude_deg < 66.5:
            raise ValueError("within the polar circles the length of a day is not worked out")
        if self.least_c > self.greatest_c:
            raise ValueError("the least temperature is above the greatest")
        if self.wind_ms < 0.0 or self.radiation_wm2 < 0.0 or self.vapour_pa < 0.0:
            raise ValueError("wind, radiation and vapour are at least 0")

    @property
    def mean_c(self) -> float:
        """Mean of greatest and least temperature, degrees C."""
        return (self.greatest_c + self.least_c) / 2.0

    @property
    def deficit_pa(self) -> float:
        """Vapour that the air could still take (FAO-56 equation 12), Pa, at least 0."""
        full_pa = (saturation_pressure(self.greatest_c) + saturation_pressure(self.least_c)) / 2.0
        return max(full_pa - self.vapour_pa, 0.0)


def saturation_pressure(temperature_c: float) -> float:
    """Pressure of saturated vapour, `611 exp(17.27 T / (T + 237.3))` (FAO-56 equation 11).

    Parameters
    ----------
    temperature_c
        Degrees C, above -50.

    Returns
    -------
    float
        Pressure, Pa.

    Examples
    --------
    >>> round(saturation_pressure(21.0))
    2487
    """
    return 610.8 * math.exp(17.27 * temperature_c / (temperature_c + 237.3))


def vapour_from_humidity(greatest_c: float, least_c: float, humid: float, dry: float) -> float:
    """Pressure of the vapour from a day's extremes (FAO-56 equation 17).

    Parameters
    ----------
    greatest_c, least_c
        Temperatures, degrees C.
    humid, dry
        Greatest and least relative humidity, 0 to 1.

    Returns
    -------
    float
        Pressure, Pa.

    Examples
    --------
    >>> round(vapour_from_humidity(21.0, 2.0, 0.71, 0.25), 1)
    561.4
    """
    early_pa, late_pa = saturation_pressure(least_c) * humid, saturation_pressure(greatest_c) * dry
    return (early_pa + late_pa) / 2.0


def extraterrestrial_radiation(latitude_deg: float, day: int) -> float:
    """Radiation of the sun above the air, mean of a day (FAO-56 equations 21 to 25).

    Parameters
    ----------
    latitude_deg
        North positive, outside the polar circles.
    day
        Day of the year.

    Returns
    -------
    float
        Mean of day and night, W/m2.

    Examples
    --------
    >>> round(extraterrestrial_radiation(50.80, 187) / MJ_PER_DAY_W, 1)
    41.1
    """
    latitude, tilt, sunset = _sun(latitude_deg, day)
    near = 1.0 + 0.033 * math.cos(2.0 * math.pi * day / 365.0)
    high = sunset * math.sin(latitude) * math.sin(tilt)
    high += math.cos(latitude) * math.cos(tilt) * math.sin(sunset)
    return _SOLAR_W * near * high / math.pi


def radiation_from_sunshine(latitude_deg: float, day: int, sunshine_h: float) -> float:
    """Radiation of the sun on the ground from hours of sunshine (FAO-56 equations 34 and 35).

    Parameters
    ----------
    latitude_deg, day
        Place and day of the year.
    sunshine_h
        Hours of bright sun.

    Returns
    -------
    float
        Mean of day and night, W/m2.

    Examples
    --------
    >>> round(radiation_from_sunshine(50.80, 187, 9.25) / MJ_PER_DAY_W, 1)
    22.1
    """
    longest_h = 24.0 / math.pi * _sun(latitude_deg, day)[2]
    share = 0.25 + 0.50 * min(sunshine_h / longest_h, 1.0)
    return share * extraterrestrial_radiation(latitude_deg, day)


def net_radiation(weather: Weather, albedo: float) -> float:
    """What a surface keeps of the radiation, short and long (FAO-56 equations 37 to 40).

    Parameters
    ----------
    weather
        The day.
    albedo
        Part of the sun's radiation sent back, 0 to 1.

    Returns
    -------
    float
        Mean of day and night, W/m2.

    Examples
    --------
    >>> day = Weather(latitude_deg=50.8, altitude_m=100.0, day=187, greatest_c=21.5, least_c=12.3,
    ...               vapour_pa=1409.0, wind_ms=2.078, radiation_wm2=22.07 * MJ_PER_DAY_W)
    >>> round(net_radiation(day, PLANT_ALBEDO) / MJ_PER_DAY_W, 1)
    13.3
    """
    above_wm2 = extraterrestrial_radiation(weather.latitude_deg, weather.day)
    clear_wm2 = (0.75 + 2e-5 * weather.altitude_m) * above_wm2
    cloud = 1.35 * min(weather.radiation_wm2 / clear_wm2, 1.0) - 0.35
    warm = ((weather.greatest_c + _KELVIN) ** 4 + (weather.least_c + _KELVIN) ** 4) / 2.0
    moist = 0.34 - 0.14 * math.sqrt(weather.vapour_pa / 1000.0)
    lost_wm2 = _STEFAN_MJ * MJ_PER_DAY_W * warm * moist * cloud
    return (1.0 - albedo) * weather.radiation_wm2 - lost_wm2


def penman_1956_wind(wind_ms: float) -> float:
    """Wind function of Penman (1956), `1.313 + 1.381 u`, mm/day for each kPa.

    Parameters
    ----------
    wind_ms
        Wind at 2 m, m/s.

    Returns
    -------
    float
        Mm/day for each kPa of vapour deficit.

    Examples
    --------
    >>> round(penman_1956_wind(0.5903), 3)
    2.128
    """
    return 1.313 + 1.381 * wind_ms


def shuttleworth_wind(wind_ms: float) -> float:
    """Wind function of Shuttleworth (1993), `6.43 (1 + 0.536 u) / 2.45`, mm/day for each kPa.

    Parameters
    ----------
    wind_ms
        Wind at 2 m, m/s.

    Returns
    -------
    float
        Mm/day for each kPa of vapour deficit.

    Examples
    --------
    >>> round(shuttleworth_wind(0.5903), 3)
    3.455
    """
    return 6.43 * (1.0 + 0.536 * wind_ms) / _LATENT_MJ


def open_water_evaporation(weather: Weather, wind_factor: float) -> float:
    """Evaporation of shallow open water, Penman's combination.

    `E = (D Rn / 2.45 + g f(u) (es - ea)) / (D + g)`, with the slope D of the vapour curve at the
    mean temperature and the psychrometric constant g.

    Parameters
    ----------
    weather
        The day.
    wind_factor
        :func:`penman_1956_wind` or :func:`shuttleworth_wind` of its wind, mm/day/kPa.

    Returns
    -------
    float
        Mm/day, at least 0.

    Notes
    -----
    Water that keeps no heat from day to day. The choice of the wind function matters more than
    the rest: a fifth on a calm winter's day.

    References
    ----------
    Penman (1956); McMahon et al. (2013), supplement.

    Examples
    --------
    >>> day = Weather(latitude_deg=-23.7951, altitude_m=546.0, day=202, greatest_c=21.0,
    ...               least_c=2.0, vapour_pa=561.4, wind_ms=0.5903,
    ...               radiation_wm2=17.194 * MJ_PER_DAY_W)
    >>> round(open_water_evaporation(day, penman_1956_wind(day.wind_ms)), 2)
    2.98
    """
    rise, wet = _vapour_slope(weather.mean_c), _psychrometric(weather.altitude_m)
    warmed_mm = net_radiation(weather, WATER_ALBEDO) / MJ_PER_DAY_W / _LATENT_MJ
    dried_mm = wind_factor * weather.deficit_pa / 1000.0
    return max((rise * warmed_mm + wet * dried_mm) / (rise + wet), 0.0)


def reference_evapotranspiration(weather: Weather) -> float:
    """Evapotranspiration of short, well watered grass (FAO-56 equation 6).

    Parameters
    ----------
    weather
        The day.

    Returns
    -------
    float
        Mm/day, at least 0.

    Notes
    -----
    Times a coefficient for other plants; about 1.2 for reeds and the like with their feet in
    water (FAO-56 table 12, from memory).

    References
    ----------
    FAO-56, example 18.

    Examples
    --------
    >>> day = Weather(latitude_deg=50.8, altitude_m=100.0, day=187, greatest_c=21.5, least_c=12.3,
    ...               vapour_pa=1409.0, wind_ms=2.078, radiation_wm2=22.07 * MJ_PER_DAY_W)
    >>> round(reference_evapotranspiration(day), 1)
    3.9
    """
    rise, wet = _vapour_slope(weather.mean_c), _psychrometric(weather.altitude_m)
    warmed = 0.408 * rise * net_radiation(weather, PLANT_ALBEDO) / MJ_PER_DAY_W
    dried = wet * 900.0 / (weather.mean_c + 273.0) * weather.wind_ms * weather.deficit_pa / 1000.0
    return max((warmed + dried) / (rise + wet * (1.0 + 0.34 * weather.wind_ms)), 0.0)


def pan_to_open_water(pan_mm: float, coefficient: float) -> float:
    """Evaporation of open water from that of a pan.

    Parameters
    ----------
    pan_mm
        Of the pan, mm/day, at least 0.
    coefficient
        About 0.7 for a class A pan (NOAA Technical Report NWS 33, from memory).

    Returns
    -------
    float
        Mm/day.

    Raises
    ------
    ValueError
        If a number is below 0.

    Examples
    --------
    >>> round(pan_to_open_water(10.0, 0.7), 3)
    7.0
    """
    if pan_mm < 0.0 or coefficient < 0.0:
        raise ValueError("a pan's evaporation and its coefficient are at least 0")
    return pan_mm * coefficient


def _sun(latitude_deg: float, day: int) -> tuple[float, float, float]:
    """Latitude, the sun's declination, and its hour angle at sunset, rad."""
    latitude = math.radians(latitude_deg)
    tilt = 0.409 * math.sin(2.0 * math.pi * day / 365.0 - 1.39)
    return latitude, tilt, math.acos(-math.tan(latitude) * math.tan(tilt))


def _vapour_slope(temperature_c: float) -> float:
    """Slope of the curve of saturated vapour (FAO-56 equation 13), kPa for each degree."""
    return 4098.0 * saturation_pressure(temperature_c) / 1000.0 / (temperature_c + 237.3) ** 2


def _psychrometric(altitude_m: float) -> float:
    """Psychrometric constant (FAO-56 equations 7 and 8), kPa for each degree."""
    return 0.665e-3 * 101.3 * math.pow((293.0 - 0.0065 * altitude_m) / 293.0, 5.26)
