"""The whole earthwork: what is dug, kept apart, placed, piled, and trucked away."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from shapely import union_all
from shapely.geometry import LineString, MultiLineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from geo_site import volumes
from geo_site.constraints import Ground
from geo_site.earthwork.fence import FenceGround, find_fence
from geo_site.earthwork.pile import Yard, find_pile, pile_on
from geo_site.earthwork.pit import pit_depths, pit_volume, stream_cut, trench_volume
from geo_site.earthwork.records import Earthwork, EarthworkParameters, Feature, Pile
from geo_site.raster import as_multipolygon
from geo_site.site import Site
from geo_site.terrain import Terrain

__all__ = ["move_earth"]

_SOILS: dict[str, volumes.SoilName] = {
    "sand": "sand",
    "loam": "common_earth",
    "clay": "clay",
    "rock": "rock",
}

_SAME_M = 1e-3
_SLACK_M = 1e-6
_FLOW_GAP_M = 1.0  # half the gap that a fence leaves for water that gathers


@dataclass(frozen=True, kw_only=True)
class _Dug:
    """Bank volumes under the strip, m3, and what the strip covers, m2."""

    pit_m3: float
    excavation_m3: float
    stream_cut_m3: float
    trench_m3: float
    stripped_m2: float
    depth_m: float

    @property
    def bank_m3(self) -> float:
        return self.excavation_m3 + self.stream_cut_m3 + self.trench_m3


@dataclass(frozen=True, kw_only=True)
class _Soil:
    name: str
    swell: float
    shrink: float
    flags: tuple[str, ...]


def move_earth(
    site: Site,
    terrain: Terrain,
    pile_ground: Ground,
    fence_ground: Ground,
    feature: Feature,
    parameters: EarthworkParameters,
) -> Earthwork:
    """Work out all earth moved for a feature.

    Parameters
    ----------
    site : Site
        Soils, views and parcel.
    terrain : Terrain
        Ground and flow paths.
    pile_ground, fence_ground : Ground
        Ground as a pile and as a fence see it; only its open part is used.
    feature : Feature
        What is to be built.
    parameters : EarthworkParameters
        Settings.

    Returns
    -------
    Earthwork
        Volumes are NaN, and nothing is piled, where the ground under a work is not known.
    """
    dug = _dig(terrain, feature, parameters)
    soil = _soil(site, feature, parameters)
    layout = feature.layout
    berm_m3 = 0.0 if layout is None else layout.berm_m3
    left_m3 = (dug.bank_m3 - volumes.bank_from_compacted(berm_m3, soil.shrink)) * soil.swell
    loose_m3 = left_m3 if math.isnan(left_m3) else max(left_m3, 0.0)
    yard = _yard(site, terrain, pile_ground, feature, parameters)
    pile = _pile(yard, feature, (loose_m3, soil.swell), parameters)
    haul_m3 = loose_m3 - (pile.volume_m3 if pile else 0.0)
    found, fence_flags = find_fence(
        _bare(feature, pile),
        _fence_ground(terrain, fence_ground, feature, pile, parameters.fence_offset),
        parameters,
    )
    fence, fence_flags = _fence(found, fence_flags, feature.fence)
    return Earthwork(
        pit_m3=dug.pit_m3,
        excavation_m3=dug.excavation_m3,
        stream_cut_m3=dug.stream_cut_m3,
        trench_m3=dug.trench_m3,
        bank_m3=dug.bank_m3,
        topsoil_m3=dug.stripped_m2 * parameters.topsoil_thickness,
        sod_m2=dug.stripped_m2,
        berm_m3=berm_m3,
        soil=soil.name,
        swell_factor=soil.swell,
        shrink_factor=soil.shrink,
        loose_m3=loose_m3,
        brought_m3=left_m3 if math.isnan(left_m3) else max(-left_m3, 0.0),
        pile=pile,
        haul_m3=haul_m3,
        haul_loads=0 if math.isnan(haul_m3) else math.ceil(haul_m3 / parameters.truck - 1e-9),
        silt_fence=fence,
        flags=(
            *_depth_flags(dug.depth_m),
            *soil.flags,
            *_balance_flags(pile, haul_m3, left_m3),
            *fence_flags,
        ),
    )


def _pile(
    yard: Yard, feature: Feature, soil: tuple[float, float], parameters: EarthworkParameters
) -> Pile | None:
    """Find a place for the pile, or shape it on the toe that a person drew."""
    loose_m3, swell = soil
    found = find_pile(yard, loose_m3, swell, parameters)
    if feature.toe is None:
        return found
    if found is not None and found.geometry.hausdorff_distance(feature.toe) <= _SAME_M:
        return replace(found, geometry=feature.toe)  # nobody moved it: not shaped another way
    return pile_on(feature.toe, yard.ground, loose_m3, swell, parameters)


def _fence(
    found: LineString | None, flags: tuple[str, ...], drawn: MultiLineString | None
) -> tuple[LineString | MultiLineString | None, tuple[str, ...]]:
    """The fence that was found, or the one that a person drew, with what is to be said of it."""
    if drawn is None:
        return found, flags
    if found is not None and found.hausdorff_distance(drawn) <= _SAME_M:
        return drawn, flags  # nobody moved it
    told = "The silt fence is as drawn: whether it stands below all bare soil is not judged."
    return drawn, (told,)


def _dig(terrain: Terrain, feature: Feature, parameters: EarthworkParameters) -> _Dug:
    placement, layout = feature.placement, feature.layout
    pit = placement.excavation
    depths = pit_depths(terrain, placement, feature.design)
    strip_m = parameters.sod_thickness + parameters.topsoil_thickness
    trench_m3 = cut_m3 = 0.0
    if layout is not None:
        cut_m3 = stream_cut(layout, pit, strip_m)
        trench_m3 = trench_volume(terrain.ground, layout, pit, parameters)
    return _Dug(
        pit_m3=pit_volume(depths, placement, feature.design, strip_m=0.0),
        excavation_m3=pit_volume(depths, placement, feature.design, strip_m=strip_m),
        stream_cut_m3=cut_m3,
        trench_m3=trench_m3,
        stripped_m2=_stripped(feature).area,
        depth_m=float(np.maximum(depths.values.max(), placement.greatest_depth_m)),
    )


def _stripped(feature: Feature) -> BaseGeometry:
    """Ground that loses its sod and topsoil: excavation, stream and pipe trench."""
    areas: list[BaseGeometry] = [feature.placement.excavation]
    if feature.layout is not None:
        areas += [feature.layout.dig, feature.layout.trench]
    return union_all(areas)


def _soil(site: Site, feature: Feature, parameters: EarthworkParameters) -> _Soil:
    flags: list[str] = []
    name: str = parameters.soil
    if name == "unknown":
        name = _mapped_soil(site, feature.placement.footprint)
    if name == "unknown":
        flags.append("The soil is not known: it is taken to swell and shrink as loam.")
    factors = volumes.SOIL_VOLUMES[_SOILS.get(name, "common_earth")]
    return _Soil(
        name=name,
        swell=parameters.swell_factor or factors.swell_factor,
        shrink=parameters.shrink_factor or factors.shrink_factor,
        flags=tuple(flags),
    )


def _mapped_soil(site: Site, footprint: Polygon) -> str:
    """The soil that covers most of the footprint among those given, by kind."""
    areas: dict[str, float] = {}
    for kind, geometry in zip(site.soils["kind"], site.soils.geometry, strict=True):
        shared_m2 = geometry.intersection(footprint).area
        if shared_m2 > 0.0:
            name = kind if kind in _SOILS else "unknown"
            areas[name] = areas.get(name, 0.0) + shared_m2
    return max(sorted(areas), key=areas.__getitem__) if areas else "unknown"


def _yard(
    site: Site,
    terrain: Terrain,
    ground: Ground,
    feature: Feature,
    parameters: EarthworkParameters,
) -> Yard:
    pit, reach_m = feature.placement.excavation, parameters.reach_from_route
    keep_off: list[BaseGeometry] = [pit.buffer(parameters.pile_setback)]
    near = [pit.buffer(reach_m)]
    if feature.layout is not None:
        works = [feature.layout.dig, feature.layout.berm, feature.layout.trench]
        keep_off += [work.buffer(parameters.pile_setback) for work in works if work is not None]
    if feature.route is not None:
        keep_off.append(feature.route.corridor)
        near.append(feature.route.corridor.buffer(reach_m))
    keep_off += _beside_flow(terrain, ground.open, parameters.flow_path_setback)
    middle = union_all(near)
    return Yard(
        ground=terrain.ground,
        allowed=as_multipolygon(ground.open.difference(union_all(keep_off))),
        middle=middle,
        pit=pit,
        views=tuple(view for view in site.views.geometry if isinstance(view, Point)),
    )


def _beside_flow(terrain: Terrain, near: BaseGeometry, within_m: float) -> list[BaseGeometry]:
    """Ground within a distance of concentrated flow, as far as it reaches some other."""
    lines = [path.line for path in terrain.flow_paths]
    return [line.buffer(within_m) for line in lines if line.distance(near) <= within_m + _SLACK_M]


def _bare(feature: Feature, pile: Pile | None) -> BaseGeometry:
    pit = feature.placement.excavation
    return pit if pile is None else union_all([pit, pile.geometry])


def _fence_ground(
    terrain: Terrain, ground: Ground, feature: Feature, pile: Pile | None, offset_m: float
) -> FenceGround:
    works: list[BaseGeometry] = [_bare(feature, pile)]
    if feature.layout is not None:
        works.append(feature.layout.dig)
        if feature.layout.berm is not None:
            works.append(feature.layout.berm)
    if feature.route is not None:
        works.append(feature.route.corridor)
    around = _bare(feature, pile).buffer(offset_m)  # on whose edge a fence is drawn
    gathers = union_all(_beside_flow(terrain, around, _FLOW_GAP_M))
    return FenceGround(
        ground=terrain.ground, free=ground.open.difference(union_all(works)), flow=gathers
    )


def _depth_flags(depth_m: float) -> list[str]:
    return [
        f"The excavation is {depth_m:.2f} m deep, not less than {rule.depth_m:.2f} m: {rule.duty} "
        f"({rule.source})."
        if depth_m >= 0.0
        else f"The depth of the excavation is not known: {rule.duty} ({rule.source})."
        for rule in volumes.depth_rules(depth_m)
    ]


def _balance_flags(pile: Pile | None, haul_m3: float, left_m3: float) -> list[str]:
    if math.isnan(left_m3):
        return ["The ground under the works is not known: no earthwork can be worked out."]
    if left_m3 < 0.0:
        return [f"The berm takes {-left_m3:.1f} m3 (loose) more than is dug: it is brought in."]
    if haul_m3 <= 0.0:
        return []
    if pile is None:
        return [f"No place for a pile: all {haul_m3:.1f} m3 (loose) are hauled."]
    return [
        f"No place for the whole pile: {haul_m3:.1f} m3 (loose) of "
        f"{haul_m3 + pile.volume_m3:.1f} m3 are hauled."
    ]
