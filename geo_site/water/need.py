"""What the basin must hold, before there is a stream."""

from __future__ import annotations

from geo_site import pipes
from geo_site.layout import LayoutParameters
from geo_site.water.losses import losses
from geo_site.water.records import WaterParameters
from geo_site.water.running import lip_flow, lip_head

__all__ = ["first_need"]

_POOL_SHARE = 0.5  # of a stream's length, before there is one (common practice, no source)


def first_need(parameters: WaterParameters, layout_parameters: LayoutParameters) -> float:
    """Estimate what the basin must hold, before there is a stream.

    The moving water of a stream of the wanted fall at the usual slope, its bed filled to the
    running depth assumed and its pools (half of it) risen by the head on the lip, with a margin;
    the pipe's water where no check valve keeps it; losses until the next refill; the reserve. What
    the pump cannot reach comes on top, for it is no use.

    Parameters
    ----------
    parameters : WaterParameters
        Settings of this step.
    layout_parameters : LayoutParameters
        Wanted fall, slope, widths.

    Returns
    -------
    float
        Volume, m3.
    """
    wanted = layout_parameters
    length_m = min(
        max(wanted.wanted_fall / wanted.usual_slope, wanted.least_length), wanted.greatest_length
    )
    flow_m3s = lip_flow(wanted.lip_width, parameters)
    head_m = lip_head(wanted.lip_width, flow_m3s, parameters.contracted_ends)
    bed_m2 = length_m * wanted.bed_width
    pools_m2 = _POOL_SHARE * bed_m2 * wanted.pool_widening
    moving_m3 = parameters.first_margin * (bed_m2 * parameters.first_depth + pools_m2 * head_m)
    _, diameter_m = pipes.smallest_size(flow_m3s, parameters.pipe_velocity_limit)
    need_m3 = moving_m3 * (1.0 + parameters.reserve) + losses(bed_m2, parameters)
    if not parameters.store.check_valve:
        need_m3 += pipes.content(diameter_m, length_m)
    return need_m3 / (1.0 - parameters.first_unreachable)
