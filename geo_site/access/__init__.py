"""Ways for a machine over the ground that is left.

Question
    Does the machine get from an access point to the works, where, and how steep is it?
In
    Machine ground, hand-dig ground, the terrain's gradients, access points.
Out
    Cost of the way to every cell; a route to one work with its corridor.
Method
    Cells where the machine's middle may be: half its width and a gap from what is blocked, its
    body inside the parcel save at the access point. Least-cost ways in sixteen directions (to
    the eight neighbours and a knight's move; Dijkstra 1959) from all access points at once; a
    step steeper along or across than the machine may go is no step. The way is then pulled
    straight where it stays allowed.
Reference
    Dijkstra, E. W. (1959), A note on two problems in connexion with graphs, Numerische
    Mathematik 1, 269-271. Machine sizes and slopes: common practice, no source.
"""

from geo_site.access.parameters import AccessParameters
from geo_site.access.ways import MachineRoute, Reach, drive, find_reach, route_to

__all__ = ["AccessParameters", "MachineRoute", "Reach", "drive", "find_reach", "route_to"]
