"""Words on a map that do not lie on each other.

In: points with words, a map. Out: words drawn beside their points, with a thin leader where they
had to go farther. Method: for each label in turn, the first of a fixed fan of places whose box is
free; the last resort is counted, not hidden. Reference: greedy point labelling, e.g. Christensen,
Marks and Shieber (1995), from memory.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import product

import numpy as np
from numpy.typing import NDArray

from geo_site.sheets.lettering import line_height_mm, pinch_words, width_mm
from geo_site.sheets.paper import GREY, Frame, Lettering
from geo_site.sheets.plots import Plot

__all__ = ["Label", "LabelBoard"]

_RINGS_MM = (1.5, 4.0, 8.0, 12.0, 17.0, 23.0)
_TURNS_DEG = (30.0, 150.0, -30.0, -150.0, 0.0, 180.0, 90.0, -90.0)
_RIGHT_DEG = 45.0
_PAD_MM = 0.4
_LEADER_FROM_MM = 3.0
_WIDEST_MM = 36.0

_Box = tuple[float, float, float, float]


@dataclass(frozen=True, kw_only=True)
class Label:
    """Words for a point.

    Attributes
    ----------
    x, y : float
        The point, in the map's CRS.
    words : str
        One line; the middle of a long one is left out.
    bold : bool
        Whether they are bold.
    is_right : bool
        Whether they may stand only right of the point: what is left of it must be seen.
    """

    x: float
    y: float
    words: str
    bold: bool = False
    is_right: bool = False


@dataclass
class LabelBoard:
    """What is taken on one map.

    Attributes
    ----------
    plot : Plot
        The map.
    size_pt : float
        Size of the letters.
    """

    plot: Plot
    size_pt: float = 7.0
    _taken: list[_Box] = field(default_factory=list)

    def keep_off(self, frame: Frame) -> None:
        """Keep labels off a rectangle of the page: a scale bar, a legend."""
        self._taken.append((frame.x_mm, frame.y_mm, frame.right_mm, frame.top_mm))

    def place(self, labels: Iterable[Label]) -> tuple[Label, ...]:
        """Draw labels where there is room.

        Parameters
        ----------
        labels : iterable of Label
            The most important first.

        Returns
        -------
        tuple of Label
            Those for which there was no room, and those whose point is off the map.
        """
        return tuple(label for label in labels if not self._put(label))

    def _put(self, label: Label) -> bool:
        point_mm = self.plot.on_page(label.x, label.y)
        frame = self.plot.frame
        if not (frame.x_mm <= point_mm[0] <= frame.right_mm) or not (
            frame.y_mm <= point_mm[1] <= frame.top_mm
        ):
            return False
        places = self._places(label, point_mm)
        free = np.flatnonzero(self._is_free(np.array([box for _, box in places])))
        if not len(free):
            return False
        reach_mm, box = places[free[0]]
        self._draw(label, point_mm, box, leader=reach_mm > _LEADER_FROM_MM)
        return True

    def _is_free(self, boxes: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Say of each box whether it is in the frame and meets nothing that is there."""
        frame = self.plot.frame
        west, south, east, north = boxes.T[:, :, None]
        inside = (west >= frame.x_mm) & (south >= frame.y_mm)
        inside &= (east <= frame.right_mm) & (north <= frame.top_mm)
        free: NDArray[np.bool_] = inside[:, 0]
        if self._taken:
            w, s, e, n = np.array(self._taken).T
            free &= ~((west < e) & (w < east) & (south < n) & (s < north)).any(axis=1)
        return free

    def _places(self, label: Label, point_mm: tuple[float, float]) -> list[tuple[float, _Box]]:
        wide_mm = width_mm(self._told(label), self.size_pt, bold=label.bold) + 2.0 * _PAD_MM
        high_mm = line_height_mm(self.size_pt)
        turns = [t for t in _TURNS_DEG if not label.is_right or abs(t) <= _RIGHT_DEG]
        found = []
        for reach_mm, turn_deg in product(_RINGS_MM, turns):
            across, up = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
            x_mm = point_mm[0] + across * (reach_mm + 0.5 * wide_mm) - 0.5 * wide_mm
            y_mm = point_mm[1] + up * (reach_mm + 0.5 * high_mm) - 0.5 * high_mm
            found.append((reach_mm, (x_mm, y_mm, x_mm + wide_mm, y_mm + high_mm)))
        return found

    def _told(self, label: Label) -> str:
        return pinch_words(label.words, _WIDEST_MM, self.size_pt, bold=label.bold)

    def _draw(
        self, label: Label, point_mm: tuple[float, float], box: _Box, *, leader: bool
    ) -> None:
        self._taken.append(box)
        west, south, east, north = box
        if leader:
            near_x = min(max(point_mm[0], west), east)
            near_y = min(max(point_mm[1], south), north)
            self.plot.sheet.line([point_mm[0], near_x], [point_mm[1], near_y], 0.15, GREY)
        place = Frame(west, south, east - west, north - south)
        self.plot.sheet.box(place, fill="#ffffff", stroke="", width_mm=0.0)
        self.plot.sheet.words(
            west + _PAD_MM,
            south + 0.27 * (north - south),
            self._told(label),
            Lettering(size_pt=self.size_pt, bold=label.bold),
        )
