"""Windows laid over a grid: where they cover no marked cell, how many they cover.

Question
    About which cells does a window, given as runs along rows, lie on unmarked cells only?
Method
    An erosion on bits, 64 cells to a word. A run of n cells is clear where the two runs of 2**k
    cells at its ends are, with 2**k the greatest power up to n; where those are clear is worked
    out once for all windows, each power from the one before. A window then takes two shifts of
    a row of words for each of its runs, and a row is left as soon as no cell of it is clear.
Reference
    Haralick, R. M., Sternberg, S. R., Zhuang, X. (1987), Image analysis using mathematical
    morphology, IEEE Transactions PAMI 9(4), 532-550: the erosion, and that of a chain of sets.
"""

from __future__ import annotations

from math import cos, radians, sin, sqrt
from typing import NamedTuple

import numba
import numpy as np
from numpy.typing import NDArray

from geo_site.compiling import LOOP, PART

__all__ = [
    "ClearRuns",
    "Words",
    "clear_runs",
    "clear_windows",
    "from_words",
    "row_runs",
    "row_sums",
    "window_counts",
]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Integers = NDArray[np.int64]
Words = NDArray[np.uint64]
"""Rows of cells, 64 to a word, the westmost in the lowest bit."""

_STRICTLY_M = 1e-6  # a sample this near the rim of a window is not strictly inside
_BITS = 64  # cells to a word
_GOLDEN = (sqrt(5.0) - 1.0) / 2.0


def row_runs(
    length_m: float, width_m: float, rotation_deg: float, cell_m: float
) -> NDArray[np.int64]:
    """Cells whose centres lie strictly inside a turned rectangle about a cell's centre.

    Parameters
    ----------
    length_m, width_m : float
        Sides, m.
    rotation_deg : float
        Of the length, counter-clockwise from east.
    cell_m : float
        Size of the square cells, m.

    Returns
    -------
    ndarray of int64, shape (n, 3)
        Row offset (southward), first and last column offset of each run.

    Examples
    --------
    >>> row_runs(1.2, 0.4, 0.0, 0.25).tolist()
    [[0, -2, 2]]
    """
    reach = int(np.ceil(np.hypot(length_m, width_m) / 2.0 / cell_m)) + 1
    offsets = np.arange(-reach, reach + 1)
    east, south = np.meshgrid(offsets * cell_m, offsets * cell_m)
    c, s = cos(radians(rotation_deg)), sin(radians(rotation_deg))
    along, across = np.abs(east * c - south * s), np.abs(-east * s - south * c)
    inside = (along < length_m / 2.0 - _STRICTLY_M) & (across < width_m / 2.0 - _STRICTLY_M)
    rows = np.flatnonzero(inside.any(axis=1))
    first = inside[rows].argmax(axis=1)
    last = len(offsets) - 1 - inside[rows, ::-1].argmax(axis=1)
    runs: Integers = offsets[np.column_stack([rows, first, last])]
    return runs


class ClearRuns(NamedTuple):
    """Where runs of 1, 2, 4, ... cells along a row are clear of marked cells.

    Attributes
    ----------
    starts : ndarray of uint64, shape (powers, rows, words)
        Bit c of a row is set where the run of 2**k cells that starts at column c, with c counted
        from the row's first word but `margin_words`, is on the grid and unmarked.
    margin_words : int
        Words of nothing on either side of the grid, so that shifted rows stay in the array.
    reach : int
        Greatest offset of a window's cells that this serves.
    """

    starts: Words
    margin_words: int
    reach: int


def clear_runs(marked: Bools, reach: int) -> ClearRuns:
    """Prepare a grid for windows that reach up to so many cells from their middle.

    Parameters
    ----------
    marked : ndarray of bool, shape (rows, columns)
        The cells that windows must not cover. What lies off the grid counts as marked.
    reach : int
        Greatest row or column offset of the windows to come.

    Returns
    -------
    ClearRuns
        For `clear_windows`.
    """
    rows, columns = marked.shape
    margin = reach // _BITS + 2
    words = -(-columns // _BITS) + 2 * margin
    free = np.zeros((rows, words * _BITS), dtype=np.bool_)
    free[:, margin * _BITS : margin * _BITS + columns] = ~marked
    powers = (2 * int(reach) + 1).bit_length()
    starts = np.zeros((powers, rows, words), dtype=np.uint64)
    starts[0] = np.packbits(free, axis=1, bitorder="little").view("<u8")
    for power in range(1, powers):
        _double(starts[power - 1], starts[power], 1 << (power - 1))
    return ClearRuns(starts, margin, reach)


def clear_windows(clear: ClearRuns, runs: Integers) -> Words:
    """Cells about which a window covers no marked cell.

    Parameters
    ----------
    clear : ClearRuns
        The grid, from `clear_runs`.
    runs : ndarray of int64, shape (n, 3)
        Row offset, first and last column offset of each run of the window (`row_runs`).

    Returns
    -------
    ndarray of uint64, shape (rows, words)
        Bits set where all cells of the window are on the grid and unmarked; see `from_words`.

    Raises
    ------
    ValueError
        If the window has no cell or reaches further than the grid was prepared for.

    Examples
    --------
    >>> marked = np.zeros((3, 5), dtype=bool)
    >>> marked[0, 4] = True
    >>> cross = np.array([[-1, 0, 0], [0, -1, 1], [1, 0, 0]])
    >>> found = clear_windows(clear_runs(marked, 1), cross)
    >>> from_words(found, 5)[1].tolist()
    [False, True, True, True, False]
    """
    if not (len(runs) > 0 and np.abs(runs).max() <= clear.reach):
        raise ValueError(f"a window has cells, none further than {clear.reach} from its middle")
    # Rows far apart in the window come first: they disagree early where ground is in pieces.
    runs = runs[np.argsort(np.arange(len(runs)) * _GOLDEN % 1.0, kind="stable")]
    power = np.frexp(runs[:, 2] - runs[:, 1] + 1)[1].astype(np.int64) - 1
    second = runs[:, 2] + 1 - (1 << power)
    steps = np.column_stack([runs[:, 0], power, runs[:, 1], second])
    _, rows, words = clear.starts.shape
    found = np.zeros((rows, words - 2 * clear.margin_words), dtype=np.uint64)
    first = max(-int(runs[:, 0].min()), 0)
    end = max(rows - max(int(runs[:, 0].max()), 0), 0)
    found[first:end] = ~np.uint64(0)
    _erode(clear.starts, steps, clear.margin_words, (first, end), found)
    return found


def from_words(words: Words, columns: int) -> Bools:
    """Unpack the bits of rows.

    Parameters
    ----------
    words : ndarray of uint64, shape (rows, words)
        As `clear_windows` gives them.
    columns : int
        Cells of a row.

    Returns
    -------
    ndarray of bool, shape (rows, columns)
        True where a bit is set.
    """
    octets = words.astype("<u8", copy=False).view(np.uint8)
    return np.unpackbits(octets, axis=1, count=columns, bitorder="little").astype(np.bool_)


@numba.njit(**LOOP)
def _double(starts: Words, doubled: Words, run: int) -> None:
    """From where runs of a length are clear, find where runs of twice the length are."""
    ahead, bits = run // _BITS, np.uint64(run % _BITS)
    rest = np.uint64(_BITS - 1) - bits
    for row in range(starts.shape[0]):
        for word in range(starts.shape[1] - ahead - 1):
            low, high = starts[row, word + ahead], starts[row, word + ahead + 1]
            # Two shifts up, as one by 64 has no meaning.
            shifted = (low >> bits) | ((high << np.uint64(1)) << rest)
            doubled[row, word] = starts[row, word] & shifted


@numba.njit(**LOOP)
def _erode(
    starts: Words, steps: Integers, margin: int, band: tuple[int, int], clear: Words
) -> None:
    """Drop from the rows of a band, all cells set, those about which the window is not clear."""
    for row in range(band[0], band[1]):
        for k in range(steps.shape[0]):
            runs = starts[steps[k, 1], row + steps[k, 0]]
            if not _keep_clear(clear[row], runs, margin, steps[k, 2], steps[k, 3]):
                break


@numba.njit(**PART)
def _keep_clear(clear: Words, runs: Words, margin: int, first: int, second: int) -> bool:
    """Drop the cells whose two runs are not clear; return whether any cell is left."""
    words = clear.size
    bits, more_bits = np.uint64(first % _BITS), np.uint64(second % _BITS)
    rest, more_rest = np.uint64(_BITS - 1) - bits, np.uint64(_BITS - 1) - more_bits
    one = np.uint64(1)
    at = runs[margin + first // _BITS :][: words + 1]
    more = runs[margin + second // _BITS :][: words + 1]
    left = np.uint64(0)
    for word in range(words):
        run = (at[word] >> bits) | ((at[word + 1] << one) << rest)
        more_run = (more[word] >> more_bits) | ((more[word + 1] << one) << more_rest)
        clear[word] &= run & more_run
        left |= clear[word]
    return bool(left != np.uint64(0))


def row_sums(marked: Bools) -> Integers:
    """Prefix sums of marked cells along each row, shape (rows, columns + 1)."""
    sums = np.zeros((marked.shape[0], marked.shape[1] + 1), dtype=np.int64)
    np.cumsum(marked, axis=1, out=sums[:, 1:])
    return sums


def window_counts(sums: Integers, runs: Integers) -> Integers:
    """Marked cells that a window covers about each cell; none lie off the grid.

    Parameters
    ----------
    sums : ndarray of int64, shape (rows, columns + 1)
        `row_sums` of the marked cells.
    runs : ndarray of int64, shape (n, 3)
        Row offset, first and last column offset of each run of the window.

    Returns
    -------
    ndarray of int64, shape (rows, columns)
        Counts.
    """
    counts = np.zeros((sums.shape[0], sums.shape[1] - 1), dtype=np.int64)
    _count(sums, runs, counts)
    return counts


@numba.njit(**LOOP)
def _count(sums: Integers, runs: Integers, counts: Integers) -> None:
    rows, columns = counts.shape
    for row in range(rows):
        for k in range(runs.shape[0]):
            r = row + runs[k, 0]
            if r < 0 or r >= rows:
                continue
            for column in range(columns):
                first = min(max(column + runs[k, 1], 0), columns)
                end = min(max(column + runs[k, 2] + 1, 0), columns)
                counts[row, column] += sums[r, end] - sums[r, first]
