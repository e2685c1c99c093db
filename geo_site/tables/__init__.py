"""The door to text: one JSON document, two lists, and a few lines for a terminal.

Question
    What does a plan say, in numbers that a script or a spreadsheet can read?
In
    A :class:`geo_site.plan.Plan`.
Out
    ``plan.json``, ``clearance.csv``, ``quantities.csv``, ``set_out.csv``, summary lines.
Method
    The plan's own numbers are written as they are, SI, unknown as null or an empty cell.
Reference
    RFC 8259 (JSON), RFC 4180 (CSV).
"""

from geo_site.tables.changes import drawn_lines, relaxed_lines, write_changes
from geo_site.tables.compared import compared_lines, write_compared
from geo_site.tables.costs import write_costs
from geo_site.tables.document import plan_document, write_plan_json
from geo_site.tables.explained import explanation_document, explanation_lines
from geo_site.tables.lists import write_clearances, write_quantities
from geo_site.tables.stakes import write_set_out
from geo_site.tables.summary import summary_lines
from geo_site.tables.sweep import sweep_lines, write_sweep_table

__all__ = [
    "compared_lines",
    "drawn_lines",
    "explanation_document",
    "explanation_lines",
    "plan_document",
    "relaxed_lines",
    "summary_lines",
    "sweep_lines",
    "write_changes",
    "write_clearances",
    "write_compared",
    "write_costs",
    "write_plan_json",
    "write_quantities",
    "write_set_out",
    "write_sweep_table",
]
