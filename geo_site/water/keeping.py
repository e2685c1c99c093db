"""Everything about the water that is kept, from the running water in plain numbers.

Question
    Is the basin enough, does it take the stream back, how long does it last, does it stay down?
In
    :class:`StreamWater`, the layout, the basin's design and place, the trees.
Out
    :class:`Kept`.
Method
    The modules :mod:`store`, :mod:`losses`, :mod:`intake`, :mod:`uplift` and :mod:`cycle` of this
    step, one after the other.
"""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
from shapely import union_all
from shapely.geometry.base import BaseGeometry

from geo_site.layout import Layout
from geo_site.siting import BasinDesign, Placement
from geo_site.water.cycle import Cycle, Reservoir, follow, setup_of
from geo_site.water.intake import Intake, fallen_leaves, judge_intake, return_area
from geo_site.water.losses import Losses, fill_line_told, lose
from geo_site.water.records import WaterParameters
from geo_site.water.store import Demand, Store, StoreCheck, check_store, demand, store
from geo_site.water.uplift import Load, Uplift, judge_load, judge_uplift

__all__ = ["Kept", "StreamWater", "keep"]


@dataclass(frozen=True, kw_only=True)
class StreamWater:
    """The running water, as far as the basin is concerned.

    Attributes
    ----------
    flow_m3s : float
        Flow.
    reaches : tuple of Reservoir
        Standing and moving water of each reach, downstream.
    pipe_content_m3 : float
        Water that the pipe holds.
    doubt_m3 : float
        Moving water more, where the bed is as rough as it may be.
    """

    flow_m3s: float
    reaches: tuple[Reservoir, ...]
    pipe_content_m3: float
    doubt_m3: float = 0.0

    @property
    def moving_m3(self) -> float:
        """Water that runs back when the pump stops, without the pipe's, m3."""
        return sum(reach.moving_m3 for reach in self.reaches)

    @property
    def standing_m3(self) -> float:
        """Water that the hollows keep, m3."""
        return sum(reach.standing_m3 for reach in self.reaches)


@dataclass(frozen=True, kw_only=True)
class Kept:
    """The water that is kept.

    Attributes
    ----------
    store : Store
        What the basin holds.
    asked : Demand
        What it must give.
    check : StoreCheck
        One against the other.
    losses : Losses
        Of a hot dry day.
    return_gravel : shapely geometry
        Gravel that the stream's end reaches.
    intake : Intake
        That gravel against flow and leaves.
    uplift : Uplift
        Groundwater.
    load : Load
        What lies and drives on the units.
    cycle : Cycle
        A start, a run and a stop.
    first_fill_m3 : float
        What the first fill of basin, hollows and a pipe that a check valve keeps full takes.
    warnings : tuple of str
        Of all of them, what fails first.
    """

    store: Store
    asked: Demand
    check: StoreCheck
    losses: Losses
    return_gravel: BaseGeometry
    intake: Intake
    uplift: Uplift
    load: Load
    cycle: Cycle
    first_fill_m3: float
    warnings: tuple[str, ...]


def keep(
    stream: StreamWater,
    layout: Layout,
    design: BasinDesign,
    placement: Placement,
    trees: gpd.GeoDataFrame,
    parameters: WaterParameters,
) -> Kept:
    """Work out the water that is kept.

    Parameters
    ----------
    stream : StreamWater
        The running water.
    layout : Layout
        Where the stream runs.
    design : BasinDesign
        The basin.
    placement : Placement
        Its place.
    trees : geopandas.GeoDataFrame
        ``Site.trees``.
    parameters : WaterParameters
        Settings.

    Returns
    -------
    Kept
        With a warning for each thing that fails or is not known.
    """
    held = store(design, placement, parameters)
    wet = union_all([layout.bed, *(pool.geometry for pool in layout.pools)])
    returns_m3 = demand(stream.moving_m3, stream.pipe_content_m3, 0.0, parameters).returns_m3
    spare_m3 = held.usable_m3 - returns_m3
    lost = lose(float(wet.area), spare_m3, parameters)
    asked = demand(
        stream.moving_m3, stream.pipe_content_m3, lost.losses_m3, parameters, stream.doubt_m3
    )
    check = check_store(held, asked, parameters)
    gravel = return_area(layout.alignment, placement.pit_floor, parameters)
    leaves = fallen_leaves(trees, wet.union(gravel), parameters)
    intake = judge_intake(
        float(gravel.area), leaves, stream.flow_m3s, spare_m3, design.cover_m, parameters
    )
    uplift = judge_uplift(design, placement, parameters)
    load = judge_load(design.cover_m, parameters)
    cycle = follow(
        setup_of(held, stream.reaches, stream.flow_m3s, stream.pipe_content_m3, parameters)
    )
    filled_m3 = stream.pipe_content_m3 if parameters.store.check_valve else 0.0
    judged = (check, cycle, intake, lost, uplift, load)
    told = [sentence for one in judged for sentence in one.warnings]
    return Kept(
        store=held,
        asked=asked,
        check=check,
        losses=lost,
        return_gravel=gravel,
        intake=intake,
        uplift=uplift,
        load=load,
        cycle=cycle,
        first_fill_m3=held.first_fill_m3 + stream.standing_m3 + filled_m3,
        warnings=(*told, *_first_start(stream, held), *fill_line_told(parameters)),
    )


def _first_start(stream: StreamWater, held: Store) -> tuple[str, ...]:
    """Say whether the basin alone can fill the empty stream."""
    taken_m3 = stream.standing_m3 + stream.moving_m3 + stream.pipe_content_m3
    if taken_m3 <= held.usable_m3:
        return ()
    return (
        f"At the first start the empty stream takes {taken_m3:.2f} m3 and the pump can draw "
        f"{held.usable_m3:.2f} m3: fill the pools by hose first.",
    )
