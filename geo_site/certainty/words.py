"""How sure the fall is, in a sentence: what the terrain alone cannot tell is not asserted."""

from __future__ import annotations

from geo_site.certainty.records import Certainty
from geo_site.units import System, format_length

__all__ = ["fall_told"]


def fall_told(certainty: Certainty, system: System) -> str:
    """Say the fall, its range, and what the terrain alone cannot tell.

    Parameters
    ----------
    certainty : Certainty
        How sure the plan is.
    system : {"si", "us"}
        Units.

    Returns
    -------
    str
        Without a full stop.
    """
    fall, needed_m = certainty.fall, certainty.needed_fall_m
    told = format_length(fall.value, system)
    if not fall.is_known:
        return f"{told}, its error unknown"
    likely = f"95 %: {format_length(fall.low, system)} to {format_length(fall.high, system)}"
    if certainty.is_assumed:
        assumed = format_length(certainty.rmse_z_m, system)
        return (
            f"{told}, nothing asserted: the terrain's error is not stated; "
            f"with {assumed} assumed, {likely}"
        )
    if certainty.asserted_fall_m >= needed_m:
        return f"{told}, {likely}"
    needed = format_length(needed_m, system)
    return f"{told}, {likely}; the terrain alone cannot tell that there are {needed}"
