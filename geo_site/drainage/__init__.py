"""Where water stands and where it runs, on a terrain raster.

Question
    Which ground holds water before it spills, which way does the rest flow, how much ground
    drains through each cell, and could some of that ground lie beyond the data?
In
    A 2-D array of ground levels, row 0 in the north, NaN where there is no data. Cells may be
    wider than high: ``cell_width`` is east-west and ``cell_height`` north-south, both in metres.
Out
    The filled surface, one flow direction per cell, and what follows from the directions:
    accumulation, catchments, paths. Depressions are kept as information; nothing is breached.
Method
    Basins are joined at their lowest passes, from the outside inward, so that every depression is
    filled exactly to its spill level (``basins``). Each cell then flows to the steepest of its
    eight neighbours on the filled surface [1]_; where no neighbour is lower, a step nearer to
    the cells of its level that have a way down. A flow step therefore goes either strictly down
    or, on one level, nearer to a way down, so no cycle is possible and every cell drains. Of
    equal slopes a side comes before a corner, then the first in the order of the table.

Direction codes (``uint8``):

==== =================================== ======== ===========
code step                                row      column
==== =================================== ======== ===========
0    E                                   0        +1
1    NE                                  -1       +1
2    N                                   -1       0
3    NW                                  -1       -1
4    W                                   0        -1
5    SW                                  +1       -1
6    S                                   +1       0
7    SE                                  +1       +1
8    water leaves here (``OUTLET``)      none     none
255  no data (``NO_DATA``)               none     none
==== =================================== ======== ===========

References
----------
.. [1] O'Callaghan and Mark (1984), The extraction of drainage networks from digital elevation
   data. Computer Vision, Graphics, and Image Processing 28.
"""

from __future__ import annotations

from geo_site.drainage.counting import accumulate, count_cells
from geo_site.drainage.depressions import Depressions, depression_labels, measure_depressions
from geo_site.drainage.filling import Drainage, Flood, drain, flood
from geo_site.drainage.grid import COLUMN_STEP, NO_DATA, OUTLET, ROW_STEP, step_lengths
from geo_site.drainage.network import (
    FlowPath,
    catchments,
    contaminated,
    downstream_path,
    longest_path,
    upstream,
)
from geo_site.drainage.outlets import outlet_cells
from geo_site.drainage.spread import (
    SpreadDirections,
    spread_accumulate,
    spread_cells,
    spread_directions,
)

__all__ = [
    "COLUMN_STEP",
    "NO_DATA",
    "OUTLET",
    "ROW_STEP",
    "Depressions",
    "Drainage",
    "Flood",
    "FlowPath",
    "SpreadDirections",
    "accumulate",
    "catchments",
    "contaminated",
    "count_cells",
    "depression_labels",
    "downstream_path",
    "drain",
    "flood",
    "longest_path",
    "measure_depressions",
    "outlet_cells",
    "spread_accumulate",
    "spread_cells",
    "spread_directions",
    "step_lengths",
    "upstream",
]
