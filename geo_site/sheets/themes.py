"""Pages that are a map of the lot with one theme: site plan, water on the ground, earth and access.

In: a plan. Out: pages of a booklet. Method: the same frame for each, other layers and words.
Reference: none.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from shapely import get_coordinates
from shapely.ops import unary_union

from geo_site.plan import Plan, Proposal
from geo_site.sheets.booklet import Booklet
from geo_site.sheets.flow import Flow
from geo_site.sheets.labels import Label
from geo_site.sheets.lettering import line_height_mm, wrap_words
from geo_site.sheets.paper import GREY, Frame, Lettering, Pen, Sheet
from geo_site.sheets.plots import draw_key
from geo_site.sheets.site_map import (
    SiteMap,
    context_key,
    draw_context,
    draw_layers,
    finish_site_map,
    open_site_map,
    spots_along,
)
from geo_site.sheets.title_facts import both, grid_and_ground, position_facts
from geo_site.units import (
    FOOT_M,
    System,
    format_area,
    format_flow,
    format_length,
    format_liquid,
    format_volume,
)
from geo_site.water import StormReport

__all__ = ["add_site_plan", "add_themes"]

_SIDE_MM = 62.0
_MARGIN_M = 1.5
_SETBACK = Pen(stroke="#202020", width_mm=0.2, dash_mm=(0.8, 0.8))

_SITE_PLAN = (
    "blocked_ground",
    "contours",
    "hand_dig_ground",
    "machine_route",
    "spoil_pile",
    "silt_fence",
    "basin_excavation",
    "basin",
    "stream_bed",
    "stream_pools",
    "pipe_run",
    "utility_lines",
    "parcel",
    "stream_falls",
)
_DRAINAGE = (
    "contours",
    "catchment",
    "depressions",
    "flow_paths",
    "basin",
    "stream_bed",
    "overflow_path",
    "swale",
    "parcel",
)
_EARTH = (
    "contours",
    "machine_route",
    "spoil_pile",
    "basin_excavation",
    "dig_area",
    "silt_fence",
    "utility_lines",
    "parcel",
)


@dataclass(frozen=True, kw_only=True)
class _Theme:
    """What one map page shows.

    Attributes
    ----------
    page : str
        Its title.
    layers : tuple of str
        The lowest first.
    facts : tuple of str
        Paragraphs beside the map.
    labels : tuple of Label
        Words on it, the most important first.
    """

    page: str
    layers: Sequence[str]
    facts: Sequence[str]
    labels: Sequence[Label]


def add_site_plan(book: Booklet, plan: Plan) -> None:
    """Add the site plan.

    Parameters
    ----------
    book : Booklet
        To add to.
    plan : Plan
        What is shown.
    """
    theme = _Theme(
        page="site plan: what is built, what it keeps off, the marked lines",
        layers=_SITE_PLAN if plan.proposal else ("blocked_ground", "contours", *_SITE_PLAN[-3:]),
        facts=tuple(_site_facts(plan)),
        labels=tuple(_work_labels(plan)),
    )
    _add_map(book, plan, theme, plan.site.parcel.bounds)
    if plan.proposal is not None:
        near = replace(theme, page="the works, larger", labels=tuple(_fall_labels(plan)))
        _add_map(book, plan, near, plan.dig_area.bounds)


def add_themes(book: Booklet, plan: Plan) -> None:
    """Add the pages on storm water and on earth and access.

    Parameters
    ----------
    book : Booklet
        To add to.
    plan : Plan
        What is shown; nothing is added where there is no place.
    """
    if plan.proposal is None:
        return
    drainage = _Theme(
        page="storm water: what runs onto the works, where water stands, where the basin spills",
        layers=_DRAINAGE,
        facts=tuple(_drainage_facts(plan, plan.proposal)),
        labels=(),
    )
    _add_map(book, plan, drainage, plan.site.parcel.bounds)
    earth = _Theme(
        page="earth and access: what is dug, where it is heaped, how the machine gets in",
        layers=_EARTH,
        facts=tuple(_earth_facts(plan, plan.proposal)),
        labels=tuple(_earth_labels(plan)),
    )
    _add_map(book, plan, earth, plan.site.parcel.bounds)


def _add_map(
    book: Booklet, plan: Plan, theme: _Theme, bounds: tuple[float, float, float, float]
) -> None:
    sheet, room = book.add(theme.page)
    frame = Frame(room.x_mm, room.y_mm, room.width_mm - _SIDE_MM - 4.0, room.height_mm - 1.0)
    west, south, east, north = bounds
    wide = (west - _MARGIN_M, south - _MARGIN_M, east + _MARGIN_M, north + _MARGIN_M)
    one = open_site_map(sheet, frame, plan, wide)
    names = list(draw_context(one, plan))
    entries = draw_layers(one, plan, theme.layers)
    if "blocked_ground" in theme.layers:
        entries += list(_setback(one, plan))
    entries += context_key(plan)
    finish_site_map(one, plan, [*theme.labels, *_line_labels(one, plan, theme), *names])
    side = Frame(frame.right_mm + 4.0, room.y_mm, _SIDE_MM, room.height_mm - 1.0)
    low_mm = _draw_reference(sheet, side, plan) + 2.0
    top_mm = draw_key(sheet, side, entries)
    small = Lettering(size_pt=7.5)
    told = [*theme.facts]
    while told and top_mm - _height(told[0], side.width_mm, small) > low_mm:
        top_mm = sheet.block(side.x_mm, top_mm - 1.6, side.width_mm, told.pop(0), small)
    if told:
        flow = Flow(lambda: book.add(f"{theme.page}, continued"))
        for fact in told:
            flow.paragraph(fact, small)
            flow.skip(1.6)


def _height(words: str, room_mm: float, lettering: Lettering) -> float:
    lines = wrap_words(words, room_mm, lettering.size_pt)
    return 1.6 + len(lines) * line_height_mm(lettering.size_pt)


def _draw_reference(sheet: Sheet, side: Frame, plan: Plan) -> float:
    """Say, at the foot of the side, what positions and levels refer to; give its upper edge."""
    told = (
        f"Positions: {position_facts(plan)}. {grid_and_ground(plan)} To scale when printed at full "
        "size; measure with the bar."
    )
    grey = Lettering(size_pt=6.5, colour=GREY)
    lines = wrap_words(told, side.width_mm, grey.size_pt)
    high_mm = len(lines) * line_height_mm(grey.size_pt)
    sheet.block(side.x_mm, side.y_mm + high_mm, side.width_mm, told, grey)
    return side.y_mm + high_mm


def _setback(one: SiteMap, plan: Plan) -> Iterator[tuple[str, Pen, str]]:
    """Draw how far the pit keeps from the lot's lines, and give its legend entry."""
    pieces = plan.grounds["basin"].pieces
    kept_m = max((p.distance_m for p in pieces if p.reason == "boundary"), default=0.0)
    if kept_m > 0.0:
        one.plot.geometry(plan.site.parcel.buffer(-kept_m).boundary, _SETBACK)
        yield "line", _SETBACK, f"setback {format_length(kept_m, plan.site.report_units)}"


def _line_labels(one: SiteMap, plan: Plan, theme: _Theme) -> Iterator[Label]:
    if "utility_lines" not in theme.layers:
        return
    lines = plan.site.utilities
    for name, line in zip(lines["id"], lines.geometry, strict=True):
        for x, y in spots_along(line, one):
            yield Label(x=x, y=y, words=str(name), bold=True)
            break


def _work_labels(plan: Plan) -> Iterator[Label]:
    if plan.proposal is None:
        return
    basin = plan.proposal.placement.footprint.centroid
    yield Label(x=basin.x, y=basin.y, words="basin", bold=True)
    lip_x, lip_y = get_coordinates(plan.proposal.layout.alignment)[0]
    yield Label(x=float(lip_x), y=float(lip_y), words="spillway", bold=True)


def _fall_labels(plan: Plan) -> Iterator[Label]:
    yield from _work_labels(plan)
    if plan.proposal is None:
        return
    system, layout = plan.site.report_units, plan.proposal.layout
    for fall in layout.falls:
        told = f"fall {fall.sequence}: {format_length(fall.height_m, system)}"
        yield Label(x=fall.x, y=fall.y, words=told)
    pump_x, pump_y = get_coordinates(layout.pipe)[0]
    yield Label(x=float(pump_x), y=float(pump_y), words="pump")


def _earth_labels(plan: Plan) -> Iterator[Label]:
    if plan.proposal is None or plan.proposal.earthwork.pile is None:
        return
    pile = plan.proposal.earthwork.pile
    spot = unary_union(pile.geometry).representative_point()
    told = f"pile {format_volume(pile.volume_m3, plan.site.report_units)} loose"
    yield Label(x=spot.x, y=spot.y, words=told, bold=True)


def _site_facts(plan: Plan) -> Iterator[str]:
    system = plan.site.report_units
    yield f"Lot: {both(format_area, plan.site.parcel.area, system)} by the map, not by a survey."
    if plan.proposal is None:
        yield "No place satisfies the rules; the list of rules says what each takes."
        return
    layout, placement = plan.proposal.layout, plan.proposal.placement
    sides = placement.arrangement
    yield (
        f"Basin {both(format_length, sides.length_m, system)} by "
        f"{both(format_length, sides.width_m, system)}; its pit is up to "
        f"{both(format_length, placement.greatest_depth_m, system)} deep."
    )
    yield (
        f"Stream {both(format_length, layout.length_m, system)} long with "
        f"{len(layout.falls)} falls, {both(format_length, layout.fall_m, system)} "
        "from the first sill to the last."
    )
    interval = both(_in_feet, plan.settings.terrain.contour_interval, system)
    yield f"Contours every {interval} of height, from the terrain data."


def _in_feet(length_m: float, system: System) -> str:
    """Write a step of levels: never in inches."""
    return f"{length_m / FOOT_M:.2f} ft" if system == "us" else f"{length_m:.2f} m"


def _drainage_facts(plan: Plan, proposal: Proposal) -> Iterator[str]:
    system: System = plan.site.report_units
    for area in proposal.catchments:
        told = f"{format_area(area.area_m2, system)} drain onto the {area.work}"
        if area.outside_parcel_m2 > 0.0:
            told += f", {format_area(area.outside_parcel_m2, system)} of it from beyond the lot"
        if area.reaches_terrain_edge:
            told += "; this reaches the edge of the data, so there may be more"
        yield told + "."
    overflow = proposal.overflow
    yield (
        "When the basin overflows, water follows the marked path for "
        f"{format_length(overflow.line.length, system)}, until a hollow or the data's end."
    )
    if proposal.storms is not None:
        yield from _storm_facts(proposal.storms, system)
    yield "Do not send water onto a neighbour."


def _storm_facts(report: StormReport, system: System) -> Iterator[str]:
    """What each storm brings onto basin and stream together."""
    if not report.storms:
        yield "No rainfall table was given: of storms only areas are known."
        return
    yield f"Rain: {report.rainfall}; 24 hours, onto basin and stream:"
    together = report.storms[-1].runs_onto
    for storm in report.storms:
        if storm.runs_onto == together:
            yield (
                f"{storm.return_years:g} years: {format_liquid(storm.volume_m3, system)}, at most "
                f"{format_flow(storm.peak_m3s, system)}; {format_liquid(storm.spilled_m3, system)} "
                "spill."
            )


def _earth_facts(plan: Plan, proposal: Proposal) -> Iterator[str]:
    system, moved = plan.site.report_units, proposal.earthwork
    yield (
        f"Dug: {both(format_volume, moved.bank_m3, system)} in the bank (basin "
        f"{format_volume(moved.excavation_m3, system)}, stream "
        f"{format_volume(moved.stream_cut_m3, system)}, pipe trench "
        f"{format_volume(moved.trench_m3, system)})."
    )
    yield (
        f"Soil taken as {moved.soil}: it swells by {moved.swell_factor - 1.0:.0%} when dug, "
        f"{format_volume(moved.loose_m3, system)} loose."
    )
    yield (
        f"Hauled away: {both(format_volume, moved.haul_m3, system)} loose, "
        f"{moved.haul_loads} loads. "
        f"Berm: {format_volume(moved.berm_m3, system)} compacted."
    )
    yield "No one enters an unprotected excavation; nothing stands at its edge."
