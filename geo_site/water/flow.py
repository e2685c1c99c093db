"""The flow that is wanted: from the look of the sheet on the spillway's lip, or from a pump.

Formulas are in :mod:`geo_site.weirs`. Heads of garden falls are below those at which weirs were
tested, so the flow carries its range.
"""

from __future__ import annotations

from dataclasses import dataclass

from geo_site import weirs
from geo_site.layout import Layout
from geo_site.water.records import WaterParameters

__all__ = ["Flow", "lip_flow", "lip_head", "spillway_lip", "spillway_width", "wanted_flow"]

_HEAD_STEPS = 60


@dataclass(frozen=True, kw_only=True)
class Flow:
    """A flow and how sure it is.

    Attributes
    ----------
    flow_m3s : float
        The flow.
    low_m3s, high_m3s : float
        Between these it lies as far as the lip's formula is known.
    head_m : float
        On the spillway's lip.
    basis : str
        Where it comes from, a clause.
    notes : tuple of str
        What is not well known, a sentence each.
    """

    flow_m3s: float
    low_m3s: float
    high_m3s: float
    head_m: float
    basis: str
    notes: tuple[str, ...]


def wanted_flow(layout: Layout, parameters: WaterParameters) -> Flow:
    """Flow of the pump given, or that makes the head wanted on the spillway's lip.

    Parameters
    ----------
    layout : Layout
        Only the width of the first lip is read (of the bed where there is no fall).
    parameters : WaterParameters
        ``pump_flow``, else ``lip_head`` (or ``look``), ``lip_form``, ``contracted_ends``.

    Returns
    -------
    Flow
        With its range: of a pump that is given, the flow itself.
    """
    lip = spillway_lip(spillway_width(layout), parameters)
    if parameters.pump_flow is not None:
        flow_m3s = parameters.pump_flow
        head_m = weirs.lip_energy(lip, flow_m3s)
        return Flow(
            flow_m3s=flow_m3s,
            low_m3s=flow_m3s,
            high_m3s=flow_m3s,
            head_m=head_m,
            basis="the flow of the pump given",
            notes=_notes(head_m, parameters),
        )
    head_m = parameters.lip_head
    flow_m3s = weirs.lip_flow(lip, head_m)
    low, high = weirs.flow_range(lip, head_m)
    return Flow(
        flow_m3s=flow_m3s,
        low_m3s=low * flow_m3s,
        high_m3s=high * flow_m3s,
        head_m=head_m,
        basis=f"{head_m * 1000:.0f} mm over a {lip.form} lip of {lip.width_m:.2f} m "
        f"({weirs.formula_of(lip, head_m)})",
        notes=_notes(head_m, parameters),
    )


def _notes(head_m: float, parameters: WaterParameters) -> tuple[str, ...]:
    if head_m >= weirs.LEAST_TESTED_HEAD_M:
        return ()
    limit_mm = weirs.LEAST_TESTED_HEAD_M * 1000.0
    what = "head" if parameters.pump_flow is not None else "flow"
    return (
        f"The head of {head_m * 1000:.0f} mm on the lip is below the {limit_mm:.0f} mm at which "
        f"weirs were tested: the {what} is an estimate, {weirs.LOW_HEAD_UNCERTAINTY:.0%} of the "
        "flow either way.",
    )


def spillway_width(layout: Layout) -> float:
    """Width of the spillway's lip: that of the first fall, or of the bed without falls, m."""
    if layout.falls:
        return layout.falls[0].lip_width_m
    return float(layout.bed.area) / layout.length_m


def spillway_lip(width_m: float, parameters: WaterParameters) -> weirs.Lip:
    """Give the lip of the spillway with the still water behind it."""
    return weirs.Lip(
        form=parameters.lip_form,
        width_m=width_m,
        channel_width_m=width_m,
        height_m=parameters.levels.spillway_depth,
        contracted_ends=parameters.contracted_ends,
        angle_deg=parameters.notch_angle,
    )


def lip_flow(width_m: float, parameters: WaterParameters) -> float:
    """Flow of the pump given, or that gives the head wanted over a lip, m3/s."""
    if parameters.pump_flow is not None:
        return parameters.pump_flow
    return weirs.lip_flow(spillway_lip(width_m, parameters), parameters.lip_head)


def lip_head(width_m: float, flow_m3s: float, contracted_ends: int) -> float:
    """Head on a sharp lip, contracted or not: the root of Francis' formula, m.

    Each round takes the width that the head of the round before leaves.

    Raises
    ------
    ValueError
        The flow is too large for so narrow a lip.

    Examples
    --------
    >>> round(lip_head(0.6096, weirs.francis_flow(0.6096, 0.1524, 2), 2), 6)
    0.1524
    """
    head_m = weirs.francis_head(width_m, flow_m3s)
    for _ in range(_HEAD_STEPS if contracted_ends else 0):
        head_m = weirs.francis_head(width_m - 0.1 * contracted_ends * head_m, flow_m3s)
    return head_m
