"""The water of a plan in plain data: what `plan.json` says under ``water``."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from geo_site.tables.plain import numbers_of, plain

if TYPE_CHECKING:
    from geo_site.plan import Plan, Proposal
    from geo_site.water import Cycle, Lift, Profile, StormReport, Water

__all__ = ["water_document"]

_MOMENTS = 60  # of the curve after a start
_EVERY_M = 0.25  # of the profile: closer stations are told where something happens


def water_document(plan: Plan, proposal: Proposal) -> dict[str, Any]:
    """Give everything about the water.

    Parameters
    ----------
    plan : Plan
        Its depth of the basin.
    proposal : Proposal
        With its water and storms.

    Returns
    -------
    dict
        SI, units in the names, unknown numbers None.
    """
    del plan
    water = proposal.water
    kept, running = water.kept, water.running
    return {
        "flow_m3s": water.flow_m3s,
        "flow_basis": water.flow.basis,
        "flow_low_m3s": water.flow.low_m3s,
        "flow_high_m3s": water.flow.high_m3s,
        "head_m": water.head_m,
        "static_lift_m": water.static_lift_m,
        "total_head_m": water.total_head_m,
        "pipe": _pipe(water.lift),
        "pump": _pump(water),
        "pumps_tried": [] if water.lift.pumps is None else plain(water.lift.pumps.answers),
        "standing_m3": water.standing_m3,
        "moving_m3": water.moving_m3,
        "moving_low_m3": running.low_moving_m3,
        "moving_high_m3": running.high_moving_m3,
        "stored_m3": water.stored_m3,
        "usable_m3": water.usable_m3,
        "required_m3": water.required_m3,
        "required": numbers_of(kept.asked),
        "free_room_m3": plain(kept.check.free_room_m3),
        "first_fill_m3": kept.first_fill_m3,
        "return_area_m2": plain(kept.intake.area_m2),
        "return_area_needed_m2": plain(kept.intake.area_needed_m2),
        "evaporation_m3_per_day": kept.losses.evaporation_m3_per_day,
        "days_without_rain": plain(kept.losses.days_without_rain),
        "levels": {
            "spillway_m": water.spillway_level_m,
            "basin_full_m": water.water_level_m,
            "basin_running_m": plain(water.running_level_m),
            "pump_lowest_m": water.lowest_level_m,
        },
        "reaches": plain(running.reaches),
        "lips": plain(running.lips),
        "riffles": plain(running.riffles),
        "pools": plain(running.pools),
        "narrows": plain(running.narrows),
        "profile": _profile(running.profile),
        "liner": numbers_of(water.liner, "flags"),
        "store": numbers_of(kept.store, "curve", "flags"),
        "losses": numbers_of(kept.losses, "warnings"),
        "return_gravel": numbers_of(kept.intake, "warnings"),
        "groundwater": numbers_of(kept.uplift, "warnings"),
        "load_on_units": numbers_of(kept.load, "warnings"),
        "start_and_stop": {**numbers_of(kept.cycle, "warnings"), "curve": _curve(kept.cycle)},
        "storms": [] if proposal.storms is None else plain(proposal.storms.storms),
        "storm_water": _storm_water(proposal.storms),
        "warnings": [*water.warnings, *(proposal.storms.warnings if proposal.storms else ())],
    }


def _pipe(lift: Lift) -> dict[str, Any]:
    return {
        **numbers_of(lift.pipe),
        "chosen_because": lift.basis,
        "fittings": plain(lift.fittings),
        "sizes": plain(lift.sizes),
    }


def _pump(water: Water) -> dict[str, Any] | None:
    if water.pump is None or water.lift.pumps is None or water.lift.pumps.chosen is None:
        return None
    chosen = water.lift.pumps.chosen
    return {"name": chosen.told, **numbers_of(water.pump), **numbers_of(chosen, "point", "pump")}


def _curve(cycle: Cycle) -> list[dict[str, Any]]:
    """Level in the basin over time, at some moments that keep every turn of it."""
    last = len(cycle.time_s) - 1
    step = max(last // _MOMENTS, 1)
    turns = {int(cycle.basin_level_m.argmin()), int(cycle.basin_level_m.argmax()), last}
    return [
        {
            "time_s": float(cycle.time_s[k]),
            "basin_level_m": float(cycle.basin_level_m[k]),
            "in_stream_m3": float(cycle.in_stream_m3[k]),
        }
        for k in sorted({*range(0, last + 1, step), *turns})
    ]


def _profile(profile: Profile) -> list[dict[str, Any]]:
    """Rows along the stream: a station each quarter of a metre, and each at which a reach ends."""
    rows: list[dict[str, Any]] = []
    for k, station_m in enumerate(profile.station_m):
        is_end = k in (0, len(profile.station_m) - 1)
        turns = not is_end and profile.reach[k] != profile.reach[k - 1]
        if rows and not (is_end or turns) and station_m - rows[-1]["station_m"] < _EVERY_M:
            continue
        rows.append(
            {
                "station_m": float(station_m),
                "ground_m": plain(profile.ground_m[k]),
                "bed_m": plain(profile.bed_m[k]),
                "sill_m": plain(profile.sill_m[k]),
                "water_level_m": plain(profile.water_level_m[k]),
                "velocity_ms": plain(profile.velocity_ms[k]),
                "froude": plain(profile.froude[k]),
                "shear_pa": plain(profile.shear_pa[k]),
                "liner_m": plain(profile.liner_left_m[k]),
                "regime": str(profile.regime[k]),
            }
        )
    return rows


def _storm_water(report: StormReport | None) -> dict[str, Any] | None:
    return None if report is None else numbers_of(report, "storms", "warnings")
