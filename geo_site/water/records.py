"""Settings and results of the water step."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from pydantic import model_validator

from geo_site.parameters import (
    CubicMetres,
    CubicMetresPerSecond,
    Degrees,
    Metres,
    Parameters,
    setting,
)
from geo_site.water.basin_settings import (
    CycleParameters,
    GroundwaterParameters,
    LoadParameters,
    StoreParameters,
)
from geo_site.water.lifting_settings import PipeParameters, PumpParameters
from geo_site.water.storm_settings import StormParameters
from geo_site.water.stream_settings import (
    LevelParameters,
    LookParameters,
    Narrow,
    with_head_of_look,
)
from geo_site.water.weather_settings import ClimateParameters, IntakeParameters, LossParameters

__all__ = ["FallWater", "PoolWater", "ReachWater", "WaterParameters"]

_PRACTICE = "common practice, no source"


class WaterParameters(Parameters):
    """Settings of flow, levels, stored water and pipe."""

    lip_head: Metres = setting(
        0.020,
        unit="m",
        meaning="head wanted on the spillway lip: how thick the sheet looks",
        source="common practice, no source: sheets of 12 to 50 mm",
        within="(0, 0.3]",
    )
    pump_flow: CubicMetresPerSecond | None = setting(
        None,
        unit="m3/s",
        meaning="flow of a pump that is given; the lip head then follows from it",
        source="the user's pump",
        within="(0, 1]",
    )
    look: Literal["veil", "sheet", "roar"] = setting(
        "sheet",
        unit="-",
        meaning="look of the water on the spillway's lip: gives lip_head where that is not stated",
        source="the user; the words are ours",
    )
    lip_form: Literal["sharp", "broad", "notch"] = setting(
        "sharp",
        unit="-",
        meaning="sharp: the sheet springs clear of the edge; broad: a flat stone at least two "
        "heads long; notch: a V",
        source="chosen for this method: a sharp lip takes the most water for its head",
    )
    notch_angle: Degrees = setting(
        90.0,
        unit="degrees",
        meaning="whole angle of a notch",
        source="the user; formulas were tested from 25 to 100 degrees",
        within="[20, 140]",
    )
    narrows: tuple[Narrow, ...] = setting(
        (),
        unit="-",
        meaning="places where stepping stones or a crossing leave gaps only: station, gaps, soffit",
        source="the user",
    )
    contracted_ends: Literal[0, 1, 2] = setting(
        0,
        unit="-",
        meaning="ends of each lip that stand off the channel's sides (0: stone shuts both)",
        source=_PRACTICE,
    )
    roughness: float = setting(
        0.045,
        unit="s/m^(1/3)",
        meaning="Manning's n of the riffles",
        source="Chow (1959) table 5-6, mountain stream, cobbles: 0.040 to 0.050",
        within="[0.01, 0.3]",
    )
    hollow_fullness: float = setting(
        0.785,
        unit="-",
        meaning="volume of a pool's hollow over its area times its greatest depth",
        source="half an ellipse across the pool, pi/4; 0.5 is a bowl, 1 a box",
        within="(0, 1]",
    )
    freeboard: Metres = setting(
        0.05,
        unit="m",
        meaning="lowest ground at the basin's rim above its water when full",
        source=_PRACTICE,
        within="[0, 1]",
    )
    freeboard_pool: Metres = setting(
        0.10,
        unit="m",
        meaning="liner edge of a pool above its running water",
        source="common practice, no source; HEC-15 asks 0.15 m of roadside channels (from memory)",
        within="[0, 1]",
    )
    pump_reach: Metres = setting(
        0.10,
        unit="m",
        meaning="water left over the units' floor that the pump cannot take",
        source=_PRACTICE,
        within="[0, 1]",
    )
    gravel_void_ratio: float = setting(
        0.40,
        unit="-",
        meaning="voids of the gravel around the units; counted as usable only where "
        "store.gravel_counts says so",
        source="storm water manuals, clean stone of one size (from memory)",
        within="[0, 0.6]",
    )
    evaporation: float = setting(
        6.0,
        unit="mm/day",
        meaning="water that leaves a wet square metre on a hot day",
        source="warm-season lakes, 3 to 8 mm/day (from memory); look up the local figure",
        within="[0, 30]",
    )
    splash_loss: CubicMetres = setting(
        0.0,
        unit="m3/day",
        meaning="water thrown out of the stream each day",
        source="no published figure; an assumption to be measured on the finished stream",
        within="[0, 10]",
    )
    days_between_fills: float = setting(
        7.0,
        unit="days",
        meaning="longest time without rain or refill",
        source=_PRACTICE,
        within="[0, 60]",
    )
    reserve: float = setting(
        0.20,
        unit="-",
        meaning="kept in the basin besides, as a part of the moving water",
        source=_PRACTICE,
        within="[0, 3]",
    )
    first_margin: float = setting(
        1.25,
        unit="-",
        meaning="factor on the moving water as long as there is no stream yet",
        source=_PRACTICE,
        within="[1, 5]",
    )
    first_depth: Metres = setting(
        0.05,
        unit="m",
        meaning="running depth assumed on the whole bed as long as there is no stream yet",
        source=_PRACTICE,
        within="(0, 0.5]",
    )
    first_unreachable: float = setting(
        0.25,
        unit="-",
        meaning="part of the stored water assumed out of the pump's reach as long as there is "
        "no basin: pump_reach over the units' height, rounded up",
        source=_PRACTICE,
        within="[0, 0.9]",
    )
    pipe_velocity_limit: float = setting(
        1.5,
        unit="m/s",
        meaning="velocity to stay under in the pipe",
        source="common practice, no source: 5 ft/s in pressure pipe",
        within="(0, 5]",
    )
    minor_losses: float | None = setting(
        None,
        unit="-",
        meaning="sum of K of all fittings; none: from the fittings and the route's bends",
        source="the user",
        within="[0, 100]",
    )
    pipe: PipeParameters = PipeParameters()
    pump: PumpParameters = PumpParameters()
    store: StoreParameters = StoreParameters()
    groundwater: GroundwaterParameters = GroundwaterParameters()
    load: LoadParameters = LoadParameters()
    cycle: CycleParameters = CycleParameters()
    intake: IntakeParameters = IntakeParameters()
    climate: ClimateParameters = ClimateParameters()
    losses: LossParameters = LossParameters()
    looks: LookParameters = LookParameters()
    levels: LevelParameters = LevelParameters()
    storm: StormParameters = StormParameters()
    growth_rounds: int = setting(
        3,
        unit="-",
        meaning="times that a larger basin is looked for where the best place's stream would run "
        "it dry; 0: never",
        source="chosen for this method",
        within="[0, 10]",
    )

    @model_validator(mode="before")
    @classmethod
    def _a_head_that_is_stated_wins(cls, given: Any) -> Any:
        return with_head_of_look(given)


@dataclass(frozen=True, kw_only=True)
class ReachWater:
    """Running water in one reach.

    Attributes
    ----------
    sequence : int
        As in the layout.
    kind : str
        ``pool``, ``riffle`` or ``fall``.
    water_level_m : float
        At the upstream end of the reach.
    depth_m : float
        Pool: greatest depth. Riffle: mean depth along it. Fall: critical depth on its lip.
    velocity_ms : float
        Mean velocity at that depth; of a pool, mean over its whole water.
    froude : float
        Over 1 the water is rapid; 1 on a lip.
    volume_m3 : float
        Water in the reach while it runs, a pool's hollow with it.
    """

    sequence: int
    kind: str
    water_level_m: float
    depth_m: float
    velocity_ms: float
    froude: float
    volume_m3: float


@dataclass(frozen=True, kw_only=True)
class FallWater:
    """Running water on the lip of one fall.

    Attributes
    ----------
    sequence : int
        As in the layout.
    head_m : float
        Level above the lip, measured before the water begins to dip.
    """

    sequence: int
    head_m: float


@dataclass(frozen=True, kw_only=True)
class PoolWater:
    """Running water in one pool.

    Attributes
    ----------
    sequence : int
        As in the layout.
    water_level_m : float
        Level while the pump runs.
    volume_m3 : float
        Water in it while the pump runs.
    standing_m3 : float
        Of that, what stays in the hollow below the sill when the pump stops.
    liner_level_m : float
        Level that the liner's edge must reach.
    """

    sequence: int
    water_level_m: float
    volume_m3: float
    standing_m3: float
    liner_level_m: float
