"""What is known of how sure the answer is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "Certainty",
    "ClearanceRange",
    "Draws",
    "How",
    "PlaceCertainty",
    "Range",
    "WorkRange",
    "Worth",
]

How = Literal["closed form", "simulated", "unknown"]


@dataclass(frozen=True, kw_only=True)
class Range:
    """A number and where it lies with a chance of 95 %.

    Attributes
    ----------
    value : float
        As the plan has it.
    low, high : float
        Ends of the range, in the unit; NaN where ``how`` is ``unknown``.
    unit : str
        ``m``, ``m2``, ``m3``.
    how : {"closed form", "simulated", "unknown"}
        How the ends were found.
    """

    value: float
    low: float
    high: float
    unit: str
    how: How

    @property
    def is_known(self) -> bool:
        """Whether there are ends."""
        return self.how != "unknown"


@dataclass(frozen=True, kw_only=True)
class WorkRange:
    """A figure of one work.

    Attributes
    ----------
    work : str
        Which work.
    range : Range
        Its figure.
    """

    work: str
    range: Range


@dataclass(frozen=True, kw_only=True)
class ClearanceRange:
    """How sure one row of the clearances is.

    Attributes
    ----------
    number : int
        Of the row.
    work, against : str
        The pair.
    range : Range
        Of the distance from the work's edge to the object's outer edge.
    chance_of_rule : float
        Chance that the distance is at least the rule's, without any addition for position; NaN
        where the range is unknown.
    """

    number: int
    work: str
    against: str
    range: Range
    chance_of_rule: float


@dataclass(frozen=True, kw_only=True)
class PlaceCertainty:
    """How sure one candidate is.

    Attributes
    ----------
    rank : int
        As in the plan.
    fall : Range
        Ground at the lip less the basin's rim.
    chance_of_fall : float
        Chance that the ground, with the berm as drawn, gives the fall wanted less what may lack.
    chance_best : float
        Share of the simulations in which no other place scores more; NaN without simulations.
    rim, overflow : Range
        Lowest ground on the footprint's outline (the basin spills there) and on the pit's edge.
    excavation : Range
        Bank volume of the pit.
    catchment : Range
        Ground that drains onto pit and stream.
    """

    rank: int
    fall: Range
    chance_of_fall: float
    chance_best: float
    rim: Range
    overflow: Range
    excavation: Range
    catchment: Range


@dataclass(frozen=True, kw_only=True)
class Worth:
    """What one measurement on site would help.

    Attributes
    ----------
    subject : str
        A line's id, or ``terrain``.
    measurement : str
        What is measured.
    rank : int
        Of the candidate beside which it is measured.
    settles : float
        Expected gain: value of the best choice with the measurement less that without, in plans
        that work (0: whatever is found, the choice stays).
    """

    subject: str
    measurement: str
    rank: int
    settles: float


@dataclass(frozen=True, kw_only=True)
class Certainty:
    """How sure a plan is.

    Attributes
    ----------
    rmse_z_m : float
        Vertical error that was used.
    is_assumed : bool
        True where nobody stated it: nothing is asserted then.
    simulations : int
        Grounds drawn.
    wanted_fall_m, needed_fall_m : float
        Fall wanted, and that less what may lack.
    fall : Range
        Of the stream, first sill less last, built as drawn over the basin's rim.
    asserted_fall_m : float
        The greatest fall that the ground, with the berm as drawn, gives with a chance of 97.5 %, at
        least 0; NaN where the error is assumed.
    places : tuple of PlaceCertainty
        Each candidate, best first.
    catchments : tuple of WorkRange
        Of the works proposed.
    spoil, pile, haul : Range
        Loose soil left over, piled, hauled.
    clearances : tuple of ClearanceRange
        Rows whose object may lie off its drawing.
    worth : tuple of Worth
        Measurements, the most helpful first.
    notes : tuple of str
        What was assumed or left out, a sentence each.
    """

    rmse_z_m: float
    is_assumed: bool
    simulations: int
    wanted_fall_m: float
    needed_fall_m: float
    fall: Range
    asserted_fall_m: float
    places: tuple[PlaceCertainty, ...]
    catchments: tuple[WorkRange, ...]
    spoil: Range
    pile: Range
    haul: Range
    clearances: tuple[ClearanceRange, ...]
    worth: tuple[Worth, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class Draws:
    """What simulated grounds gave, a row for each.

    Attributes
    ----------
    fall_m, rim_m, overflow_m : ndarray, shape (runs, places)
        What errors change: of the ground at the lip less the rim, of the rim, of the lowest
        ground on the pit's edge.
    drawn_m3, dug_m3 : ndarray, shape (runs, places)
        Change of the pit's volume down to the floor as drawn, and as it may be dug.
    lift_m3 : ndarray, shape (runs, areas)
        What errors add to the ground over each area.
    area_m2 : ndarray, shape (runs, works)
        Catchment of all cells that each work touches, as the plan counts it.
    least_m2 : ndarray, shape (runs, works)
        That of cells that let their water onto it only with the chance of what it covers.
    reaches_edge : ndarray of bool, shape (runs, works)
        Where the catchment comes to the edge of the data.
    """

    fall_m: NDArray[np.float64]
    rim_m: NDArray[np.float64]
    overflow_m: NDArray[np.float64]
    drawn_m3: NDArray[np.float64]
    dug_m3: NDArray[np.float64]
    lift_m3: NDArray[np.float64]
    area_m2: NDArray[np.float64]
    least_m2: NDArray[np.float64]
    reaches_edge: NDArray[np.bool_]

    @property
    def runs(self) -> int:
        """How many grounds were drawn."""
        return int(self.fall_m.shape[0])
