"""The tolerance zone that governs here: the user's, else the state's, else the widest known.

In: the state of the ticket and the settings. Out: a :class:`ZoneInUse`. Method: the user's own
width with its source comes first; a state's row that was read governs; what is from memory, in
conflict or absent is drawn and clears nothing. Reference: ``geo_site.one_call``.
"""

from __future__ import annotations

from dataclasses import dataclass

from geo_site.constraints.settings import ToleranceZone
from geo_site.one_call import ZoneRule, zone_rule_of

__all__ = ["ZoneInUse", "zone_in_use"]


@dataclass(frozen=True, kw_only=True)
class ZoneInUse:
    """The zone beside a line in which one digs by hand.

    Attributes
    ----------
    width_m : float
        On each side, from the outer edge: what is drawn.
    is_known : bool
        Whether it may clear a line.
    source : str
        Where the width comes from.
    note : str
        What a reader must know of it, in sentences; empty for nothing.
    rule : ZoneRule or None
        The state's row; None where there is none.
    """

    width_m: float
    is_known: bool
    source: str
    note: str
    rule: ZoneRule | None


def zone_in_use(state: str, zone: ToleranceZone) -> ZoneInUse:
    """Settle which tolerance zone governs.

    Parameters
    ----------
    state : str
        As the ticket names it.
    zone : ToleranceZone
        The settings.

    Returns
    -------
    ZoneInUse
        ``is_known`` only by the user's word with its source, or by a row that was read.
    """
    rule = zone_rule_of(state)
    if zone.width is not None:
        return _stated(zone.width, zone.source, rule)
    if rule is not None and rule.width_m is not None:
        return _of_state(rule, rule.width_m)
    why = _why_none(state, rule)
    return ZoneInUse(
        width_m=zone.widest_known,
        is_known=False,
        source="the widest known",
        note=f"The one-call rule that governs here is not known ({why}): "
        f"the widest known zone, {zone.widest_known:.2f} m, shapes the proposal.",
        rule=rule,
    )


def _stated(width_m: float, source: str, rule: ZoneRule | None) -> ZoneInUse:
    note = ""
    if rule is not None and rule.width_m is not None and width_m < rule.width_m:
        note = (
            f"The zone stated, {width_m:.2f} m, is narrower than {rule.width_m:.2f} m for "
            f"{rule.name} ({rule.source})."
        )
    return ZoneInUse(width_m=width_m, is_known=True, source=source, note=note, rule=rule)


def _of_state(rule: ZoneRule, width_m: float) -> ZoneInUse:
    told = f"{rule.name}: {width_m:.2f} m ({rule.source}, read on {rule.read_on.isoformat()})"
    if rule.may_clear:
        note = f"Tolerance zone of {told}: check the law in force."
    elif rule.confidence == "memory":
        told = f"{rule.name}: {width_m:.2f} m, from memory"
        note = f"Tolerance zone of {told}: it is drawn and clears nothing; state it with source."
    else:
        note = (
            f"The tolerance zone of {rule.name} is told differently ({rule.source}): "
            f"{width_m:.2f} m is drawn and clears nothing; state it with source."
        )
    return ZoneInUse(
        width_m=width_m, is_known=rule.may_clear, source=rule.source, note=note, rule=rule
    )


def _why_none(state: str, rule: ZoneRule | None) -> str:
    if rule is not None:
        return f"{rule.name}: {rule.note or 'the law gives no width'}"
    return f"none was read for {state.strip()}" if state.strip() else "no state is named"
