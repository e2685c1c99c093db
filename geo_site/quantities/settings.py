"""Settings of liner, stone and gravel."""

from __future__ import annotations

from pydantic import field_validator

from geo_site.parameters import Metres, Parameters, setting

__all__ = ["QuantityParameters"]

_PRACTICE = "common practice, no source"


class QuantityParameters(Parameters):
    """Settings of liner, underlay, stone and gravel."""

    liner_edge: Metres = setting(
        0.30,
        unit="m",
        meaning="liner laid flat beyond its upper edge, each side",
        source=_PRACTICE,
        within="[0, 2]",
    )
    liner_overlap: Metres = setting(
        0.50,
        unit="m",
        meaning="stream's liner laid over the basin's",
        source=_PRACTICE,
        within="[0, 3]",
    )
    liner_waste: float = setting(
        0.10,
        unit="-",
        meaning="folds in bends and round stones, and offcuts, of the stream's liner",
        source=_PRACTICE,
        within="[0, 1]",
    )
    bank_side: float = setting(
        0.5,
        unit="-",
        meaning="side of the banks, horizontal over vertical",
        source=_PRACTICE,
        within="[0, 6]",
    )
    underlay_layers: int = setting(
        1, unit="-", meaning="layers of underlay on the liner's area", source=_PRACTICE,
        within="[0, 4]",
    )  # fmt: skip
    stone_gravity: float = setting(
        2.65,
        unit="-",
        meaning="density of solid stone over that of water",
        source="granite 2.65 to 2.75, sandstone 2.2 to 2.5 (from memory)",
        within="[1.5, 3.5]",
    )
    loose_voids: float = setting(
        0.40,
        unit="-",
        meaning="voids of stone and gravel as placed loose",
        source="clean stone of one size 0.35 to 0.45 (from memory)",
        within="[0, 0.6]",
    )
    stacked_voids: float = setting(
        0.25,
        unit="-",
        meaning="voids of stone stacked by hand in falls",
        source=_PRACTICE,
        within="[0, 0.6]",
    )
    bed_stone_thickness: Metres = setting(
        0.15, unit="m", meaning="stone on the liner of the bed", source=_PRACTICE, within="[0, 1]"
    )
    bed_stone_class: str = setting(
        "50 to 150 mm", unit="-", meaning="size of the stone of the bed", source=_PRACTICE
    )
    bank_stone_thickness: Metres = setting(
        0.15, unit="m", meaning="stone on the banks", source=_PRACTICE, within="[0, 1]"
    )
    bank_stone_class: str = setting(
        "100 to 300 mm", unit="-", meaning="size of the stone of the banks", source=_PRACTICE
    )
    fall_stone_depth: Metres = setting(
        0.40,
        unit="m",
        meaning="stone of a fall from its face back",
        source=_PRACTICE,
        within="(0, 2]",
    )
    fall_classes: tuple[float, ...] = setting(
        (0.20, 0.35),
        unit="m",
        meaning="heights of falls at which their stone becomes another class",
        source=_PRACTICE,
    )
    boulder_diameter: Metres = setting(
        0.40, unit="m", meaning="diameter of boulders", source=_PRACTICE, within="(0, 2]"
    )
    boulders_per_metre: float = setting(
        0.5,
        unit="1/m",
        meaning="boulders for each metre of stream",
        source=_PRACTICE,
        within="[0, 10]",
    )

    @field_validator("fall_classes")
    @classmethod
    def _rising(cls, value: tuple[float, ...]) -> tuple[float, ...]:
        if any(not height > 0.0 for height in value) or sorted(set(value)) != list(value):
            raise ValueError("heights above 0 in rising order")
        return value
