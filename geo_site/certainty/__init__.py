"""How sure the answer is: every number that rests on the terrain or on paint with its 95 % range.

Question
    Where may fall, pit, levels, catchments and distances really lie, how likely is the fall that is
    wanted, and what would one measurement on site help?
In
    The terrain with its error, places with their streams, the works, their clearances, settings.
Out
    Ranges in closed form where it holds, else from seeded simulations; needs with their
    covariances; the expected gain of a measurement.
Method
    The terrain's error is normal, of one size, and alike at near points
    (``geo_site.error_fields``). Drops, volumes of fixed ground and distances are weighted sums of
    errors, so their ranges are exact to first order. Rims, pit edges and catchments are found again
    on drawn grounds. Places are ranked anew above this floor, which does not know the ranking.
Reference
    Oksanen and Sarjakoski (2005), Computers & Geosciences 31(8) (abstract, a transcription); Raiffa
    and Schlaifer (1961) (from memory).
"""

from geo_site.certainty.closed import (
    Sum,
    covariance_of,
    drop_sum,
    error_model,
    fall_sum,
    pit_sum,
    range_of,
    sigma_of,
    unknown_range,
)
from geo_site.certainty.detail import hidden_detail
from geo_site.certainty.grounds import LEAST_RUNS
from geo_site.certainty.information import Decision, Reading, expected_gain
from geo_site.certainty.lines import (
    LineNeed,
    clearance_ranges,
    draw_shifts,
    line_covariance,
    where_along,
)
from geo_site.certainty.records import (
    Certainty,
    ClearanceRange,
    Draws,
    PlaceCertainty,
    Range,
    WorkRange,
    Worth,
)
from geo_site.certainty.settings import CertaintyParameters
from geo_site.certainty.simulating import (
    Scene,
    area_range,
    changed_range,
    simulate,
)
from geo_site.certainty.spots import Spot, lowest, spot_of
from geo_site.certainty.words import fall_told

__all__ = [
    "LEAST_RUNS",
    "Certainty",
    "CertaintyParameters",
    "ClearanceRange",
    "Decision",
    "Draws",
    "LineNeed",
    "PlaceCertainty",
    "Range",
    "Reading",
    "Scene",
    "Spot",
    "Sum",
    "WorkRange",
    "Worth",
    "area_range",
    "changed_range",
    "clearance_ranges",
    "covariance_of",
    "draw_shifts",
    "drop_sum",
    "error_model",
    "expected_gain",
    "fall_sum",
    "fall_told",
    "hidden_detail",
    "line_covariance",
    "lowest",
    "pit_sum",
    "range_of",
    "sigma_of",
    "simulate",
    "spot_of",
    "unknown_range",
    "where_along",
]
