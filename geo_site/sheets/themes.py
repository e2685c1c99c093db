"""Pages that are a map of the lot with one theme: site plan, water on the ground, earth and access.

In: a plan. Out: pages of a booklet. Method: the same frame for each, other layers and words.
Reference: none.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from shapely import get_coordinates
from shapely.ops import unary_union

from geo_site.crs import code_of, scale_factor
from geo_site.plan import Plan, Proposal
from geo_site.sheets.booklet import Booklet
from geo_site.sheets.labels import Label
from geo_site.sheets.paper import GREY, Frame, Lettering, Sheet
from geo_site.sheets.plots import draw_key
from geo_site.sheets.site_map import (
    SiteMap,
    draw_context,
    draw_layers,
    finish_site_map,
    open_site_map,
    spots_along,
)
from geo_site.units import (
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
_MARGIN_M = 3.0

_SITE_PLAN = (
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
    "blocked_ground",
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
        layers=_SITE_PLAN if plan.proposal else ("contours", "blocked_ground", *_SITE_PLAN[-3:]),
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
    finish_site_map(one, plan, [*theme.labels, *_line_labels(one, plan, theme), *names])
    side = Frame(frame.right_mm + 4.0, room.y_mm, _SIDE_MM, room.height_mm - 1.0)
    top_mm = draw_key(sheet, side, entries)
    small = Lettering(size_pt=7.5)
    for fact in theme.facts:
        top_mm = sheet.block(side.x_mm, top_mm - 1.6, side.width_mm, fact, small)
    _draw_reference(sheet, side, plan)


def _draw_reference(sheet: Sheet, side: Frame, plan: Plan) -> None:
    """Say, at the foot of the side, what positions and levels refer to."""
    site = plan.site
    factor = scale_factor(site.crs, *site.parcel.centroid.coords[0])
    told = (
        f"Positions: {site.crs.name}{_code(plan)}. Levels: "
        f"{site.vertical_datum or 'vertical datum not stated'}. Distances are on the grid; on the "
        f"ground they are longer by {1e6 * (1.0 / factor - 1.0):.0f} parts in a million, before "
        "height is counted."
    )
    sheet.block(
        side.x_mm, side.y_mm + 19.0, side.width_mm, told, Lettering(size_pt=6.5, colour=GREY)
    )


def _code(plan: Plan) -> str:
    code = code_of(plan.site.crs)
    return f" ({code})" if code else ""


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
    yield f"Lot: {format_area(plan.site.parcel.area, system)} by the map, not by a survey."
    if plan.proposal is None:
        yield "No place satisfies the rules; the list of rules says what each takes."
        return
    layout, placement = plan.proposal.layout, plan.proposal.placement
    sides = placement.arrangement
    yield (
        f"Basin {format_length(sides.length_m, system)} by "
        f"{format_length(sides.width_m, system)}; its pit is up to "
        f"{format_length(placement.greatest_depth_m, system)} deep."
    )
    yield (
        f"Stream {format_length(layout.length_m, system)} long with {len(layout.falls)} falls, "
        f"{format_length(layout.fall_m, system)} from the first sill to the last."
    )
    interval_m = plan.settings.terrain.contour_interval
    yield f"Contours every {interval_m:g} m of height, from the terrain data."


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
        f"Dug: {format_volume(moved.bank_m3, system)} in the bank (basin "
        f"{format_volume(moved.excavation_m3, system)}, stream "
        f"{format_volume(moved.stream_cut_m3, system)}, pipe trench "
        f"{format_volume(moved.trench_m3, system)})."
    )
    yield (
        f"Soil taken as {moved.soil}: it swells by {moved.swell_factor - 1.0:.0%} when dug, "
        f"{format_volume(moved.loose_m3, system)} loose."
    )
    yield (
        f"Hauled away: {format_volume(moved.haul_m3, system)} loose, {moved.haul_loads} loads. "
        f"Berm: {format_volume(moved.berm_m3, system)} compacted."
    )
    yield "No one enters an unprotected excavation; nothing stands at its edge."
