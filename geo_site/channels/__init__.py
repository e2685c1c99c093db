"""Flow in small open channels: depth, velocity, levels along the bed, and stones that stay.

Question
    How deep and how fast does the water run in this bed?
In
    Sizes in metres, slopes as rise/run, Manning's n in s/m^(1/3), flows in m3/s.
Out
    Depths in metres, velocities in m/s, Froude numbers, energies and levels along a channel.
Method
    Manning's formula in a trapezoid, inverted by bisection. Along a channel the energy equation
    is marched from station to station (standard step), upstream where the water is tranquil and
    downstream where it is rapid; where both could be, the greater momentum is what happens.
    Manning's n holds for water deep against the stones; under about four stone sizes, as in
    every shallow stream bed, n rises steeply and a depth is uncertain by a factor.
Reference
    Chow, V. T. (1959), Open-Channel Hydraulics; roughness values after its table 5-6. Rand, W.
    (1955), Flow geometry at straight drop spillways. FHWA HEC-15.
"""

from geo_site.channels.backwater import Channel, Flowing, Losses, mixed, rapid, tranquil
from geo_site.channels.drops import drop_depths
from geo_site.channels.momentum import alternate_depths, conjugate_depth, specific_force
from geo_site.channels.sections import (
    GRAVITY_MS2,
    Trapezoid,
    critical_depth_of,
    froude_number,
    gutter_flow,
    gutter_spread,
    manning_flow,
    manning_velocity,
    normal_depth,
)
from geo_site.channels.stones import WATER_N_M3, bed_shear, stable_stone

__all__ = [
    "GRAVITY_MS2",
    "WATER_N_M3",
    "Channel",
    "Flowing",
    "Losses",
    "Trapezoid",
    "alternate_depths",
    "bed_shear",
    "conjugate_depth",
    "critical_depth_of",
    "drop_depths",
    "froude_number",
    "gutter_flow",
    "gutter_spread",
    "manning_flow",
    "manning_velocity",
    "mixed",
    "normal_depth",
    "rapid",
    "specific_force",
    "stable_stone",
    "tranquil",
]
