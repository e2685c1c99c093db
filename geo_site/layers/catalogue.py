"""The catalogue: every layer of a plan, in the order in which they are written.

To add a layer: one entry in :data:`LAYERS`, its look in ``looks`` and the function that makes its
rows. Writer, styles, value lists and ``geo-site layers`` follow from it.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from geo_site.layers import ground_rows, set_out_rows, work_rows
from geo_site.layers.fields import ALTERNATIVE, FieldType, GeometryType, Layer, LayerField, Rows
from geo_site.layers.looks import LOOKS
from geo_site.site import INPUT_LAYERS, UTILITY_KINDS

__all__ = ["LAYERS", "catalogue"]

_WORK_NAMES = (
    "basin",
    "basin_excavation",
    "stream",
    "pipe",
    "spoil_pile",
    "machine_route",
    "silt_fence",
    "swale",
)
_VERDICTS = ("met", "hand_dig", "not_met", "unknown")
_KINDS = ("pool", "riffle", "fall")
_QUALITY_LEVELS = next(
    field.choices for field in INPUT_LAYERS["utilities"].fields if field.name == "quality_level"
)


def _text(name: str, meaning: str, choices: tuple[str, ...] = ()) -> LayerField:
    return LayerField(name, "text", "-", meaning, choices)


def _real(name: str, unit: str, meaning: str) -> LayerField:
    return LayerField(name, "real", unit, meaning)


def _other(name: str, kind: FieldType, meaning: str) -> LayerField:
    return LayerField(name, kind, "-", meaning)


def _layer(
    name: str, title: str, geometry: GeometryType, rows: Rows, meaning: str, *fields: LayerField
) -> Layer:
    if geometry.endswith("Z"):
        meaning += " Z in metres, whatever the unit of X and Y."
    return Layer(name, title, geometry, meaning, fields, LOOKS[name], rows)


_AREA = _real("area_m2", "m2", "horizontal area")
_LENGTH = _real("length_m", "m", "horizontal length")
_SEQUENCE = _other("sequence", "integer", "1 for the first below the lip")
_WATER_LEVEL = _real("water_level_m", "m", "level of the running water")
_ACCUMULATION = _real("accumulation_m2", "m2", "ground that drains through its lower end")
_BASIN = (
    _real("rotation_deg", "degrees", "long side, counter-clockwise from east, 0 to 180"),
    _real("length_m", "m", "long side of the outline"),
    _real("width_m", "m", "short side of the outline"),
    _real("depth_m", "m", "depth below the rim (basin), greatest depth of the pit (excavation)"),
    _real("water_level_m", "m", "level of the full basin"),
    _real("stored_m3", "m3", "water in the void units when full"),
    _real("usable_m3", "m3", "of that, what the pump can take"),
    _real("rim_level_m", "m", "lowest ground on the outline of the void units"),
    _real("floor_level_m", "m", "level of the pit floor"),
)

_GIVEN = (
    _layer(
        "parcel", "Parcel", "MultiPolygon", ground_rows.parcel,
        "The lot as mapped; not a boundary survey.",
        _AREA,
        _text("parcel_id", "its id in the user's file"),
        _real("accuracy_m", "m", "how well its lines are known; empty: unknown"),
    ),
    _layer(
        "blocked_ground", "Blocked ground", "MultiPolygon", ground_rows.blocked_ground,
        "Where the basin's excavation may not go under the settings used; pieces overlap.",
        _text("reason", "which constraint"),
        _text("source_id", "id of the object in the user's file; empty: found in the terrain"),
        _real("distance_m", "m", "kept from the object's outer edge"),
    ),
    _layer(
        "hand_dig_ground", "Hand-dig ground", "MultiPolygon", ground_rows.hand_dig_ground,
        "Ground beside marked lines that was opened to digging by hand only.",
        _text("utility_id", "id of the line in the user's file"),
        _text("kind", "what the line carries", UTILITY_KINDS),
        _real("half_width_m", "m", "from the line as drawn to the strip's outer limit"),
    ),
    _layer(
        "open_ground", "Open ground", "MultiPolygon", ground_rows.open_ground,
        "Ground of the lot that the basin's excavation may take.",
        _AREA,
    ),
    _layer(
        "utility_lines", "Buried lines", "MultiLineString", ground_rows.utility_lines,
        "Marked and mapped buried lines as given; marks are approximate.",
        _text("utility_id", "id in the user's file"),
        _text("kind", "what the line carries", UTILITY_KINDS),
        _text("quality_level", "how well its position is known", _QUALITY_LEVELS),
        _real("diameter_m", "m", "outside diameter; empty: not given"),
        _real("uncertainty_m", "m", "position uncertainty counted on"),
        _real("required_m", "m", "distance asked of the excavation: rule plus uncertainty"),
        _text("side", "side of the meter", ("public", "private")),
        _text("member", "the one-call member that answers for it"),
        _text("marked_on", "day of the marks, year-month-day"),
        _text("status", "whether it is in use; an abandoned line is treated as live",
              ("live", "abandoned")),
        _text("note", "what was assumed"),
    ),
)  # fmt: skip

_BASINS = (
    _layer(
        "basin_candidates", "Places for the basin", "Polygon", work_rows.basin_candidates,
        "Outlines of the void units at every place shown, best first.",
        _other("rank", "integer", "1 is best"),
        _other("score", "real", "weighted mean of the marks, 0 to 1"),
        _real("available_fall_m", "m", "fall that the ground alone gives, lip to rim"),
        _real("run_on_m2", "m2", "ground that drains onto pit and stream"),
        _real("excavation_m3", "m3", "the pit, bank volume"),
        _real("hand_dig_m2", "m2", "excavation inside hand-dig ground"),
        _real("clearance_m", "m", "excavation to the nearest line's outer edge; empty: no line"),
        _text("reason", "what speaks for it and against it"),
        _real("margin_m", "m", "least distance beyond what a line asks; empty: no line"),
        _real("stream_fall_m", "m", "fall of its stream, first sill to last"),
        _real("stream_length_m", "m", "horizontal length of its stream"),
        _text("route_state", "the machine's way; unknown: no access point given",
              ("found", "none", "unknown")),
        _real("rotation_deg", "degrees", "long side, counter-clockwise from east, 0 to 180"),
        _real("fall_low_m", "m", "available_fall_m, lower end at 95 %; empty: error not stated"),
        _real("fall_high_m", "m", "available_fall_m, upper end at 95 %; empty: error not stated"),
        _other("chance_of_fall", "real", "chance that the fall wanted is there; empty: not known"),
        _other("chance_best", "real", "chance that it stays the best; empty: not known"),
    ),
    _layer(
        "basin", "Basin", "Polygon", work_rows.basin,
        "Outline of the void units.", *_BASIN,
    ),
    _layer(
        "basin_excavation", "Excavation of the basin", "Polygon", work_rows.basin_excavation,
        "Edge of the pit where its sides meet the real ground.", *_BASIN,
        _real("excavation_m3", "m3", "the whole pit, bank volume"),
    ),
)  # fmt: skip

_STREAM = (
    _layer(
        "stream_alignment", "Stream", "LineStringZ", work_rows.stream_alignment,
        "The stream's middle, downstream, spillway lip first, ending inside the basin; Z is the "
        "level of the sills and never rises.",
        _LENGTH,
        _real("fall_m", "m", "first sill less last"),
        _other("sinuosity", "real", "length over the straight distance of its ends"),
        _real("flow_m3s", "m3/s", "water that runs"),
        _real("berm_height_m", "m", "greatest height of the bed above the ground"),
    ),
    _layer(
        "stream_reaches", "Reaches", "LineStringZ", work_rows.stream_reaches,
        "Pools, riffles and falls along the stream; Z is the level of the sills.",
        _SEQUENCE,
        _text("kind", "pool, riffle or fall", _KINDS),
        _WATER_LEVEL,
        _real("depth_m", "m", "pool: greatest; riffle: normal; fall: critical, on its lip"),
        _real("velocity_ms", "m/s", "mean velocity there"),
        _real("from_m", "m", "station of its upper end, from the lip"),
        _real("to_m", "m", "station of its lower end"),
        _real("sill_level_m", "m", "bed at its upper end"),
    ),
    _layer(
        "stream_falls", "Falls", "PointZ", work_rows.stream_falls,
        "The middle of each fall's lip; Z is the lip.",
        _SEQUENCE,
        _real("station_m", "m", "of its lip, from the spillway's lip"),
        _real("height_m", "m", "sill to sill"),
        _real("lip_level_m", "m", "level of its lip"),
        _real("lip_width_m", "m", "width of its lip"),
        _real("head_m", "m", "water on its lip"),
    ),
    _layer(
        "stream_pools", "Pools", "PolygonZ", work_rows.stream_pools,
        "Outlines of the pools; Z is the water level.",
        _SEQUENCE,
        _WATER_LEVEL,
        _real("depth_m", "m", "of the hollow, below the sill"),
        _real("volume_m3", "m3", "water in it while the pump runs"),
        _real("liner_level_m", "m", "level that the liner's edge must reach"),
        _real("sill_level_m", "m", "level at which it spills when nothing runs"),
    ),
    _layer(
        "stream_bed", "Stream bed", "Polygon", work_rows.stream_bed,
        "Stream and pools in plan.", _AREA,
    ),
    _layer(
        "pipe_run", "Pipe", "LineStringZ", work_rows.pipe_run,
        "The pipe from pump to spillway; Z is its centre line.",
        _real("length_m", "m", "along its slope"),
        _real("inside_diameter_m", "m", "inside diameter"),
        _real("velocity_ms", "m/s", "of the water in it"),
        _real("flow_m3s", "m3/s", "water that runs"),
        _real("total_head_m", "m", "what the pump must give: static lift and friction"),
        _real("static_lift_m", "m", "spillway water level less lowest pumping level"),
    ),
)  # fmt: skip

_DRAINAGE = (
    _layer(
        "catchment", "Run-on", "MultiPolygon", ground_rows.catchment,
        "Ground whose storm water runs onto a work.",
        _text("work", "which work"),
        _AREA,
        _real("outside_parcel_m2", "m2", "of that, outside the lot"),
        _other("reaches_terrain_edge", "truth",
               "water may come from beyond the data: the area is a lower bound"),
    ),
    _layer(
        "flow_paths", "Flow paths", "LineString", ground_rows.flow_paths,
        "Where storm water gathers, downstream.", _ACCUMULATION,
    ),
    _layer(
        "overflow_path", "Overflow", "LineString", ground_rows.overflow_path,
        "Where water goes that leaves the basin, downstream.", _ACCUMULATION,
    ),
    _layer(
        "swale", "Swale", "LineString", work_rows.swale,
        "Middle of the swale above the works that keeps run-on off, downstream; it is digging.",
        _LENGTH,
        _real("depth_m", "m", "dug below the ground; empty: unknown, no rainfall is given"),
        _real("top_width_m", "m", "of that depth"),
        _real("flow_m3s", "m3/s", "of the design storm"),
        _other("slope", "real", "fall along its bed, rise over run"),
        _text("lining", "what stands that water; unknown: no rainfall is given"),
        _real("kept_off_m2", "m2", "ground whose water it catches"),
    ),
    _layer(
        "depressions", "Low places", "MultiPolygon", ground_rows.depressions,
        "Where water stands before it spills.",
        _real("depth_m", "m", "greatest depth when full"),
        _real("volume_m3", "m3", "what it holds"),
        _real("spill_level_m", "m", "level at which it spills"),
    ),
    _layer(
        "contours", "Contours", "LineString", ground_rows.contour_lines,
        "Lines of one level on the ground as flown.",
        _real("level_m", "m", "its level"),
        _other("is_index", "truth", "drawn heavier"),
    ),
)  # fmt: skip

_SITE_WORK = (
    _layer(
        "spoil_pile", "Spoil pile", "Polygon", work_rows.spoil_pile,
        "Toe of the pile of loose spoil.",
        _real("volume_m3", "m3", "loose: bank_m3 times swell_factor"),
        _real("height_m", "m", "greatest thickness above the ground"),
        _real("bank_m3", "m3", "what it was before it was dug"),
        _other("swell_factor", "real", "loose over bank volume"),
        _text("soil", "soil whose factor is used"),
        _real("crest_level_m", "m", "its highest level"),
    ),
    _layer(
        "silt_fence", "Silt fence", "LineString", work_rows.silt_fence,
        "Fence below pile and pit.", _LENGTH,
    ),
    _layer(
        "machine_route", "Machine route", "LineString", work_rows.machine_route,
        "From the access point to where the machine works.",
        _LENGTH,
        _text("leads_to", "the work that it leads to", ("basin", "spoil pile")),
        _real("hand_dig_m", "m", "of that, over hand-dig ground"),
        _other("steepest_along", "real", "steepest ground along it, rise over run"),
        _other("steepest_across", "real", "steepest ground across it, rise over run"),
    ),
    _layer(
        "clearances", "Clearances", "LineString", work_rows.clearances,
        "Shortest connector from each work to everything that asks for a distance.",
        _text("work", "which work", _WORK_NAMES),
        _text("against", "id in the user's file"),
        _text("kind", "utility kind, else the constraint's name"),
        _real("required_m", "m", "rule plus position uncertainty"),
        _real("clearance_m", "m", "work's edge to outer edge as drawn; 0: they touch"),
        _text("verdict", "what it means; unknown is never met", _VERDICTS),
        _text("reason", "why"),
    ),
    _layer(
        "dig_area", "Digging", "MultiPolygon", work_rows.dig_area,
        "All digging and a margin: the white-line outline for the locate request.",
        _AREA,
        _text("purpose", "what the outline is for"),
        _real("margin_m", "m", "from the digging to the outline, at least"),
    ),
    _layer(
        "set_out", "Set-out", "PointZ", set_out_rows.set_out,
        "Points to stake: B basin corner, X pit edge, S spillway lip, T stream station, F fall, E "
        "stream end, P pipe, H toe of the spoil heap, W silt fence end, G machine's way; Z is the "
        "level named in the note.",
        _text("code", "letter and number"),
        _text("note", "what it is, with its level"),
        _real("level_m", "m", "same as Z"),
        _real("ground_level_m", "m", "ground there, as flown"),
    ),
)  # fmt: skip

_OF_EACH_PLAN = frozenset(
    {
        "basin",
        "basin_excavation",
        "catchment",
        "overflow_path",
        "swale",
        *(layer.name for layer in _STREAM),
        *(layer.name for layer in _SITE_WORK),
    }
)
_ALTERNATIVE = _other(
    ALTERNATIVE, "integer", "1: the plan proposed; more: plans of the next places"
)


def _numbered(layer: Layer) -> Layer:
    """Give the layer with a field for the alternative, where whole plans differ in it."""
    if layer.name not in _OF_EACH_PLAN:
        return layer
    return replace(layer, fields=(*layer.fields, _ALTERNATIVE))


LAYERS: tuple[Layer, ...] = tuple(
    _numbered(layer) for layer in (*_GIVEN, *_BASINS, *_STREAM, *_DRAINAGE, *_SITE_WORK)
)
"""Every layer of a plan, in order; each is in every plan, empty if it must be."""


def catalogue() -> list[dict[str, Any]]:
    """Describe every layer and field in plain data, for printing.

    Returns
    -------
    list of dict
        Keys ``name``, ``title``, ``geometry``, ``meaning``, ``fields``; each field with ``name``,
        ``type``, ``unit``, ``meaning``, ``choices``.
    """
    return [
        {
            "name": layer.name,
            "title": layer.title,
            "geometry": layer.geometry,
            "meaning": layer.meaning,
            "fields": [_field_row(field) for field in layer.fields],
        }
        for layer in LAYERS
    ]


def _field_row(field: LayerField) -> dict[str, Any]:
    return {
        "name": field.name,
        "type": field.type,
        "unit": field.unit,
        "meaning": field.meaning,
        "choices": list(field.choices),
    }
