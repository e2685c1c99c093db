"""Scores of the clear windows on a grid, without a list of them all.

Question
    Which places, of very many, have a score between two bounds?
In
    Cells about which a window is clear, as bits; the part of the score that hangs on the place
    alone; the ground's gradients.
Out
    How many places there are in each class of scores, and the places of some classes.
Method
    A score is worked out where it is asked for, twice rather than kept: bits take a
    hundredth of the memory. Words of 64 cells none of which reaches the least class asked for
    are passed over.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numba
import numpy as np
from numpy.typing import NDArray

from geo_site.compiling import LOOP, PART
from geo_site.outlines.windows import Words

__all__ = [
    "CLASS_BITS",
    "SCORE_UNIT",
    "Scoring",
    "Turned",
    "count_classes",
    "level_mark",
    "scored_places",
]

SCORE_UNIT: Final = 1e-9
"""Scores are whole multiples of this."""
CLASS_BITS: Final = 17
"""A class holds 2**17 scores, 1.3e-4; scores of 0 to 1 fall in less than 2**13 classes."""
_CLASSES = (round(1.0 / SCORE_UNIT) >> CLASS_BITS) + 2
_BITS = 64

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


class Scoring(NamedTuple):
    """What the score of a place is made of: ``base + share * level_mark``.

    Attributes
    ----------
    base : ndarray, shape (rows, columns)
        Part that hangs on the place alone; with `share` it stays within 0 and 1.
    east, north : ndarray, shape (rows, columns)
        Rise of the ground over run, towards east and north; NaN not known.
    share : float
        Weight of level ground.
    greatest_rise_m : float
        Rise over the window at which ground counts as not level at all.
    """

    base: Floats
    east: Floats
    north: Floats
    share: float
    greatest_rise_m: float


class Turned(NamedTuple):
    """A rectangle with its length turned counter-clockwise from east.

    Attributes
    ----------
    length_m, width_m : float
        Sides.
    cosine, sine : float
        Of the rotation.
    """

    length_m: float
    width_m: float
    cosine: float
    sine: float


@numba.njit(**LOOP)
def level_mark(east: float, north: float, turned: Turned, greatest_rise_m: float) -> float:
    """Mark a plane for how level it is under a turned rectangle.

    The level difference over the rectangle is ``|gradient along| length + |gradient across|
    width``.

    Parameters
    ----------
    east, north : float
        Rise over run towards east and north, NaN not known.
    turned : Turned
        The rectangle.
    greatest_rise_m : float
        Difference from which on the mark is 0.

    Returns
    -------
    float
        1 on level ground, falling to 0; 0 where the ground is not known.
    """
    along = abs(east * turned.cosine + north * turned.sine)
    across = abs(north * turned.cosine - east * turned.sine)
    part = (along * turned.length_m + across * turned.width_m) / greatest_rise_m
    return 1.0 - part if part < 1.0 else 0.0


@numba.njit(**PART)
def _score(scoring: Scoring, turned: Turned, row: int, column: int) -> int:
    east, north = scoring.east[row, column], scoring.north[row, column]
    mark = level_mark(east, north, turned, scoring.greatest_rise_m)
    return int(np.rint((scoring.base[row, column] + scoring.share * mark) / SCORE_UNIT))


def count_classes(
    clear: Words, scoring: Scoring, turned: Turned
) -> tuple[NDArray[np.int64], NDArray[np.int16]]:
    """Count the clear windows by class of score.

    Parameters
    ----------
    clear : ndarray of uint64, shape (rows, words)
        From `clear_windows`.
    scoring : Scoring
        What scores are made of.
    turned : Turned
        The rectangle that the ground must be level under.

    Returns
    -------
    counts : ndarray of int64
        Places in each class, ``score >> CLASS_BITS``.
    greatest : ndarray of int16, shape (rows, words)
        Greatest class in each word, -1 where no window is clear.
    """
    counts = np.zeros(_CLASSES, dtype=np.int64)
    greatest = np.empty(clear.shape, dtype=np.int16)
    _count(clear, scoring, turned, counts, greatest)
    return counts, greatest


@numba.njit(**LOOP)
def _count(
    clear: Words,
    scoring: Scoring,
    turned: Turned,
    counts: NDArray[np.int64],
    greatest: NDArray[np.int16],
) -> None:
    for row in range(clear.shape[0]):
        for word in range(clear.shape[1]):
            left, column, most = clear[row, word], word * _BITS, -1
            while left != np.uint64(0):
                if left & np.uint64(1):
                    one = _score(scoring, turned, row, column) >> CLASS_BITS
                    counts[one] += 1
                    most = max(most, one)
                left >>= np.uint64(1)
                column += 1
            greatest[row, word] = most


@numba.njit(**LOOP)
def scored_places(
    clear: Words,
    scoring: Scoring,
    turned: Turned,
    greatest: NDArray[np.int16],
    between: tuple[int, int],
    taken: Bools,
) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """List the clear windows of some classes of score.

    Parameters
    ----------
    clear : ndarray of uint64, shape (rows, words)
        From `clear_windows`.
    scoring : Scoring
        What scores are made of.
    turned : Turned
        The rectangle that the ground must be level under.
    greatest : ndarray of int16, shape (rows, words)
        From `count_classes`.
    between : tuple of int
        Least class, and the class above the greatest.
    taken : ndarray of bool, shape (rows, columns)
        Cells to pass over.

    Returns
    -------
    cells : ndarray of int32
        Flat indices, rising.
    scores : ndarray of int32
        Of each, in units of `SCORE_UNIT`.
    """
    columns = taken.shape[1]
    cells, scores = np.empty(64, np.int32), np.empty(64, np.int32)
    size = 0
    for row in range(clear.shape[0]):
        for word in range(clear.shape[1]):
            if greatest[row, word] < between[0]:
                continue
            left, column = clear[row, word], word * _BITS
            if size + _BITS > cells.size:
                cells = np.concatenate((cells, np.empty_like(cells)))
                scores = np.concatenate((scores, np.empty_like(scores)))
            while left != np.uint64(0):
                if left & np.uint64(1) and not taken[row, column]:
                    score = _score(scoring, turned, row, column)
                    if between[0] <= score >> CLASS_BITS < between[1]:
                        cells[size], scores[size] = row * columns + column, score
                        size += 1
                left >>= np.uint64(1)
                column += 1
    return cells[:size].copy(), scores[:size].copy()
