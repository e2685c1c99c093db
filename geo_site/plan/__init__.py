"""Settings, the plan, and the method that makes it."""

from geo_site.plan.assessing import assess
from geo_site.plan.comparing import RESPECTS, Respect, compare_values
from geo_site.plan.explaining import Explanation, explain
from geo_site.plan.figures import figures_of, words_of
from geo_site.plan.keeping import Kept
from geo_site.plan.method import propose
from geo_site.plan.results import Alternative, Change, ClearanceRecord, NoPlaceRow, Plan, Proposal
from geo_site.plan.settings import Settings
from geo_site.plan.sweeping import MOST_RUNS, Axis, Sweep, SweepRun, sweep
from geo_site.plan.told_changes import ToldChange, told_changes
from geo_site.plan.told_figures import graph_unit, told_figure

__all__ = [
    "MOST_RUNS",
    "RESPECTS",
    "Alternative",
    "Axis",
    "Change",
    "ClearanceRecord",
    "Explanation",
    "Kept",
    "NoPlaceRow",
    "Plan",
    "Proposal",
    "Respect",
    "Settings",
    "Sweep",
    "SweepRun",
    "ToldChange",
    "assess",
    "compare_values",
    "explain",
    "figures_of",
    "graph_unit",
    "propose",
    "sweep",
    "told_changes",
    "told_figure",
    "words_of",
]
