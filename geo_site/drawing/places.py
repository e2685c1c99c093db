"""Places for words that do not lie on each other.

In: spots that words belong to. Out: where each is written. Method: for each in turn, the first
place of a fan round its spot, or along its line, whose box is free; words that had to go far get a
leader. Reference: greedy point labelling, e.g. Christensen, Marks and Shieber (1995), from memory.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from shapely import STRtree
from shapely.affinity import rotate
from shapely.geometry import LineString, Polygon, box

__all__ = ["Place", "Taken", "along", "around"]

_RINGS = (0.6, 1.8, 3.5, 6.0, 9.0, 13.0)  # of the height of the words
_TURNS_DEG = (30.0, 150.0, -30.0, -150.0, 0.0, 180.0, 90.0, -90.0)
_PARTS = (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8, 0.1, 0.9)
_LEADER_FROM = 3.0
_LETTER = 0.85  # mean width of a letter over its height


@dataclass(frozen=True)
class Place:
    """Where words are written.

    Attributes
    ----------
    x, y : float
        Lower left corner of the words.
    turn_deg : float
        Counter-clockwise.
    leader : bool
        Whether they are so far from their spot that a line must lead there.
    """

    x: float
    y: float
    turn_deg: float = 0.0
    leader: bool = False


def around(x: float, y: float, words: str, height: float) -> Iterator[Place]:
    """Give places round a point, the nearest first."""
    width = _LETTER * height * len(words)
    for ring in _RINGS:
        for turn in _TURNS_DEG:
            dx, dy = math.cos(math.radians(turn)), math.sin(math.radians(turn))
            left = x + ring * height * dx - (width if dx < -0.1 else 0.5 * width * (abs(dx) < 0.1))
            low = y + ring * height * dy - 0.5 * height * (1.0 - dy)
            yield Place(left, low, leader=ring > _LEADER_FROM)


def along(line: LineString, words: str, height: float) -> Iterator[Place]:
    """Give places above a line, in its direction and never upside down."""
    width = _LETTER * height * len(words)
    for part in _PARTS:
        middle = part * line.length
        a, b = (line.interpolate(max(0.0, middle + way * 0.5 * width)) for way in (-1, 1))
        if (a.x, a.y) > (b.x, b.y):
            a, b = b, a
        turn = math.atan2(b.y - a.y, b.x - a.x)
        for lift in (0.4, -1.4):
            x = a.x - lift * height * math.sin(turn)
            y = a.y + lift * height * math.cos(turn)
            yield Place(x, y, math.degrees(turn))


@dataclass
class Taken:
    """What is taken already.

    Attributes
    ----------
    taken : list of Polygon
        Outlines of words.
    crowded : int
        Words for which no free place was found; they lie on others.
    """

    taken: list[Polygon] = field(default_factory=list)
    crowded: int = 0

    def choose(self, places: Iterable[Place], words: str, height: float) -> Place:
        """Take the first free place; where none is, the first of all."""
        tree, first = STRtree(self.taken), None
        for place in places:
            first = first or place
            outline = _outline(place, words, height)
            if tree.query(outline, predicate="intersects").size == 0:
                self.taken.append(outline)
                return place
        if first is None:
            raise ValueError("words without a place")
        self.crowded += 1
        self.taken.append(_outline(first, words, height))
        return first


def _outline(place: Place, words: str, height: float) -> Polygon:
    width = _LETTER * height * len(words)
    flat = box(place.x, place.y, place.x + width, place.y + height)
    return rotate(flat, place.turn_deg, origin=(place.x, place.y)) if place.turn_deg else flat
