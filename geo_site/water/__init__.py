"""Flow, levels, stored and moving water, and the pipe.

Question
    How much water runs, how high does it stand, how much must the basin hold, and what must
    the pump lift?
In
    A layout, the basin's design and place, :class:`WaterParameters`.
Out
    :class:`Water`.
Method
    Flow from the head wanted on the spillway lip (Francis). Each pool stands at its sill plus
    the head that the flow needs over what follows: a lip, or critical or normal depth at the
    head of a riffle. Riffles run at Manning's normal depth. Volumes follow from the levels;
    the basin must hold what moves, what is lost until the next refill, and a reserve, all of it
    above what the pump cannot reach. Pipe by Darcy-Weisbach.
Reference
    Francis (1855) as in the EPA SWMM Reference Manual, volume II; Chow (1959), Open-Channel
    Hydraulics.
"""

from geo_site.water.balance import work_out
from geo_site.water.curve import BasinCurve
from geo_site.water.cycle import Cycle, Reservoir, reservoirs_of
from geo_site.water.keeping import Kept, StreamWater, keep
from geo_site.water.lifting import choose_pipe, with_pumps
from geo_site.water.lifting_records import Lift
from geo_site.water.need import first_need
from geo_site.water.pumping import PumpStudy, study_pumps
from geo_site.water.records import FallWater, PoolWater, ReachWater, Water, WaterParameters
from geo_site.water.store import stored_for, units_needed
from geo_site.water.storm_records import Storm, StormReport, StormWorks, Swale
from geo_site.water.storms import judge_storms

__all__ = [
    "BasinCurve",
    "Cycle",
    "FallWater",
    "Kept",
    "Lift",
    "PoolWater",
    "PumpStudy",
    "ReachWater",
    "Reservoir",
    "Storm",
    "StormReport",
    "StormWorks",
    "StreamWater",
    "Swale",
    "Water",
    "WaterParameters",
    "choose_pipe",
    "first_need",
    "judge_storms",
    "keep",
    "reservoirs_of",
    "stored_for",
    "study_pumps",
    "units_needed",
    "with_pumps",
    "work_out",
]
