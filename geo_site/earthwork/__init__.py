"""How much soil comes out, where it lies, and what is trucked away.

Question
    What is dug, what the berm takes, where the pile can stand, what is hauled, and where the
    silt fence goes?
In
    Terrain, ground for pile and fence, the feature to be built, :class:`EarthworkParameters`.
Out
    :class:`Earthwork`; :class:`Excavation` alone for a candidate.
Method
    The battered pit is integrated on the real ground. The strip of sod and topsoil is set
    apart. What the berm does not take swells and is piled at its angle of repose on the real
    slope, in the best place that is allowed; what does not fit there is hauled. A silt fence
    stands downslope.
Reference
    US Army FM 5-434 (swell and shrink); 29 CFR 1926 Subpart P (excavations); EPA NPDES fact
    sheet Silt Fences (2012).
"""

from geo_site.earthwork.balance import move_earth
from geo_site.earthwork.pit import excavate
from geo_site.earthwork.records import (
    Earthwork,
    EarthworkParameters,
    Excavation,
    Feature,
    Pile,
)

__all__ = [
    "Earthwork",
    "EarthworkParameters",
    "Excavation",
    "Feature",
    "Pile",
    "excavate",
    "move_earth",
]
