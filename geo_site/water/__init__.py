"""Flow, levels, stored and moving water, and the pipe.

Question
    How much water runs, how high does it stand, how much must the basin hold, and what must
    the pump lift?
In
    A layout, the basin's design and place, :class:`WaterParameters`.
Out
    :class:`Water`.
Method
    Flow from the head wanted on the spillway lip, by the weir that fits it. Levels by standard
    step from control to control: the stream's free end, lips, gaps between stones; tranquil or
    rapid by momentum, with jumps between. Volumes follow from the levels;
    the basin must hold what moves, what is lost until the next refill, and a reserve, all of it
    above what the pump cannot reach. Pipe by Darcy-Weisbach.
Reference
    EPA SWMM Reference Manual, volume II; USBR Water Measurement Manual, chapter 7; Chow (1959),
    Open-Channel Hydraulics.
"""

from geo_site.water.balance import work_out
from geo_site.water.curve import BasinCurve
from geo_site.water.cycle import Cycle, Reservoir, reservoirs_of
from geo_site.water.flow import Flow
from geo_site.water.keeping import Kept, StreamWater, keep
from geo_site.water.lifting import choose_pipe, with_pumps
from geo_site.water.lifting_records import Lift
from geo_site.water.liner import Liner, liner_along
from geo_site.water.need import first_need
from geo_site.water.profile import Profile
from geo_site.water.pumping import PumpStudy, study_pumps
from geo_site.water.records import FallWater, PoolWater, ReachWater, WaterParameters
from geo_site.water.results import Water
from geo_site.water.running import run, spillway_level, wanted_flow
from geo_site.water.store import stored_for, units_needed
from geo_site.water.storm_records import Storm, StormReport, StormWorks, Swale
from geo_site.water.storms import judge_storms
from geo_site.water.stream_records import Flag, LipWater, RiffleWater, Running

__all__ = [
    "BasinCurve",
    "Cycle",
    "FallWater",
    "Flag",
    "Flow",
    "Kept",
    "Lift",
    "Liner",
    "LipWater",
    "PoolWater",
    "Profile",
    "PumpStudy",
    "ReachWater",
    "Reservoir",
    "RiffleWater",
    "Running",
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
    "liner_along",
    "reservoirs_of",
    "run",
    "spillway_level",
    "stored_for",
    "study_pumps",
    "units_needed",
    "wanted_flow",
    "with_pumps",
    "work_out",
]
