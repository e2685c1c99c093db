"""Settings of the constraints: every distance that is kept, with where it comes from.

Distances without a published source are our design separations. The user's own zoning, health
code and one-call law govern, and each can be written in the site file.
"""

from __future__ import annotations

from math import isfinite
from typing import Literal

from pydantic import model_validator

from geo_site.constraints.line_settings import (
    ExposedStretch,
    RowReach,
    Separation,
    StrikeSampling,
    StubRule,
)
from geo_site.parameters import Metres, Parameters, Slope, SquareMetres, setting

__all__ = [
    "BoundarySetback",
    "ConstraintParameters",
    "PositionUncertainty",
    "StructureSetback",
    "ToleranceZone",
    "UtilityBuffer",
]

_PRACTICE = "common practice, no source"
_FOOT = 0.3048


def _distance(default: float, meaning: str, source: str = _PRACTICE) -> Metres:
    made: Metres = setting(default, unit="m", meaning=meaning, source=source, within="[0, inf)")
    return made


class UtilityBuffer(Parameters):
    """Design separation from a buried line's outer edge, by what it carries."""

    electric: Metres = _distance(1.0, "kept from electric lines")
    gas: Metres = _distance(1.5, "kept from gas, oil and steam lines")
    communication: Metres = _distance(0.6, "kept from communication lines")
    potable_water: Metres = _distance(1.5, "kept from drinking water lines")
    reclaimed_water: Metres = _distance(1.0, "kept from reclaimed water and irrigation lines")
    sewer: Metres = _distance(1.5, "kept from sewers and drains")

    def of(self, kind: str) -> float:
        """Separation of a kind, m; of any other word the strictest of all."""
        given = {name: float(getattr(self, name)) for name in type(self).model_fields}
        return given.get(kind, max(given.values()))


class ToleranceZone(Parameters):
    """The one-call law's zone beside a line in which digging is by hand or vacuum only."""

    width: Metres | None = setting(
        None,
        unit="m",
        meaning="width of the zone on each side of a line's outer edge under the law that governs "
        "here; without it the rule is not known and no line is cleared",
        source="the user's own, with its source",
        within="(0, 3]",
    )
    source: str = setting("", unit="-", meaning="where the width was read", source="the user's own")
    widest_known: Metres = _distance(
        48.0 * _FOOT / 12.0,
        "width that shapes the proposal while the rule is not known",
        "48 in, the widest of the US one-call laws that were read (Michigan; a transcription)",
    )

    @model_validator(mode="after")
    def _width_has_source(self) -> ToleranceZone:
        if self.width is not None and not self.source.strip():
            raise ValueError("a tolerance zone needs the source where its width was read")
        return self

    @property
    def is_known(self) -> bool:
        """Whether the user gave the rule."""
        return self.width is not None

    @property
    def width_in_use_m(self) -> float:
        """The rule's width, or the widest known while there is none, m."""
        return float(self.widest_known if self.width is None else self.width)


_PAS = "PAS 128:2022 table 1 (a transcription)"
_NO_FIGURE = "no published figure; our assumption"


class PositionUncertainty(Parameters):
    """How far a line may lie from where it is drawn, by quality level."""

    ql_a: Metres = _distance(0.05, "horizontal accuracy of QL-A", _PAS)
    ql_b: Metres = _distance(0.30, "horizontal accuracy of QL-B", "AS 5488, from memory")
    ql_b1: Metres = _distance(0.15, "horizontal accuracy of QL-B1", _PAS)
    ql_b2: Metres = _distance(0.25, "horizontal accuracy of QL-B2", _PAS)
    ql_b3: Metres = _distance(0.50, "horizontal accuracy of QL-B3", _PAS)
    ql_b4: Metres = _distance(1.0, "horizontal accuracy of QL-B4", _NO_FIGURE)
    ql_c: Metres = _distance(1.0, "horizontal accuracy of QL-C", _NO_FIGURE)
    ql_d: Metres = _distance(2.0, "horizontal accuracy of QL-D", _NO_FIGURE)
    depth_share_b1: float = setting(
        0.15,
        unit="-",
        meaning="share of a QL-B1 line's depth that counts where it is the greater",
        source=_PAS,
        within="[0, 1]",
    )
    depth_share_b2: float = setting(
        0.40,
        unit="-",
        meaning="share of a QL-B2 line's depth that counts where it is the greater",
        source=_PAS,
        within="[0, 1]",
    )

    def of(self, level: str, depth_m: float) -> float | None:
        """Uncertainty of a quality level at a depth (NaN: not told), m; None for no level."""
        name = level.lower().replace("-", "_")
        if name not in type(self).model_fields or not name.startswith("ql_"):
            return None
        share = {"ql_b1": self.depth_share_b1, "ql_b2": self.depth_share_b2}.get(name, 0.0)
        flat_m = float(getattr(self, name))
        return max(flat_m, share * depth_m) if isfinite(depth_m) else flat_m


class BoundarySetback(Parameters):
    """Distance kept from the parcel's own lines; local zoning governs."""

    basin: Metres = _distance(1.5, "kept between the basin's excavation and a parcel line")
    stream: Metres = _distance(1.5, "kept between the stream bed and a parcel line")
    pile: Metres = _distance(1.0, "kept between the soil pile and a parcel line")
    pipe: Metres = _distance(0.3, "kept between the pipe trench and a parcel line")
    fence: Metres = _distance(0.3, "kept between the silt fence and a parcel line")
    assumed_accuracy: Metres = _distance(
        1.0,
        "how well parcel lines are known when nobody says",
        "our assumption: map parcels are not a boundary survey",
    )


class StructureSetback(Parameters):
    """Distance kept from structures."""

    basin: Metres = _distance(1.5, "least distance of the basin's excavation")
    basin_per_depth: float = setting(
        1.0,
        unit="m/m",
        meaning="distance of the basin's excavation for each metre of its depth",
        source="common practice: outside a 45 degree line from the footing",
        within="[0, inf)",
    )
    stream: Metres = _distance(1.5, "distance of the stream bed")
    pile: Metres = _distance(1.5, "distance of the soil pile")
    pipe: Metres = _distance(0.6, "distance of the pipe trench")
    fence: Metres = _distance(0.3, "distance of the silt fence")
    drivable: tuple[str, ...] = setting(
        ("drive", "walk", "paving"),
        unit="-",
        meaning="kinds of structure that a machine may drive over",
        source=_PRACTICE,
    )


class ConstraintParameters(Parameters):
    """Everything that keeps works away from things."""

    utility_buffer: UtilityBuffer = UtilityBuffer()
    tolerance_zone: ToleranceZone = ToleranceZone()
    position_uncertainty: PositionUncertainty = PositionUncertainty()
    boundary: BoundarySetback = BoundarySetback()
    structure: StructureSetback = StructureSetback()
    stub: StubRule = StubRule()
    separation: Separation = Separation()
    exposed: ExposedStretch = ExposedStretch()
    strike: StrikeSampling = StrikeSampling()
    rows: RowReach = RowReach()
    assumed_depth: Metres = _distance(
        1.2,
        "depth of a line of level QL-B1 or QL-B2 whose depth is not told: its position may be off "
        "by a share of it",
        "common practice, no source: services on lots seldom lie deeper",
    )
    assumed_uncertainty: Metres = _distance(
        0.5,
        "how far a line without a quality level may lie from where it is drawn",
        "our assumption",
    )
    assumed_diameter: Metres = _distance(
        0.10,
        "outside diameter of a line whose diameter is not told; half of it is added to the "
        "uncertainty",
        "our assumption",
    )
    hand_dig: Literal["never", "if_needed", "allowed"] = setting(
        "if_needed",
        unit="-",
        meaning="whether ground beside a line may be opened to digging by hand: never, only when "
        "there is no other place, or from the start",
        source="our choice",
    )
    least_hand_dig_distance: Metres = _distance(
        0.30, "nearest to a line's outer edge that any digging is planned"
    )
    fixture_zone: Metres = _distance(
        24.0 * _FOOT / 12.0,
        "zone all round a fixture",
        "24 in all round an above-ground facility: statute text, state not named in the copy",
    )
    fixture_body: Metres = _distance(0.15, "radius of a fixture that a machine goes round")
    assumed_root_radius: Metres = _distance(
        3.0, "root zone of a tree of which neither trunk nor crown is told", "our assumption"
    )
    septic: Metres = _distance(
        3.0, "kept from septic tanks and fields", "our assumption: the local health code governs"
    )
    well: Metres = _distance(
        50.0 * _FOOT, "kept from wells", "50 ft, our assumption: the local health code governs"
    )
    water: Metres = _distance(3.0, "kept from streams, ponds and ditches")
    overhead: Metres = _distance(
        10.0 * _FOOT,
        "horizontal distance from overhead lines up to 50 kV",
        "10 ft, OSHA 1926.600(a)(6) and 1408, from memory",
    )
    overhead_per_kv: Metres = _distance(
        0.4 * _FOOT / 12.0,
        "added for each kV above 50 kV",
        "0.4 in per kV, OSHA 1926.600(a)(6), from memory",
    )
    steepest: Slope = setting(
        0.33,
        unit="m/m",
        meaning="slope above which ground takes no basin and no pile",
        source=_PRACTICE,
        within="(0, inf)",
    )
    concentrated_flow: SquareMetres = setting(
        500.0,
        unit="m2",
        meaning="upstream area from which on water runs concentrated",
        source=_PRACTICE,
        within="(0, inf)",
    )
    concentrated_flow_buffer: Metres = _distance(1.0, "kept from concentrated flow")
