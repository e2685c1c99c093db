"""Water that is lost."""

from __future__ import annotations

from geo_site.water.records import WaterParameters

__all__ = ["losses"]


def losses(wet_m2: float, parameters: WaterParameters) -> float:
    """Evaporation of a wet area and splash until the next refill, m3."""
    each_day_m3 = parameters.evaporation / 1000.0 * wet_m2 + parameters.splash_loss
    return each_day_m3 * parameters.days_between_fills
