"""Settings of levels along the stream: roughness, stones, lips, pools under falls, narrows."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from geo_site.parameters import Metres, Parameters, setting

__all__ = ["LevelParameters", "LookParameters", "Narrow", "with_head_of_look"]

_PRACTICE = "common practice, no source"
_OURS = "chosen for this method"
_LOSSES = "HEC-RAS Hydraulic Reference Manual, table 3-3 (from memory): "


class LookParameters(Parameters):
    """Head on the spillway lip for each look of the sheet; the words are ours."""

    veil: Metres = setting(
        0.010,
        unit="m",
        meaning="head of a thin veil that clings and breaks",
        source=_PRACTICE,
        within="(0, 0.3]",
    )
    sheet: Metres = setting(
        0.020,
        unit="m",
        meaning="head of a whole sheet",
        source="common practice, no source: sheets of 12 to 50 mm",
        within="(0, 0.3]",
    )
    roar: Metres = setting(
        0.045,
        unit="m",
        meaning="head of a heavy fall that is heard",
        source=_PRACTICE,
        within="(0, 0.3]",
    )


class Narrow(Parameters):
    """A place where stones or a crossing leave the water gaps only."""

    station: Metres = setting(
        0.0,
        unit="m",
        meaning="distance from the spillway's lip",
        source="the user",
        within="[0, 500]",
    )
    gaps: tuple[Metres, ...] = setting(
        (0.3,), unit="m", meaning="widths of the gaps that the water has", source="the user"
    )
    soffit: Metres | None = setting(
        None,
        unit="m",
        meaning="underside of a slab above the sill there; none: open above",
        source="the user",
        within="(0, 5]",
    )


class LevelParameters(Parameters):
    """How levels along the stream are worked out, and what is asked of them."""

    least_roughness: float = setting(
        0.030,
        unit="s/m^(1/3)",
        meaning="least Manning's n that the riffles may have",
        source="Chow (1959) table 5-6, mountain stream, gravel and cobbles: 0.030 to 0.050",
        within="[0.01, 0.3]",
    )
    greatest_roughness: float = setting(
        0.150,
        unit="s/m^(1/3)",
        meaning="greatest Manning's n that the riffles may have",
        source="chosen for water no deeper than its stones: Ferguson (2007), Water Resources "
        "Research 43, W05427 (from memory), gives 0.08 to 0.17 at depths of 1 to 0.4 stones",
        within="[0.01, 0.5]",
    )
    riffle_stone: Metres = setting(
        0.020,
        unit="m",
        meaning="size of the stone on the riffles' bed: shallower water is lost in it, and less "
        "than what must stay put is carried away",
        source=_PRACTICE,
        within="(0, 1]",
    )
    shields_number: float = setting(
        0.047,
        unit="-",
        meaning="F* of stones that must not move",
        source="HEC-15: 0.047 to 0.15 (from memory)",
        within="[0.01, 0.2]",
    )
    specific_gravity: float = setting(
        2.65, unit="-", meaning="of the stone", source="granite: 2.65 to 2.75", within="(1, 5]"
    )
    head_limit: Metres = setting(
        0.30,
        unit="m",
        meaning="greatest head on a lip; a flow that needs more is refused",
        source=_OURS,
        within="(0, 2]",
    )
    spillway_depth: Metres = setting(
        0.20,
        unit="m",
        meaning="still water behind the spillway's lip, below it",
        source=_PRACTICE,
        within="[0, 2]",
    )
    plunge_share: float = setting(
        0.5,
        unit="-",
        meaning="depth of water wanted at the foot of a fall over the fall's height",
        source=_PRACTICE,
        within="[0, 3]",
    )
    contraction_loss: float = setting(
        0.1,
        unit="-",
        meaning="share of the velocity head's growth lost where the bed narrows",
        source=_LOSSES + "gradual 0.1",
        within="[0, 1]",
    )
    expansion_loss: float = setting(
        0.3,
        unit="-",
        meaning="share of the velocity head lost where the bed widens or deepens",
        source=_LOSSES + "gradual 0.3",
        within="[0, 1]",
    )
    narrow_contraction_loss: float = setting(
        0.3,
        unit="-",
        meaning="the same before a narrow place",
        source=_LOSSES + "bridges 0.3, abrupt 0.6",
        within="[0, 1]",
    )
    narrow_expansion_loss: float = setting(
        0.5,
        unit="-",
        meaning="the same behind a narrow place",
        source=_LOSSES + "bridges 0.5, abrupt 0.8",
        within="[0, 1]",
    )
    slab_coefficient: float = setting(
        0.8,
        unit="-",
        meaning="discharge coefficient of gaps that run full under a slab",
        source="HEC-RAS Hydraulic Reference Manual (from memory): 0.7 to 0.9",
        within="[0.3, 1]",
    )
    step: Metres = setting(
        0.10,
        unit="m",
        meaning="greatest distance of the stations at which levels are worked out",
        source=_OURS,
        within="[0.01, 1]",
    )


def with_head_of_look(given: Any) -> Any:
    """Add the head of the look asked for to what the user wrote, unless a head is stated.

    Parameters
    ----------
    given : Any
        The water table as written; anything but a mapping is handed on.

    Returns
    -------
    Any
        The table with ``lip_head``.

    Examples
    --------
    >>> with_head_of_look({"look": "veil"})["lip_head"]
    0.01
    >>> with_head_of_look({"look": "roar", "lip_head": 0.03})["lip_head"]
    0.03
    """
    if not isinstance(given, Mapping) or "lip_head" in given:
        return given
    look = given.get("look", "sheet")
    if look not in LookParameters.model_fields:
        return given
    looks = given.get("looks", {})
    own = looks.get(look) if isinstance(looks, Mapping) else getattr(looks, look, None)
    head = LookParameters.model_fields[look].default if own is None else own
    return {**given, "lip_head": head}
