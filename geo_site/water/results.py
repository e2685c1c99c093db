"""Everything about the water of one layout, together."""

from __future__ import annotations

from dataclasses import dataclass

from geo_site.pumps import OperatingPoint
from geo_site.water.flow import Flow
from geo_site.water.keeping import Kept
from geo_site.water.lifting_records import Lift
from geo_site.water.liner import Liner
from geo_site.water.records import FallWater, PoolWater, ReachWater
from geo_site.water.stream_records import Running

__all__ = ["Water"]


@dataclass(frozen=True, kw_only=True)
class Water:
    """Everything about the water of one layout.

    Attributes
    ----------
    flow : Flow
        What runs, its range, and where it comes from.
    running : Running
        Levels along the stream.
    liner : Liner
        Its edge along both banks.
    lift : Lift
        Pipe and pumps.
    kept : Kept
        Basin, losses, return gravel, groundwater, a start and a stop.
    static_lift_m : float
        From the lowest level of the pump to the water behind the spillway lip.
    warnings : tuple of str
        What does not work or is not known well, a sentence each.
    """

    flow: Flow
    running: Running
    liner: Liner
    lift: Lift
    kept: Kept
    static_lift_m: float
    warnings: tuple[str, ...]

    @property
    def flow_m3s(self) -> float:
        """Flow, m3/s."""
        return self.flow.flow_m3s

    @property
    def head_m(self) -> float:
        """Head on the spillway lip, m."""
        return self.running.head_m

    @property
    def reaches(self) -> tuple[ReachWater, ...]:
        """Running water of each reach, downstream."""
        return self.running.reaches

    @property
    def falls(self) -> tuple[FallWater, ...]:
        """Running water on each lip, downstream."""
        return self.running.falls

    @property
    def pools(self) -> tuple[PoolWater, ...]:
        """Running water of each pool, downstream."""
        return self.running.pools

    @property
    def standing_m3(self) -> float:
        """In the pools' hollows: stays when the pump stops, m3."""
        return self.running.standing_m3

    @property
    def moving_m3(self) -> float:
        """Above the sills, on riffles and in falls: runs back when the pump stops, m3."""
        return self.running.moving_m3

    @property
    def stored_m3(self) -> float:
        """In the basin when full, m3."""
        return self.kept.store.stored_m3

    @property
    def usable_m3(self) -> float:
        """Of the stored water, what the pump can take, m3."""
        return self.kept.store.usable_m3

    @property
    def gravel_m3(self) -> float:
        """In the gravel beside the units above the pump's reach, m3."""
        return self.kept.store.gravel_m3

    @property
    def required_m3(self) -> float:
        """Moving water, pipe, losses and reserve, m3."""
        return self.kept.asked.required_m3

    @property
    def water_level_m(self) -> float:
        """Level of the full basin, m."""
        return self.kept.store.full_m

    @property
    def running_level_m(self) -> float:
        """Level of the basin while the pump runs, just filled, m."""
        return self.kept.check.running_level_m

    @property
    def lowest_level_m(self) -> float:
        """Lowest level from which the pump takes water, m."""
        return self.kept.store.lowest_m

    @property
    def spillway_level_m(self) -> float:
        """Water level behind the spillway lip, m."""
        return self.running.spillway_level_m

    @property
    def pipe_nominal(self) -> str:
        """Nominal size of the pipe, inches, schedule 40."""
        return self.lift.pipe.nominal

    @property
    def total_head_m(self) -> float:
        """Static lift and what the pipe takes: what the pump must give at this flow, m."""
        return self.static_lift_m + self.lift.pipe.lost_m

    @property
    def pump(self) -> OperatingPoint | None:
        """Where the pump chosen meets this system; None: no pump given, or none fits."""
        study = self.lift.pumps
        return None if study is None or study.chosen is None else study.chosen.point

    @property
    def is_refused(self) -> bool:
        """Whether the stream cannot carry the flow as laid out."""
        return any(flag.is_refused for flag in self.running.flags)
