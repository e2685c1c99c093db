"""What an excavator of some size needs: width of gap, room to turn, gentle ground.

Question
    Which machine gets through this gate, and what does it do to the ground?
In
    Masses in kg, sizes in metres.
Out
    Widths in metres, pressures in Pa, slopes as rise/run.
Method
    Ranges by class of mass, read at their unfavourable end. No standard gives them: the plate
    and the manual of the machine that is hired decide.
Reference
    Common practice, no source.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

GRAVITY_MS2 = 9.80665
"""Standard acceleration of gravity, m/s2."""
GAP_ALLOWANCE_M = 0.3
"""Free space beside the machine, on each side, m (common practice)."""


@dataclass(frozen=True, slots=True)
class MachineClass:
    """Largest sizes and gentlest limits of excavators of one class of mass.

    Attributes
    ----------
    width_m, length_m, height_m
        Largest width, and length and height when driven, m.
    tail_swing_m
        Largest reach of the tail behind the pivot, m.
    dig_depth_m
        Least depth that such a machine digs, m.
    pressure_pa
        Largest ground pressure, Pa.
    slope_along, slope_across
        Steepest ground along and across the tracks, rise/run.
    """

    width_m: float
    length_m: float
    height_m: float
    tail_swing_m: float
    dig_depth_m: float
    pressure_pa: float
    slope_along: float
    slope_across: float


def _slope(angle_deg: float) -> float:
    return math.tan(math.radians(angle_deg))


MACHINE_CLASSES: Mapping[str, MachineClass] = MappingProxyType(
    {
        "1 t": MachineClass(0.99, 3.1, 2.2, 1.0, 1.5, 28e3, _slope(15), _slope(10)),
        "2 t": MachineClass(1.35, 4.0, 2.3, 1.2, 2.2, 32e3, _slope(15), _slope(10)),
        "3.5 t": MachineClass(1.80, 5.0, 2.5, 1.3, 2.8, 35e3, _slope(15), _slope(10)),
        "6 t": MachineClass(2.00, 5.9, 2.6, 1.6, 3.5, 36e3, _slope(15), _slope(10)),
        "8 t": MachineClass(2.35, 6.6, 2.8, 1.8, 4.0, 40e3, _slope(20), _slope(10)),
    }
)
"""Tracked excavators by greatest mass (common practice, no source); 8 t slopes are for travel."""


def clear_gap(width_m: float) -> float:
    """Gap that a machine drives through, its width and 0.3 m on each side.

    Parameters
    ----------
    width_m
        Width of the machine, m.

    Returns
    -------
    float
        Gap, m.

    Examples
    --------
    >>> round(clear_gap(MACHINE_CLASSES["2 t"].width_m), 2)
    1.95
    """
    return width_m + 2.0 * GAP_ALLOWANCE_M


def ground_pressure(mass_kg: float, track_length_m: float, track_width_m: float) -> float:
    """Mean pressure under two tracks, `p = m g / (2 l w)`.

    Parameters
    ----------
    mass_kg
        Mass of the machine with its load, kg.
    track_length_m, track_width_m
        Length on the ground and width of one track, m, greater than 0.

    Returns
    -------
    float
        Pressure, Pa. At the edge of a track, and while lifting, it is a multiple of this.

    Raises
    ------
    ValueError
        If a size of the track is not positive.

    Examples
    --------
    >>> round(ground_pressure(8000.0, 2.28, 0.45) / 1000, 1)
    38.2
    """
    if not (track_length_m > 0.0 and track_width_m > 0.0):
        raise ValueError("a track has a length and a width greater than 0")
    return mass_kg * GRAVITY_MS2 / (2.0 * track_length_m * track_width_m)
