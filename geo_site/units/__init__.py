"""Exact unit conversions, the reading of "2.75 ft", and the writing of quantities in reports.

Question
    What is a number that a person wrote, in SI, and how does a report say an SI number?
In
    Numbers (already SI) or text with a unit, from a settings file or an attribute table.
Out
    Floats in SI (angles in degrees, slopes as rise/run), or text for a document.
Method
    One table of exact rational factors for each dimension (`factors`), one grammar
    (`parsing`), one table of how each quantity is shown (`formats`), one rewriting of metric
    sentences (`rewriting`). Used at the doors only.
Reference
    NIST SP 811 (2008) and NIST Handbook 44, appendix C.
"""

from geo_site.units.factors import (
    ACRE_M2,
    CFS_M3S,
    CUBIC_FOOT_M3,
    CUBIC_YARD_M3,
    FOOT_M,
    GALLON_M3,
    GPH_M3S,
    GPM_M3S,
    HORSEPOWER_W,
    INCH_M,
    POUND_KG,
    POUND_PER_CUBIC_FOOT_KGM3,
    SHORT_TON_KG,
    SQUARE_FOOT_M2,
    STANDARD_GRAVITY_MS2,
    US_SURVEY_FOOT_M,
    VERTICAL_UNITS,
    Dimension,
    exact_factor,
    unit_factor,
    unit_names,
)
from geo_site.units.formats import (
    System,
    counted,
    format_area,
    format_flow,
    format_length,
    format_liquid,
    format_mass,
    format_velocity,
    format_volume,
    unit_steps,
)
from geo_site.units.parsing import (
    Quantity,
    parse_angle,
    parse_area,
    parse_batter,
    parse_flow,
    parse_length,
    parse_quantity,
    parse_slope,
    parse_volume,
)
from geo_site.units.rewriting import in_report

__all__ = [
    "ACRE_M2",
    "CFS_M3S",
    "CUBIC_FOOT_M3",
    "CUBIC_YARD_M3",
    "FOOT_M",
    "GALLON_M3",
    "GPH_M3S",
    "GPM_M3S",
    "HORSEPOWER_W",
    "INCH_M",
    "POUND_KG",
    "POUND_PER_CUBIC_FOOT_KGM3",
    "SHORT_TON_KG",
    "SQUARE_FOOT_M2",
    "STANDARD_GRAVITY_MS2",
    "US_SURVEY_FOOT_M",
    "VERTICAL_UNITS",
    "Dimension",
    "Quantity",
    "System",
    "counted",
    "exact_factor",
    "format_area",
    "format_flow",
    "format_length",
    "format_liquid",
    "format_mass",
    "format_velocity",
    "format_volume",
    "in_report",
    "parse_angle",
    "parse_area",
    "parse_batter",
    "parse_flow",
    "parse_length",
    "parse_quantity",
    "parse_slope",
    "parse_volume",
    "unit_factor",
    "unit_names",
    "unit_steps",
]
