"""What the constraints hand on: demands for distance, and the ground that they leave.

A :class:`Requirement` is the single truth about one object: blocked ground is drawn from it and
clearances are judged by it, so that the two can never disagree.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

__all__ = ["BlockedPiece", "Ground", "HandDigStrip", "Requirement", "Work"]

Work = Literal["basin", "stream", "pipe", "pile", "machine", "fence"]
"""What is built or driven: each is asked for its own distances."""


@dataclass(frozen=True, kw_only=True)
class Requirement:
    """The distance that one object asks of one kind of work.

    Attributes
    ----------
    reason : str
        Name of the constraint.
    against : str
        Id of the object in the user's file.
    kind : str
        Kind of a utility line; else the constraint's name.
    geometry : shapely geometry
        The object as drawn.
    half_width_m : float
        From what is drawn to the object's outer edge: half a line's diameter.
    rule_m : float
        Distance that the rule asks for, from the outer edge.
    uncertainty_m : float
        How far the object may lie from where it is drawn.
    required_m : float
        ``rule_m + uncertainty_m``.
    least_m : float
        Nearest that digging by hand may come to the outer edge; ``required_m`` where digging
        by hand is no answer.
    rule_known : bool
        False where the rule that governs here is not known: the distance then shapes the
        proposal, and nothing is cleared by it.
    note : str
        What was assumed and who governs, in sentences.
    may_cross : bool
        True where the work may pass over the object: it blocks no ground then.
    advisory : bool
        True where someone else decides whether the rule applies: it blocks no ground, and what
        is nearer than asked is ``unknown``.
    hand_dig_within_m : float
        From the outer edge, how far the law asks for digging by hand: tolerance zone plus
        position uncertainty; 0 where no such law speaks.
    """

    reason: str
    against: str
    kind: str
    geometry: BaseGeometry
    half_width_m: float
    rule_m: float
    uncertainty_m: float
    required_m: float
    least_m: float
    rule_known: bool
    note: str
    may_cross: bool = False
    advisory: bool = False
    hand_dig_within_m: float = 0.0


@dataclass(frozen=True, kw_only=True)
class BlockedPiece:
    """Ground that one object or one kind of area takes away.

    Attributes
    ----------
    reason : str
        Name of the constraint.
    source_id : str
        Id of the object in the user's file; empty for areas found in the terrain.
    distance_m : float
        Distance kept from the object's outer edge.
    geometry : shapely.MultiPolygon
        Clipped to the surroundings of the parcel.
    """

    reason: str
    source_id: str
    distance_m: float
    geometry: MultiPolygon


@dataclass(frozen=True, kw_only=True)
class HandDigStrip:
    """Ground beside a buried line that was opened to digging by hand.

    Attributes
    ----------
    utility_id, kind : str
        The line.
    half_width_m : float
        From the line as drawn to the outer limit of the strip.
    geometry : shapely.MultiPolygon
        In the parcel, off all blocked ground.
    """

    utility_id: str
    kind: str
    half_width_m: float
    geometry: MultiPolygon


@dataclass(frozen=True, kw_only=True)
class Ground:
    """The parcel's ground as one kind of work sees it.

    Attributes
    ----------
    work : str
        Which work.
    pieces : tuple of BlockedPiece
        Why ground is blocked, piece by piece; pieces overlap.
    blocked : shapely.MultiPolygon
        All pieces together; reaches a little beyond the parcel.
    hand_dig : tuple of HandDigStrip
        Empty unless opened.
    open : shapely.MultiPolygon
        The parcel less blocked and hand-dig ground.
    free : shapely.MultiPolygon
        Open and hand-dig ground together.
    """

    work: Work
    pieces: tuple[BlockedPiece, ...]
    blocked: MultiPolygon
    hand_dig: tuple[HandDigStrip, ...]
    open: MultiPolygon
    free: MultiPolygon
