"""The door to paper: pictures and PDF pages of a plan.

Question
    What does the plan look like on a page?
In
    A :class:`geo_site.plan.Plan`.
Out
    A PNG, PDF documents.
Method
    Pages are drawn in millimetres; maps show the rows and looks of the output layers to an exact
    scale. Nothing is computed here but where things stand on the page.
Reference
    ISO 32000 (PDF), written by reportlab; pictures (`sheets.picture`) by matplotlib, which is slow
    to load and is loaded by nobody else.
"""

from geo_site.sheets.plan_book import write_plan_pdf
from geo_site.sheets.record import write_clearance_pdf
from geo_site.sheets.sweep_page import write_sweep_pdf

__all__ = ["write_clearance_pdf", "write_plan_pdf", "write_sweep_pdf"]
