"""Rules of the running water, as rows."""

from __future__ import annotations

from collections.abc import Iterator

from geo_site import weirs
from geo_site.layout import Layout
from geo_site.water.levels import Crest, NarrowWater
from geo_site.water.records import ReachWater, WaterParameters
from geo_site.water.stream_records import Flag, LipWater, RiffleWater

__all__ = ["jump_flags", "lip_flags", "narrow_flags", "riffle_flags"]


def lip_flags(
    lips: tuple[LipWater, ...], crests: tuple[Crest, ...], flow_m3s: float, layout: Layout
) -> Iterator[Flag]:
    """Lips that cannot carry the flow, drowned falls, and shallow water under falls."""
    heights_m = {fall.sequence: fall.height_m for fall in layout.falls}
    for water, crest in zip(lips, crests, strict=True):
        place = f"fall {water.sequence}" if water.sequence else "spillway"
        if water.energy_m > water.limit_m:
            yield _over_limit(place, water, crest, flow_m3s)
        if water.sequence and water.tail_m > 0.0:
            yield Flag(
                kind="drowned",
                place=place,
                sentence=f"The water below stands {water.tail_m * 1000:.0f} mm over the lip of "
                f"{place}: it is drowned.",
            )
        if water.sequence and water.foot_depth_m < water.plunge_m:
            yield Flag(
                kind="shallow_plunge",
                place=place,
                sentence=f"{water.foot_depth_m:.2f} m of water at the foot of {place} is less than "
                f"the {water.plunge_m:.2f} m wanted under {heights_m[water.sequence]:.2f} m of "
                "fall.",
            )


def _over_limit(place: str, water: LipWater, crest: Crest, flow_m3s: float) -> Flag:
    width_m = weirs.least_width(crest.lip, flow_m3s, water.limit_m)
    advice = f"a lip of {width_m:.2f} m would carry it" if width_m < 1e3 else "take a level lip"
    if water.tail_m > water.limit_m:
        advice = "the water below stands too high for any lip"
    return Flag(
        kind="head_over_limit",
        place=place,
        sentence=f"{flow_m3s * 1000:.1f} L/s need {water.energy_m:.2f} m of head on {place}, "
        f"{crest.lip.width_m:.2f} m wide, and {water.limit_m:.2f} m is the limit; {advice}.",
        is_refused=True,
    )


def riffle_flags(
    riffles: tuple[RiffleWater, ...],
    reaches: tuple[ReachWater, ...],
    parameters: WaterParameters,
) -> Iterator[Flag]:
    """Riffles that run dry in their stones, move them, or shoot."""
    stone_m = parameters.levels.riffle_stone
    for riffle in riffles:
        place = f"reach {riffle.sequence}"
        if riffle.depth_m < stone_m:
            yield Flag(
                kind="dry_riffle",
                place=place,
                sentence=f"The water on {place} is {riffle.depth_m * 1000:.0f} mm deep "
                f"({riffle.low_depth_m * 1000:.0f} to {riffle.high_depth_m * 1000:.0f} mm), no "
                f"deeper than its stones of {stone_m * 1000:.0f} mm: it runs between them.",
            )
        if riffle.stone_m > stone_m:
            yield Flag(
                kind="loose_stone",
                place=place,
                sentence=f"Stones of {stone_m * 1000:.0f} mm are moved on {place}; "
                f"{riffle.stone_m * 1000:.0f} mm stay put.",
            )
    for reach in reaches:
        if reach.kind == "riffle" and reach.froude > 1.0:
            yield Flag(
                kind="rapid",
                place=f"reach {reach.sequence}",
                sentence=f"The water is rapid (Froude over 1) on reach {reach.sequence}.",
            )


def jump_flags(jumps_m: tuple[float, ...]) -> Iterator[Flag]:
    """Stations where rapid water jumps."""
    for at_m in jumps_m:
        yield Flag(
            kind="jump",
            place=f"station {at_m:.1f} m",
            sentence=f"Rapid water jumps at {at_m:.1f} m from the spillway: it splashes there.",
        )


def narrow_flags(narrows: tuple[NarrowWater, ...], parameters: WaterParameters) -> Iterator[Flag]:
    """Narrow places that hold the water up, reach the slab, or lie where none can be."""
    for water in narrows:
        place = f"station {water.station_m:.1f} m"
        if water.is_choked:
            yield Flag(
                kind="choked",
                place=place,
                sentence=f"The gaps at {water.station_m:.1f} m hold the water up by "
                f"{water.rise_m * 1000:.0f} mm.",
            )
        if water.is_full:
            yield Flag(
                kind="slab_reached",
                place=place,
                sentence=f"The water above the crossing at {water.station_m:.1f} m reaches its "
                "slab.",
            )
    known = {water.station_m for water in narrows}
    for narrow in parameters.narrows:
        if narrow.station not in known:
            yield Flag(
                kind="narrow_left_out",
                place=f"station {narrow.station:.1f} m",
                sentence=f"The narrow place at {narrow.station:.1f} m lies on a fall or off the "
                "stream and is left out.",
            )
