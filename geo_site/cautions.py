"""The cautions that stand on every document: one text, kept here only.

They are addressed to the person who digs. Local codes and licensed practice govern; nothing
that geo_site writes replaces a locate, a survey, an engineer or an electrician.
"""

from __future__ import annotations

__all__ = ["CAUTIONS", "NOT_A_LOCATE"]

NOT_A_LOCATE = (
    "This is a desk study, not a utility locate. Call before you dig, wait for every "
    "positive response, and expose by hand."
)

CAUTIONS: tuple[tuple[str, str], ...] = (
    ("locate", NOT_A_LOCATE),
    (
        "marks",
        "Marks are approximate. Inside the tolerance zone dig by hand or vacuum until the line "
        "is seen.",
    ),
    (
        "private lines",
        "A public ticket does not mark private lines: yard lighting, outbuilding feeds, propane, "
        "irrigation, drains, septic, pet fences. Have them located privately.",
    ),
    ("abandoned lines", "Treat every abandoned line as live."),
    (
        "line struck",
        "If a line is hit or gas is smelled: stop, leave the machine, keep people away, "
        "call emergency services and the operator from a safe distance.",
    ),
    (
        "boundary",
        "Parcel lines from a map are not a boundary survey. Have corners found before work "
        "near them.",
    ),
    ("terrain", "Lidar shows the ground on the day it was flown. Check levels on site."),
    (
        "excavation",
        "No one enters an unprotected excavation. Keep spoil, water and machines back from its "
        "edge; a competent person inspects it daily and after rain.",
    ),
    (
        "machine",
        "Machines tip on slopes and when lifting stone. Keep the boom away from overhead lines.",
    ),
    (
        "loads",
        "Void units carry only their maker's rated load: no boulder, machine or vehicle over the "
        "basin without that figure.",
    ),
    (
        "groundwater",
        "Groundwater lifts liners and empty basins. Find the seasonal high water table first.",
    ),
    ("electricity", "Electricity near water is the work of a licensed electrician."),
    (
        "walls and slopes",
        "Retaining walls, steep slopes and fills need an engineer where local code says so.",
    ),
    (
        "septic and wells",
        "Distances to septic parts and wells follow the health code, not this plan.",
    ),
    ("backflow", "Any fill line from drinking water needs approved backflow prevention."),
    ("neighbours", "Do not send water, spoil or roots' damage onto a neighbour's land."),
    ("trees", "Keep machines, spoil and cuts out of root zones unless an arborist agrees."),
    ("erosion", "Keep soil on the lot: fence, cover and stabilise as local rules ask."),
    ("drowning", "Small children drown in little water. Fences and covers follow local code."),
    ("permits", "Permits, local codes and licensed practice govern over anything in this plan."),
)
"""Pairs of (subject, sentence), in the order in which documents print them."""
