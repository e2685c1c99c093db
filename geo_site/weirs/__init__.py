"""Flow over a lip: the head that a flow needs, and the flow that a head gives.

Question
    How much water runs over a lip of this width at this depth?
In
    Widths and heads in metres. The head is the level above the lip, measured upstream of
    where the water begins to dip.
Out
    Flows in m3/s, heads in metres.
Method
    A sharp lip by Kindsvater and Carter where their limits hold and by Francis elsewhere; a
    broad one by critical flow; a V-notch. Water below the lip by Villemonte (sharp) or by the
    energy left over the crest (broad). A rough stone lip is nearer the broad one. Heads on
    garden falls (1 to 4 cm) are below those at which these formulas were tested: results there
    are estimates of some 20 % either way, and a head must never be turned into a measured flow.
Reference
    EPA SWMM Reference Manual, volume II (hydraulics), equations 6-18 and 6-22; USBR Water
    Measurement Manual, chapter 7; Villemonte (1947).
"""

from geo_site.weirs.formulas import (
    BROAD_COEFFICIENT,
    FRANCIS_COEFFICIENT,
    GRAVITY_MS2,
    GREATEST_HEAD_SHARE,
    LEAST_PLATE_HEAD_M,
    LEAST_PLATE_HEIGHT_M,
    LEAST_PLATE_WIDTH_M,
    LEAST_TESTED_HEAD_M,
    LOW_HEAD_UNCERTAINTY,
    broad_crested_flow,
    broad_crested_head,
    broad_submerged_factor,
    critical_depth,
    francis_flow,
    francis_head,
    notch_flow,
    plate_flow,
    villemonte_factor,
)
from geo_site.weirs.lips import (
    Lip,
    LipForm,
    flow_range,
    formula_of,
    greatest_head,
    least_width,
    lip_energy,
    lip_flow,
)

__all__ = [
    "BROAD_COEFFICIENT",
    "FRANCIS_COEFFICIENT",
    "GRAVITY_MS2",
    "GREATEST_HEAD_SHARE",
    "LEAST_PLATE_HEAD_M",
    "LEAST_PLATE_HEIGHT_M",
    "LEAST_PLATE_WIDTH_M",
    "LEAST_TESTED_HEAD_M",
    "LOW_HEAD_UNCERTAINTY",
    "Lip",
    "LipForm",
    "broad_crested_flow",
    "broad_crested_head",
    "broad_submerged_factor",
    "critical_depth",
    "flow_range",
    "formula_of",
    "francis_flow",
    "francis_head",
    "greatest_head",
    "least_width",
    "lip_energy",
    "lip_flow",
    "notch_flow",
    "plate_flow",
    "villemonte_factor",
]
