"""The running stream as columns along its stations, for a long section."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geo_site import channels, weirs
from geo_site.water.levels import Crest, Solution
from geo_site.water.records import WaterParameters
from geo_site.water.stations import Piece, Stream

__all__ = ["Profile", "profile_of"]

Floats = NDArray[np.float64]

_CRITICAL = 1e-6


@dataclass(frozen=True, kw_only=True)
class Profile:
    """The running stream, downstream; a station on the lip of each fall.

    Attributes
    ----------
    station_m : ndarray, shape (n,)
        Distance from the spillway's lip; rising, twice the same at a narrow place.
    ground_m, bed_m, sill_m : ndarray, shape (n,)
        Level of the ground, of the deepest bed, and of the bed without hollows.
    water_level_m, depth_m : ndarray, shape (n,)
        Level of the water, and its depth over the deepest bed.
    low_level_m, high_level_m : ndarray, shape (n,)
        Levels with the least and the greatest roughness that the riffles may have.
    velocity_ms, froude : ndarray, shape (n,)
        Mean velocity and Froude number; of a pool, in its mean section.
    shear_pa : ndarray, shape (n,)
        Shear on the bed, from the depth of the mean section and the energy line's fall by friction.
    energy_m : ndarray, shape (n,)
        Level of the energy line.
    liner_left_m, liner_right_m : ndarray, shape (n,)
        Level that the liner's edge must reach on each bank: highest water and freeboard.
    regime : ndarray of str, shape (n,)
        ``tranquil``, ``rapid`` or ``critical``.
    reach : ndarray of int, shape (n,)
        Sequence of the reach in the layout.
    jumps_m : tuple of float
        Stations of hydraulic jumps.
    """

    station_m: Floats
    ground_m: Floats
    bed_m: Floats
    sill_m: Floats
    water_level_m: Floats
    depth_m: Floats
    low_level_m: Floats
    high_level_m: Floats
    velocity_ms: Floats
    froude: Floats
    shear_pa: Floats
    energy_m: Floats
    liner_left_m: Floats
    liner_right_m: Floats
    regime: NDArray[np.str_]
    reach: NDArray[np.int64]
    jumps_m: tuple[float, ...]


def profile_of(
    stream: Stream,
    solution: Solution,
    others: tuple[Solution, Solution],
    parameters: WaterParameters,
) -> Profile:
    """Make columns of a solution.

    Parameters
    ----------
    stream : Stream
        Pieces.
    solution : Solution
        Levels.
    others : tuple of Solution
        With the least and the greatest roughness.
    parameters : WaterParameters
        ``freeboard_pool``, ``roughness``.

    Returns
    -------
    Profile
        All columns of one length.
    """
    table = _table(stream, solution, parameters)
    level_m, station_m = table["level"], table["station"]
    low_m, high_m = (_table(stream, other, parameters)["level"] for other in others)
    low_m, high_m = (
        np.fmin(np.fmin(low_m, level_m), high_m),
        np.fmax(np.fmax(low_m, level_m), high_m),
    )
    liner_m = high_m + parameters.freeboard_pool
    layout = stream.layout
    sequences = np.array([reach.sequence for reach in layout.reaches], dtype=np.int64)
    return Profile(
        station_m=station_m,
        ground_m=np.interp(station_m, layout.stations_m, layout.ground_m),
        bed_m=table["deepest"],
        sill_m=table["sill"],
        water_level_m=level_m,
        depth_m=level_m - table["deepest"],
        low_level_m=low_m,
        high_level_m=high_m,
        velocity_ms=table["velocity"],
        froude=table["froude"],
        shear_pa=channels.WATER_N_M3 * table["depth"] * table["friction"],
        energy_m=table["energy"],
        liner_left_m=liner_m,
        liner_right_m=liner_m.copy(),
        regime=_regime(table["froude"]),
        reach=sequences[table["reach"].astype(np.int64)],
        jumps_m=tuple(at_m for flowing in solution.pieces for at_m in flowing.jumps_m),
    )


def _regime(froude: Floats) -> NDArray[np.str_]:
    near = np.abs(froude - 1.0) < _CRITICAL
    return np.where(near, "critical", np.where(froude > 1.0, "rapid", "tranquil"))


def _table(stream: Stream, solution: Solution, parameters: WaterParameters) -> dict[str, Floats]:
    """Columns of all pieces, with the lips between them."""
    parts: list[dict[str, Floats]] = []
    crest_of = {crest.reach: crest for crest in solution.crests if crest.reach is not None}
    for number, (piece, flowing) in enumerate(zip(stream.pieces, solution.pieces, strict=True)):
        crest = crest_of.get(piece.above) if isinstance(piece.above, int) else None
        before = stream.pieces[number - 1] if number else None
        if crest is not None and _stands_apart(crest, before, stream):
            parts.append(_lip_row(crest, stream, solution.flow_m3s, parameters))
        parts.append(_rows(piece, flowing, solution.flow_m3s))
    return {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}


def _stands_apart(crest: Crest, before: Piece | None, stream: Stream) -> bool:
    """Whether no station of the piece above lies on the lip."""
    assert crest.reach is not None
    lip_m = stream.layout.reaches[crest.reach].from_m
    return before is None or float(before.channel.station_m[-1]) < lip_m - _CRITICAL


def _rows(piece: Piece, flowing: channels.Flowing, flow_m3s: float) -> dict[str, Floats]:
    channel, depth_m = piece.channel, flowing.depth_m
    speed_ms = flow_m3s / (channel.bottom_m * depth_m)
    return {
        "station": channel.station_m,
        "deepest": piece.deepest_m,
        "sill": piece.sill_m,
        "level": channel.bed_m + depth_m,
        "depth": depth_m,
        "velocity": speed_ms,
        "froude": speed_ms / np.sqrt(weirs.GRAVITY_MS2 * depth_m),
        "friction": flowing.friction_slope,
        "energy": flowing.energy_m,
        "reach": piece.reach.astype(np.float64),
    }


def _lip_row(
    crest: Crest, stream: Stream, flow_m3s: float, parameters: WaterParameters
) -> dict[str, Floats]:
    """The sheet on a lip: critical depth, or the water below where it stands higher."""
    assert crest.reach is not None
    section = lip_section(crest.lip)
    critical_m = channels.critical_depth_of(section, flow_m3s)
    depth_m = max(min(critical_m, crest.head_m), crest.tail_m)
    area_m2 = section.area(depth_m)
    speed_ms = flow_m3s / area_m2
    radius_m = area_m2 / section.wetted_perimeter(depth_m)
    row = {
        "station": stream.layout.reaches[crest.reach].from_m,
        "deepest": crest.level_m,
        "sill": crest.level_m,
        "level": crest.level_m + depth_m,
        "depth": depth_m,
        "velocity": speed_ms,
        "froude": channels.froude_number(section, depth_m, flow_m3s),
        "friction": (parameters.roughness * speed_ms) ** 2 / radius_m ** (4.0 / 3.0),
        "energy": crest.level_m + crest.energy_m,
        "reach": float(crest.reach),
    }
    return {name: np.array([value]) for name, value in row.items()}


def lip_section(lip: weirs.Lip) -> channels.Trapezoid:
    """Section of the water on a lip."""
    if lip.form == "notch":
        return channels.Trapezoid(0.0, math.tan(math.radians(lip.angle_deg) / 2.0))
    return channels.Trapezoid(lip.width_m, 0.0)
