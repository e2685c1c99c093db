"""What a plan holds."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

from shapely import union_all
from shapely.geometry import MultiPolygon

from geo_site.access import MachineRoute
from geo_site.certainty import Certainty
from geo_site.clearance import (
    AskedFor,
    BeforeAfter,
    Clearance,
    Exposure,
    LineFacts,
    Strike,
    TicketReport,
    Works,
)
from geo_site.constraints import Ground, Work
from geo_site.costs import CostSheet
from geo_site.drawn import Breach
from geo_site.earthwork import Earthwork, Feature
from geo_site.layout import Layout
from geo_site.locate_request import LocateRequest
from geo_site.plan.settings import Settings
from geo_site.probability import drop_sigma, interval_95
from geo_site.quantities import Quantity
from geo_site.ranking import Ranked
from geo_site.raster import as_multipolygon
from geo_site.site import Site
from geo_site.siting import BasinDesign, Placement
from geo_site.terrain import Catchment, Contour, FlowPath, Terrain
from geo_site.visit import Visit
from geo_site.water import StormReport, Water

__all__ = [
    "Alternative",
    "Change",
    "ClearanceRecord",
    "NoPlaceRow",
    "Plan",
    "Proposal",
    "Relaxation",
]


@dataclass(frozen=True, kw_only=True)
class NoPlaceRow:
    """One rule that takes ground, when there is no place.

    Attributes
    ----------
    rule : str
        The constraint's name, or what else failed.
    ground_m2 : float
        Of the parcel, what it takes; NaN where a rule takes no ground of its own.
    only_this_m2 : float
        Of that, what no other rule takes.
    """

    rule: str
    ground_m2: float
    only_this_m2: float


@dataclass(frozen=True, kw_only=True)
class Proposal:
    """The works at the best place, worked out in full.

    Attributes
    ----------
    best : Ranked
        The place.
    feature : Feature
        Basin, stream and the machine's way, as far as they move earth.
    water : Water
        Flow, levels, volumes, pipe.
    earthwork : Earthwork
        What is dug, piled and hauled.
    catchments : tuple of Catchment
        Storm run-on, of each work.
    overflow : FlowPath
        Where water goes that leaves the basin.
    works : Works
        What the clearances were judged on.
    routes : tuple of (str, MachineRoute)
        What each way of the machine leads to, and the way; none where unknown or not found.
    working_reach_m : float
        How far from its way the machine works.
    storms : StormReport or None
        Storms on stream and basin, overflow and swale; None where they were not judged.
    """

    best: Ranked
    feature: Feature
    water: Water
    earthwork: Earthwork
    catchments: tuple[Catchment, ...]
    overflow: FlowPath
    works: Works
    routes: tuple[tuple[str, MachineRoute], ...]
    working_reach_m: float
    storms: StormReport | None = None

    @property
    def reaches_pile(self) -> bool:
        """Whether the machine gets to the pile; True where there is none."""
        pile = self.earthwork.pile
        if pile is None or any(leads_to == "spoil pile" for leads_to, _ in self.routes):
            return True
        ways = [route.line for _, route in self.routes]
        return any(way.distance(pile.geometry) <= self.working_reach_m for way in ways)

    def digging(self, fence_trench_m: float) -> MultiPolygon:
        """Give the union of all digging: pit, stream, trenches of pipe and fence, and the swale."""
        works, fence = self.works, self.earthwork.silt_fence
        dug = [works.basin_excavation, works.stream, works.pipe]
        if fence is not None:
            dug.append(fence.buffer(0.5 * fence_trench_m, cap_style="flat"))
        if self.storms is not None:
            dug.append(self.storms.swale_dig)
        return as_multipolygon(union_all([area for area in dug if area is not None]))

    @property
    def placement(self) -> Placement:
        """The basin's place."""
        return self.best.candidate.placement

    @property
    def layout(self) -> Layout:
        """The stream."""
        return self.best.candidate.layout


@dataclass(frozen=True, kw_only=True)
class ClearanceRecord:
    """What is known of ticket and lines, beside the clearances.

    Attributes
    ----------
    ticket : TicketReport
        Its days, its members, what is missing.
    lines : tuple of LineFacts
        Every line with what is known and what is assumed.
    strikes : tuple of Strike
        Chances that digging meets a line.
    asked_for : tuple of AskedFor
        Private things that a lot like this usually has and that nobody marked.
    exposures : tuple of Exposure
        Points at which lines were laid bare.
    before_after : tuple of BeforeAfter
        What that changed.
    """

    ticket: TicketReport
    lines: tuple[LineFacts, ...]
    strikes: tuple[Strike, ...]
    asked_for: tuple[AskedFor, ...]
    exposures: tuple[Exposure, ...]
    before_after: tuple[BeforeAfter, ...]


@dataclass(frozen=True, kw_only=True)
class Alternative:
    """One plan among others.

    Attributes
    ----------
    number : int
        1 for the plan that is proposed.
    rank : int
        Of its place in the ranking.
    values : mapping of str to float
        By respect; what is not known for it is left out.
    best_at : tuple of str
        Respects in which no other is better and some other is worse.
    dominated_by : tuple of int
        Plans that are nowhere worse and somewhere better.
    sentence : str
        The same for a reader.
    """

    number: int
    rank: int
    values: Mapping[str, float]
    best_at: tuple[str, ...]
    dominated_by: tuple[int, ...]
    sentence: str


@dataclass(frozen=True, kw_only=True)
class Change:
    """A figure before and after an edit.

    Attributes
    ----------
    name : str
        As the plan's figures are named.
    words, unit : str
        For a reader.
    before, after : float
        NaN where one of both does not have it.
    difference : float
        After less before; NaN where one is missing.
    """

    name: str
    words: str
    unit: str
    before: float
    after: float
    difference: float


@dataclass(frozen=True, kw_only=True)
class Relaxation:
    """A change of rules that would open a place, or a rule that stands against one.

    Attributes
    ----------
    keys : tuple of str
        Settings, one or two.
    from_values, to_values : tuple of float
        As they are, and as they would have to be, SI; NaN where nothing is offered.
    units : tuple of str
        Of the values.
    share : float
        Sum of the changes, each over the value as it is; NaN where nothing is offered.
    may_be_discussed : bool
        False for law, for how well lines are known and for health: these are never offered.
    sentence : str
        For a reader.
    """

    keys: tuple[str, ...]
    from_values: tuple[float, ...]
    to_values: tuple[float, ...]
    units: tuple[str, ...]
    share: float
    may_be_discussed: bool
    sentence: str


@dataclass(frozen=True, kw_only=True)
class Plan:
    """Everything that was found out about a site.

    Attributes
    ----------
    site : Site
        What was read.
    settings : Settings
        What was used.
    status : {"proposed", "no_place", "assessed"}
        Whether there is a proposal.
    terrain : Terrain
        Ground and drainage.
    contours : tuple of Contour
        Of the lot and a little beyond.
    grounds : mapping of str to Ground
        Free and blocked ground, by kind of work.
    design : BasinDesign
        The basin's make-up.
    candidates : tuple of Ranked
        Best first; empty when there is no place.
    proposal : Proposal or None
        The best, in full.
    clearances : tuple of Clearance
        Every work against everything that asks for a distance.
    record : ClearanceRecord
        Ticket, lines, chances, what was exposed.
    quantities : tuple of Quantity
        What is moved and placed.
    costs : CostSheet or None
        At the user's prices; None without any.
    no_place : tuple of NoPlaceRow
        What takes the ground; empty when there is a place.
    warnings : tuple of str
        What a reader must know, a sentence each.
    visit : tuple of Visit
        What to check on site.
    locate_request : LocateRequest or None
        The white-line outline of all digging; None where nothing is dug.
    alternatives : tuple of Plan
        Whole plans of the next places, where they were asked for.
    compared : tuple of Alternative
        This plan and its alternatives side by side; empty without alternatives.
    relaxations : tuple of Relaxation
        Where there is no place: the smallest changes of rules that would open one.
    breaches : tuple of Breach
        Rules that drawn works break, beside the clearances.
    changes : tuple of Change
        Figures before and after an edit; empty where there is no earlier plan.
    sources : mapping of str to str
        Of each work whether it was ``drawn`` or ``worked out``; empty without a proposal.
    certainty : Certainty or None
        How sure the answer is; None without a proposal or where the settings leave it out.
    """

    site: Site
    settings: Settings
    status: Literal["proposed", "no_place", "assessed"]
    terrain: Terrain
    contours: tuple[Contour, ...]
    grounds: Mapping[Work, Ground]
    design: BasinDesign
    candidates: tuple[Ranked, ...]
    proposal: Proposal | None
    clearances: tuple[Clearance, ...]
    record: ClearanceRecord
    quantities: tuple[Quantity, ...]
    costs: CostSheet | None
    no_place: tuple[NoPlaceRow, ...]
    warnings: tuple[str, ...]
    visit: tuple[Visit, ...]
    locate_request: LocateRequest | None
    alternatives: tuple[Plan, ...] = ()
    compared: tuple[Alternative, ...] = ()
    relaxations: tuple[Relaxation, ...] = ()
    breaches: tuple[Breach, ...] = ()
    changes: tuple[Change, ...] = ()
    sources: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    certainty: Certainty | None = None

    @property
    def conflicts(self) -> tuple[Clearance, ...]:
        """The clearances that are not met."""
        return tuple(row for row in self.clearances if row.verdict == "not_met")

    @property
    def breaks_rules(self) -> bool:
        """Whether a distance is not met, drawn works break a rule, or the flow is not carried."""
        refused = self.proposal is not None and self.proposal.water.is_refused
        return bool(self.conflicts or self.breaches) or refused

    @property
    def fall_range_m(self) -> tuple[float, float]:
        """Where the fall lies at 95 % for the terrain's own error, m; NaN where that is unknown."""
        if self.proposal is None or math.isnan(self.site.rmse_z_m):
            return math.nan, math.nan
        if self.certainty is not None:
            return self.certainty.fall.low, self.certainty.fall.high
        likely = interval_95(self.proposal.layout.fall_m, drop_sigma(self.site.rmse_z_m))
        return likely.low, likely.high

    @property
    def dig_area(self) -> MultiPolygon:
        """The union of all digging: pit, stream, pipe trench and fence."""
        if self.proposal is None:
            return MultiPolygon()
        return self.proposal.digging(self.settings.earthwork.fence_trench_width)
