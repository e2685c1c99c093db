"""Settings of the layout step."""

from __future__ import annotations

from typing import Self

from pydantic import model_validator

from geo_site.parameters import Metres, Parameters, Slope, setting

__all__ = ["LayoutParameters"]

_PRACTICE = "common practice, no source"
_OURS = "chosen for this method"


class LayoutParameters(Parameters):
    """What a stream is to be like, and what each departure from the ground counts.

    Costs are in cubic metres of earth dug: a cost of 2 weighs like two cubic metres of cut.
    """

    wanted_fall: Metres = setting(
        0.9,
        unit="m",
        meaning="fall wanted from the lip to the end of the stream",
        source=_PRACTICE,
        within="(0, 10]",
    )
    least_fall: Metres = setting(
        0.3,
        unit="m",
        meaning="fall below which there is no stream",
        source=_PRACTICE,
        within="(0, 10]",
    )
    greatest_fall: Metres = setting(
        1.5,
        unit="m",
        meaning="fall that is not exceeded, however steep the ground",
        source=_PRACTICE,
        within="(0, 10]",
    )
    least_length: Metres = setting(
        6.0,
        unit="m",
        meaning="shortest stream, lip to end, horizontal",
        source=_PRACTICE,
        within="[1, 200]",
    )
    greatest_length: Metres = setting(
        18.0,
        unit="m",
        meaning="longest stream, lip to end, horizontal",
        source=_PRACTICE,
        within="[1, 200]",
    )
    usual_slope: Slope = setting(
        0.10,
        unit="-",
        meaning="mean slope that a stream of the wanted fall is drawn towards",
        source=_PRACTICE,
        within="(0, 1]",
    )
    bed_width: Metres = setting(
        0.9,
        unit="m",
        meaning="width of the bed between its pools",
        source=_PRACTICE,
        within="(0, 10]",
    )
    lip_width: Metres = setting(
        0.6, unit="m", meaning="width of each fall's lip", source=_PRACTICE, within="(0, 10]"
    )
    bed_thickness: Metres = setting(
        0.15,
        unit="m",
        meaning="stone, liner and underlay below the sill level",
        source=_PRACTICE,
        within="[0, 1]",
    )
    least_fall_height: Metres = setting(
        0.10, unit="m", meaning="lowest fall", source=_PRACTICE, within="(0, 3]"
    )
    greatest_fall_height: Metres = setting(
        0.45, unit="m", meaning="highest single fall", source=_PRACTICE, within="(0, 3]"
    )
    least_pool_depth: Metres = setting(
        0.15,
        unit="m",
        meaning="least depth of a pool's hollow below its sill",
        source=_PRACTICE,
        within="(0, 2]",
    )
    greatest_pool_depth: Metres = setting(
        0.30,
        unit="m",
        meaning="greatest depth of a pool's hollow below its sill",
        source=_PRACTICE,
        within="(0, 2]",
    )
    least_pool_length: Metres = setting(
        0.9,
        unit="m",
        meaning="level run that each fall lands on, at least",
        source=_PRACTICE,
        within="(0, 20]",
    )
    pool_widening: float = setting(
        1.3,
        unit="-",
        meaning="width of a pool's middle over the bed's width, where the ground is free",
        source=_PRACTICE,
        within="[1, 3]",
    )
    steepest_riffle: Slope = setting(
        0.08, unit="-", meaning="steepest riffle", source=_PRACTICE, within="[0, 0.5]"
    )
    entry_height: Metres = setting(
        0.05,
        unit="m",
        meaning="end of the stream above the basin's rim",
        source=_PRACTICE,
        within="[0, 1]",
    )
    entry_length: Metres = setting(
        0.3,
        unit="m",
        meaning="how far the stream runs in over the basin",
        source=_PRACTICE,
        within="(0, 3]",
    )
    berm_limit: Metres = setting(
        0.6,
        unit="m",
        meaning="greatest height of the bed above the ground",
        source=_PRACTICE,
        within="[0, 3]",
    )
    cut_limit: Metres = setting(
        0.6,
        unit="m",
        meaning="greatest depth of the bed below the ground, outside the basin's excavation",
        source=_PRACTICE,
        within="[0, 3]",
    )
    berm_shoulder: Metres = setting(
        0.3,
        unit="m",
        meaning="crown of the berm beside the bed, each side",
        source=_PRACTICE,
        within="[0, 3]",
    )
    berm_side: Slope = setting(
        2.0,
        unit="-",
        meaning="side of the berm, horizontal over vertical",
        source=_PRACTICE,
        within="[1, 6]",
    )
    cut_side: Slope = setting(
        0.5,
        unit="-",
        meaning="side of the bed's cut, horizontal over vertical",
        source=_PRACTICE,
        within="[0, 6]",
    )
    side_room: Metres = setting(
        0.15,
        unit="m",
        meaning="free ground kept beside the bed and the sides of its shallowest cut, so that the "
        "bed can be laid deeper",
        source=_OURS,
        within="[0, 5]",
    )
    pipe_offset: Metres = setting(
        0.4,
        unit="m",
        meaning="pipe's centre line beside the edge of the bed",
        source=_PRACTICE,
        within="[0, 5]",
    )
    pipe_cover: Metres = setting(
        0.30,
        unit="m",
        meaning="pipe's centre line below ground and bed",
        source=_PRACTICE,
        within="[0, 2]",
    )
    pipe_trench_width: Metres = setting(
        0.30,
        unit="m",
        meaning="width of the pipe's trench",
        source=_PRACTICE,
        within="(0, 2]",
    )
    station_step: Metres = setting(
        0.25,
        unit="m",
        meaning="distance of stations along the stream; a fall's face takes one",
        source=_OURS,
        within="[0.05, 2]",
    )
    level_step: Metres = setting(
        0.02, unit="m", meaning="step of bed levels", source=_OURS, within="[0.002, 0.2]"
    )
    route_cell: Metres = setting(
        0.5,
        unit="m",
        meaning="cell of the route search; a passage less wide than the bed's room and a cell may "
        "be missed",
        source=_OURS,
        within="[0.1, 2]",
    )
    smoothing_length: Metres = setting(
        1.0,
        unit="m",
        meaning="length over which the route is rounded",
        source=_OURS,
        within="[0, 10]",
    )
    ends_tried: int = setting(
        6,
        unit="-",
        meaning="spillway places whose stream is worked out in full",
        source=_OURS,
        within="[1, 50]",
    )
    ends_apart: Metres = setting(
        2.0,
        unit="m",
        meaning="distance between spillway places tried",
        source=_OURS,
        within="[0, 50]",
    )
    fill_cost: float = setting(
        2.0,
        unit="m3/m3",
        meaning="a cubic metre of berm, placed and compacted, in cubic metres of cut",
        source=_OURS,
        within="[0, 1000]",
    )
    fall_cost: float = setting(
        0.05,
        unit="m3",
        meaning="each fall",
        source=_OURS,
        within="[0, 1000]",
    )
    step_cost: float = setting(
        20.0,
        unit="m3/m",
        meaning="each metre by which a fall is lower than the shallowest hollow is deep: "
        "keeps the steps as steep as natural ones",
        source=_OURS,
        within="[0, 1000]",
    )
    riffle_cost: float = setting(
        1.0,
        unit="m3/m",
        meaning="each metre that riffles drop: keeps steep streams stepped",
        source=_OURS,
        within="[0, 1000]",
    )
    shortfall_cost: float = setting(
        20.0,
        unit="m3/m",
        meaning="each metre of fall short of the fall wanted",
        source=_OURS,
        within="[0, 100000]",
    )
    excess_cost: float = setting(
        10.0,
        unit="m3/m",
        meaning="each metre of fall beyond the fall wanted",
        source=_OURS,
        within="[0, 100000]",
    )
    length_cost: float = setting(
        0.1,
        unit="m3/m",
        meaning="each metre by which the stream differs from wanted_fall / usual_slope",
        source=_OURS,
        within="[0, 1000]",
    )
    hand_dig_cost: float = setting(
        3.0,
        unit="m3/m",
        meaning="each metre of stream through hand-dig ground",
        source=_OURS,
        within="[0, 100000]",
    )
    cross_slope_cost: float = setting(
        1.0,
        unit="-",
        meaning="detour worth taking to avoid a cross slope of 1: metres per metre of route",
        source=_OURS,
        within="[0, 1000]",
    )
    off_level_cost: float = setting(
        2.0,
        unit="1/m",
        meaning="detour worth taking to avoid ground a metre off the stream's levels: metres "
        "per metre of route",
        source=_OURS,
        within="[0, 1000]",
    )

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        pairs = (
            ("least_fall", "wanted_fall"),
            ("wanted_fall", "greatest_fall"),
            ("least_length", "greatest_length"),
            ("least_fall_height", "greatest_fall_height"),
            ("least_pool_depth", "greatest_pool_depth"),
            ("lip_width", "bed_width"),
            ("level_step", "greatest_fall_height"),
        )
        for low, high in pairs:
            if getattr(self, low) > getattr(self, high):
                raise ValueError(f"{low} is greater than {high}")
        return self
