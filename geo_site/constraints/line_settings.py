"""Settings of buried lines that are not a distance kept: stubs, exposures, strikes, rows.

Separations that a code or a licensed person decides stand here too: they take no ground, they
are told.
"""

from __future__ import annotations

from pydantic import model_validator

from geo_site.parameters import Metres, Parameters, setting

__all__ = ["ExposedStretch", "RowReach", "Separation", "StrikeSampling", "StubRule"]

_PRACTICE = "common practice, no source"
_OURS = "our choice"
_FOOT = 0.3048


def _distance(default: float, meaning: str, source: str = _PRACTICE) -> Metres:
    made: Metres = setting(default, unit="m", meaning=meaning, source=source, within="[0, inf)")
    return made


class StubRule(Parameters):
    """Lines that end on the lot: where they go on, nobody said."""

    reach: Metres = _distance(
        5.0, "how far ahead of a line's end nothing that is dug is cleared of it", _OURS
    )
    joins_within: Metres = _distance(
        0.5, "nearer than this a line that ends is taken to end at a structure or another line",
        _OURS,
    )  # fmt: skip


class Separation(Parameters):
    """Distances that another code asks: told in rows of their own, no ground is taken."""

    receptacle: Metres = _distance(
        6.0 * _FOOT, "between the water's edge and an outlet", "6 ft, NEC 680.22(A), transcription"
    )
    switch: Metres = _distance(
        5.0 * _FOOT, "between the water's edge and a switch", "5 ft, NEC 680, a transcription"
    )
    wire_over_water: Metres = _distance(
        22.5 * _FOOT,
        "height of overhead conductors over water; told, never judged",
        "22.5 ft, NEC 680.9(A), a transcription",
    )
    sewer: Metres = _distance(
        10.0 * _FOOT,
        "between the feature's water and a sewer, from its outer edge",
        "10 ft, Ten States Standards for mains, from memory: an assumption",
    )
    sewer_source: str = setting(
        "",
        unit="-",
        meaning="where the distance from sewers was read; without it nothing is cleared by it",
        source="the user's own",
    )
    boom_reach: Metres = _distance(
        5.5, "how far the machine's boom reaches beyond its track", "boom of a small excavator; "
        "common practice, no source",
    )  # fmt: skip


class ExposedStretch(Parameters):
    """How far along a line an exposed point speaks for it."""

    reach: Metres = _distance(
        1.0, "along the line on each side of an exposed point, how far its position is QL-A", _OURS
    )
    taper: Metres = _distance(
        10.0, "beyond the last exposed point, over which the line goes back to where it was drawn",
        _OURS,
    )  # fmt: skip

    @model_validator(mode="after")
    def _taper_is_longer(self) -> ExposedStretch:
        if self.taper <= self.reach:
            raise ValueError("the taper is longer than the reach of an exposed point")
        return self


class StrikeSampling(Parameters):
    """How the chance of meeting a line is worked out."""

    sigmas: float = setting(
        3.0,
        unit="-",
        meaning="pairs nearer than this many standard deviations are worked out",
        source=_OURS,
        within="(0, 6]",
    )
    samples: int = setting(
        4000, unit="-", meaning="positions drawn for a line that is not straight", source=_OURS,
        within="[100, 1000000]",
    )  # fmt: skip
    seed: int = setting(
        1, unit="-", meaning="of the random generator", source=_OURS, within="[0, inf)"
    )


class RowReach(Parameters):
    """Which objects get a row each; of what is farther the nearest stands for its kind."""

    lines_within: Metres = _distance(
        60.0, "buried lines, overhead lines and fixtures as near as this to a work have a row each",
        _OURS,
    )  # fmt: skip
    others_within: Metres = _distance(
        30.0, "other objects as near as this to a work have a row each", _OURS
    )
