"""Small grounds, and brute force to judge answers by, for the tests of drainage."""

import heapq

import hypothesis.extra.numpy as arrays
import numpy as np
from hypothesis import strategies as st

from geo_site import drainage

E, NE, N, NW, W, SW, S, SE = range(8)
STEPS = list(zip(drainage.ROW_STEP, drainage.COLUMN_STEP, strict=True))

# O'Callaghan and Mark (1984) / Tarboton (1997): the worked 3 x 3 of TER-10 and TER-11.
NINE = np.array([[10.0, 9.0, 8.0], [9.0, 8.0, 6.5], [9.0, 7.0, 6.0]])


def flooded(ground, width=1.0, height=1.0, holes_drain=False):
    outlets = drainage.outlet_cells(~np.isnan(ground), holes_drain)
    return drainage.flood(ground, outlets, width, height)


def minimax_levels(ground, outlets):
    """Least over all paths to an outlet of the highest level on the path: plain Dijkstra."""
    level = np.full(ground.shape, np.nan)
    queue = [(float(ground[cell]), cell) for cell in zip(*np.nonzero(outlets), strict=True)]
    heapq.heapify(queue)
    while queue:
        height, (row, column) = heapq.heappop(queue)
        if not np.isnan(level[row, column]):
            continue
        level[row, column] = height
        for down, right in STEPS:
            to = row + down, column + right
            inside = 0 <= to[0] < ground.shape[0] and 0 <= to[1] < ground.shape[1]
            if inside and not np.isnan(ground[to]):
                heapq.heappush(queue, (max(height, float(ground[to])), to))
    return level


@st.composite
def rasters(draw, dtype=None):
    """Small rasters with many ties, holes and islands, in either dtype."""
    dtype = dtype or draw(st.sampled_from([np.float32, np.float64]))
    shape = draw(st.tuples(st.integers(1, 8), st.integers(1, 8)))
    whole = st.integers(-2, 3)
    rough = st.floats(-50, 50, width=32, allow_nan=False, allow_subnormal=False)
    ground = draw(arrays.arrays(dtype, shape, elements=draw(st.sampled_from([whole, rough]))))
    missing = draw(arrays.arrays(bool, shape, elements=st.integers(0, 4).map(lambda n: n == 0)))
    ground[missing] = np.nan
    return ground


def seeded(shape, seed, dtype=np.float64):
    return np.random.default_rng(seed).random(shape).astype(dtype)


def spiral(size):
    """Walls round a corridor that winds from the edge to the centre, rising by 1 a cell."""
    ground = np.full((size, size), 1000.0)
    legs = [size - 2, *(leg for leg in range(size - 3, 0, -2) for _ in (0, 1))]
    corridor = [(1, 0)]
    for number, leg in enumerate(legs):
        down, right = [(0, 1), (1, 0), (0, -1), (-1, 0)][number % 4]
        for _ in range(leg):
            row, column = corridor[-1]
            corridor.append((row + down, column + right))
    for height, cell in enumerate(corridor):
        ground[cell] = float(height)
    return ground, corridor


def drops(filled, width=1.0, height=1.0):
    """Slope to each of the eight neighbours, first axis; -inf where there is none."""
    rows, columns = filled.shape
    padded = np.pad(filled.astype(np.float64), 1, constant_values=np.nan)
    lengths = [width, np.hypot(width, height), height, np.hypot(width, height)] * 2
    slopes = [
        (filled - padded[1 + down : 1 + down + rows, 1 + right : 1 + right + columns]) / length
        for (down, right), length in zip(STEPS, lengths, strict=True)
    ]
    return np.nan_to_num(np.array(slopes), nan=-np.inf)
