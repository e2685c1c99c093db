"""Private things that a lot usually has, and that nobody marked: asked for by name.

In: a site. Out: an :class:`AskedFor` for each thing that is not vouched for. Method: what the
private locate accounts for is left out while it holds, and septic where its parts are given;
lines that are drawn and may be the thing are named, for one that is drawn is not all of them.
Reference: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from geo_site.clearance.days import word_of
from geo_site.clearance.doubts import doubts_about_private_locate
from geo_site.site import PRIVATE_THINGS, Site

__all__ = ["AskedFor", "list_asked_for"]

_TOLD: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "septic": ("septic tank, field and their pipes", "sewer"),
        "irrigation": ("irrigation pipes and valve wires", "reclaimed_water"),
        "yard lighting": ("low-voltage lighting cables", "electric"),
        "propane": ("a propane tank and its line", "gas"),
        "pool": ("pipes, heater line and cables of a pool", "potable_water"),
        "outbuilding": ("feeds to outbuildings, pumps and gates", "electric"),
        "pet fence": ("a buried pet fence wire", "communication"),
        "drains": ("roof, foundation and yard drains", "sewer"),
    }
)


@dataclass(frozen=True, kw_only=True)
class AskedFor:
    """One private thing to ask the owner for.

    Attributes
    ----------
    name : str
        As ``private_locate.covers`` names it.
    what : str
        In plain words.
    perhaps : tuple of str
        Ids of private lines that are drawn and may belong to it.
    """

    name: str
    what: str
    perhaps: tuple[str, ...]


def list_asked_for(site: Site) -> tuple[AskedFor, ...]:
    """List the private things that nobody vouches for.

    Parameters
    ----------
    site : Site
        With private locate, septic parts and lines.

    Returns
    -------
    tuple of AskedFor
        In the order of ``site.PRIVATE_THINGS``, less what is accounted for.
    """
    locate = site.private_locate
    holds = locate is not None and not doubts_about_private_locate(site, "line")
    given = set(locate.covers) if locate is not None and holds else set()
    if not site.septic.empty:
        given.add("septic")
    return tuple(
        AskedFor(name=name, what=_TOLD[name][0], perhaps=_drawn(site, _TOLD[name][1]))
        for name in PRIVATE_THINGS
        if name not in given
    )


def _drawn(site: Site, kind: str) -> tuple[str, ...]:
    return tuple(
        str(line.id)
        for line in site.rows["utilities"]
        if word_of(line.side).casefold() == "private" and word_of(line.kind) == kind
    )
