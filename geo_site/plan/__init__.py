"""Settings, the plan, and the method that makes it."""

from geo_site.plan.method import propose
from geo_site.plan.results import ClearanceRecord, NoPlaceRow, Plan, Proposal
from geo_site.plan.settings import Settings

__all__ = ["ClearanceRecord", "NoPlaceRow", "Plan", "Proposal", "Settings", "propose"]
