"""The table of constraints, and the rows that they ask of a work."""

from __future__ import annotations

from geo_site.constraints.areas import ConcentratedFlow, KeepOff, NoTerrain, OutsideParcel, Steep
from geo_site.constraints.objects import (
    Boundary,
    Easement,
    Fixture,
    Overhead,
    Roots,
    Septic,
    Structure,
    WaterBody,
)
from geo_site.constraints.results import Requirement, Work
from geo_site.constraints.rules import Constraint, Question
from geo_site.constraints.separations import BoomNearWire, ElectricalNearWater, SewerNearWater
from geo_site.constraints.settings import ConstraintParameters
from geo_site.constraints.utilities import BuriedLine
from geo_site.site import Site

__all__ = ["CONSTRAINTS", "requirements"]

CONSTRAINTS: tuple[Constraint, ...] = (
    OutsideParcel(),
    Boundary(),
    BuriedLine(),
    Fixture(),
    Structure(),
    Roots(),
    Easement(),
    Septic(),
    WaterBody(),
    Overhead(),
    BoomNearWire(),
    ElectricalNearWater(),
    SewerNearWater(),
    KeepOff(),
    Steep(),
    ConcentratedFlow(),
    NoTerrain(),
)
"""Every reason why ground is off limits, in the order in which layers list them."""


def requirements(
    site: Site, parameters: ConstraintParameters, work: Work, excavation_depth_m: float
) -> tuple[Requirement, ...]:
    """List what every object asks of one kind of work.

    Parameters
    ----------
    site : Site
        The objects.
    parameters : ConstraintParameters
        The distances.
    work : Work
        The work that is asked.
    excavation_depth_m : float
        Greatest depth of the basin's excavation, m; structures ask more the deeper it is.

    Returns
    -------
    tuple of Requirement
        In the order of ``CONSTRAINTS``, within one in the order of the user's file.
    """
    question = Question(
        site=site, parameters=parameters, work=work, excavation_depth_m=excavation_depth_m
    )
    return tuple(
        row
        for constraint in CONSTRAINTS
        if work in constraint.works
        for row in constraint.rows(question)
    )
