"""How far the search for weaker rules goes, where there is no place."""

from __future__ import annotations

from geo_site.parameters import Parameters, setting

__all__ = ["RelaxingParameters"]


class RelaxingParameters(Parameters):
    """How far the search for smaller rules goes."""

    most_searches: int = setting(
        120,
        unit="-",
        meaning="most searches for a place with weaker rules, where there is none; 0: none",
        source="our choice",
        within="[0, 100000]",
    )
    most_pairs: int = setting(
        3, unit="-", meaning="pairs of rules told", source="our choice", within="[0, 100]"
    )
