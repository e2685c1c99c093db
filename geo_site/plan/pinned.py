"""Works that a person drew or pinned, as the steps take them.

In: a :class:`~geo_site.plan.choosing.Job`'s site with :attr:`~geo_site.site.Site.fixed`. Out: the
same results that the steps would have found, for what is drawn. Method: what is drawn is kept to
the last digit; each function gives None where nothing is drawn, and the caller looks for it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType

import shapely
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry

from geo_site.access import AccessParameters, MachineRoute, drive
from geo_site.drawn import Drawn
from geo_site.terrain import Terrain

__all__ = ["drawn_routes", "sources_of", "with_pins"]


def with_pins(drawn: Drawn, pins: Drawn) -> Drawn:
    """Give what was drawn, and what the site file pins besides.

    Parameters
    ----------
    drawn : Drawn
        An edited plan: it wins where both have a work.
    pins : Drawn
        ``[fixed]`` of the site file.

    Returns
    -------
    Drawn
        Ground to keep off is that of both.
    """
    stream = drawn if drawn.stream is not None else pins
    basin = drawn if drawn.basin is not None else pins
    keep_off = [*drawn.keep_off.geoms, *pins.keep_off.geoms]
    through = [*drawn.must_pass.geoms, *pins.must_pass.geoms]
    return Drawn(
        basin=basin.basin,
        basin_depth_m=basin.basin_depth_m,
        spillway=drawn.spillway or pins.spillway,
        stream=stream.stream,
        reaches=stream.reaches,
        falls=stream.falls,
        pools=stream.pools,
        pipe=drawn.pipe or pins.pipe,
        spoil_pile=drawn.spoil_pile or pins.spoil_pile,
        silt_fence=drawn.silt_fence or pins.silt_fence,
        machine_route=drawn.machine_route or pins.machine_route,
        keep_off=shapely.MultiPolygon(keep_off),
        must_pass=shapely.MultiPoint(through),
        notes=(*drawn.notes, *pins.notes),
    )


def drawn_routes(
    drawn: Drawn,
    works: Mapping[str, BaseGeometry | None],
    terrain: Terrain,
    hand_dig: BaseGeometry,
    parameters: AccessParameters,
) -> tuple[tuple[str, MachineRoute], ...]:
    """Measure the ways that were drawn, and say what each leads to.

    Parameters
    ----------
    drawn : Drawn
        With a machine route.
    works : mapping of str to geometry or None
        What a way may lead to, in order: the first way that ends within the machine's reach of
        the first of them leads there, others to the nearest of the rest.
    terrain : Terrain
        The ground.
    hand_dig : shapely geometry
        Hand-dig ground.
    parameters : AccessParameters
        The machine.

    Returns
    -------
    tuple of (str, MachineRoute)
        In the order drawn; empty where none is.
    """
    if drawn.machine_route is None:
        return ()
    found: list[tuple[str, MachineRoute]] = []
    for part in drawn.machine_route.geoms:
        end, taken = Point(part.coords[-1]), [leads_to for leads_to, _ in found]
        open_to = {name: work for name, work in works.items() if work and name not in taken}
        within = [
            n for n, work in open_to.items() if work.distance(end) <= parameters.working_reach
        ]
        leads_to = within[0] if within else _nearest(works, end)
        flat = LineString(shapely.get_coordinates(part))
        found.append((leads_to, drive(flat, terrain, hand_dig, parameters)))
    return tuple(found)


def _nearest(works: Mapping[str, BaseGeometry | None], end: Point) -> str:
    away_m = {name: work.distance(end) for name, work in works.items() if work is not None}
    return min(away_m, key=lambda name: (away_m[name], name))


def sources_of(drawn: Drawn) -> Mapping[str, str]:
    """Say of each work whether it was drawn or worked out.

    Parameters
    ----------
    drawn : Drawn
        What was drawn.

    Returns
    -------
    mapping of str to str
        ``drawn`` or ``worked out`` by work.
    """
    return MappingProxyType(dict(_sources(drawn)))


def _sources(drawn: Drawn) -> Iterator[tuple[str, str]]:
    works = {
        "basin": drawn.basin,
        "stream": drawn.stream,
        "pipe": drawn.pipe,
        "spoil_pile": drawn.spoil_pile,
        "silt_fence": drawn.silt_fence,
        "machine_route": drawn.machine_route,
    }
    for name, work in works.items():
        yield name, "worked out" if work is None else "drawn"
