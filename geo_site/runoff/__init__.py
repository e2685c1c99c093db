"""Runoff of small catchments: how much of the rain runs off, how soon, and how fast.

Question
    How much water comes down from this ground in this storm, and at what greatest flow?
In
    Depths in metres, areas in square metres, times in seconds, slopes as rise/run.
Out
    Depths of runoff in metres, times in seconds, flows in m3/s.
Method
    Depth by the SCS curve number. Greatest flow by the rational formula (a short, even rain) or
    by the graphical peak discharge of a 24-hour storm. Time of concentration leg by leg: sheet
    flow, shallow concentrated flow, channel. The formulas were made in US units; they stand
    here in SI with exactly converted coefficients. Runoff is weighted, not curve numbers: a
    weighted number hides what a roof sheds onto a lawn.
Reference
    USDA SCS (1986), Urban hydrology for small watersheds, TR-55; NRCS National Engineering
    Handbook, part 630; FHWA HEC-22, Urban drainage design manual; Kirpich (1940).
"""

from geo_site.runoff.curve_numbers import (
    COVERS,
    LEAST_CURVE_NUMBER,
    LEAST_RUNOFF_M,
    PAVED_CURVE_NUMBER,
    Cover,
    SoilGroup,
    composite_curve_number,
    initial_abstraction,
    potential_retention,
    retention_at_5_percent,
    runoff_depth,
    unconnected_curve_number,
    weighted_runoff,
)
from geo_site.runoff.peaks import (
    RAINFALL_TYPES,
    frequency_factor,
    graphical_peak,
    pond_factor,
    rational_peak,
    unit_peak,
    weighted_coefficient,
)
from geo_site.runoff.travel import (
    LEAST_CONCENTRATION_S,
    LONGEST_SHEET_M,
    kirpich_time,
    shallow_velocity,
    sheet_time,
)

__all__ = [
    "COVERS",
    "LEAST_CONCENTRATION_S",
    "LEAST_CURVE_NUMBER",
    "LEAST_RUNOFF_M",
    "LONGEST_SHEET_M",
    "PAVED_CURVE_NUMBER",
    "RAINFALL_TYPES",
    "Cover",
    "SoilGroup",
    "composite_curve_number",
    "frequency_factor",
    "graphical_peak",
    "initial_abstraction",
    "kirpich_time",
    "pond_factor",
    "potential_retention",
    "rational_peak",
    "retention_at_5_percent",
    "runoff_depth",
    "shallow_velocity",
    "sheet_time",
    "unconnected_curve_number",
    "unit_peak",
    "weighted_coefficient",
    "weighted_runoff",
]
