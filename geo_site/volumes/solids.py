"""Volumes of pits and heaps with straight sides, in closed form."""

import math


def prismoidal_volume(first_m2: float, middle_m2: float, last_m2: float, length_m: float) -> float:
    """Volume between two parallel sections, `V = h/6 (A1 + 4 Am + A2)`.

    Exact for every solid whose section grows as a quadratic or cubic, so for straight batters.

    Parameters
    ----------
    first_m2, middle_m2, last_m2
        Areas of the end sections and of the section half-way, m2. The middle area is measured,
        not the mean of the ends: with that mean it becomes the average end area method.
    length_m
        Distance between the end sections, m.

    Returns
    -------
    float
        Volume, m3.

    Examples
    --------
    >>> round(prismoidal_volume(80.0, 168.0, 288.0, 4.0), 2)
    693.33
    """
    return length_m / 6.0 * (first_m2 + 4.0 * middle_m2 + last_m2)


def average_end_area_volume(first_m2: float, last_m2: float, length_m: float) -> float:
    """Volume between two parallel sections, `V = h/2 (A1 + A2)`; too large for a battered pit.

    It is how haul is often measured, so it stands here for comparison; `prismoidal_volume` is
    right where the sides have a batter.

    Parameters
    ----------
    first_m2, last_m2
        Areas of the end sections, m2.
    length_m
        Distance between them, m.

    Returns
    -------
    float
        Volume, m3.

    Examples
    --------
    >>> average_end_area_volume(80.0, 288.0, 4.0)
    736.0
    """
    return length_m / 2.0 * (first_m2 + last_m2)


def battered_top(
    length_m: float, width_m: float, depth_m: float, batter: float
) -> tuple[float, float]:
    """Size at the top of a rectangular pit whose four sides are battered.

    Parameters
    ----------
    length_m, width_m
        Size of the level floor, m.
    depth_m
        Depth, m, of a pit in level ground.
    batter
        Run over rise of the sides (1.5 is 1.5 out for 1 up; 0 is vertical).

    Returns
    -------
    tuple of float
        Length and width at the top, m.

    Examples
    --------
    >>> battered_top(10.0, 8.0, 4.0, 1.5)
    (22.0, 20.0)
    """
    spread_m = 2.0 * batter * depth_m
    return length_m + spread_m, width_m + spread_m


def battered_pit_volume(length_m: float, width_m: float, depth_m: float, batter: float) -> float:
    """Volume of a rectangular pit with square corners, in level ground.

    `V = a b h + (a + b) z h^2 + 4/3 z^2 h^3`.

    Parameters
    ----------
    length_m, width_m
        Size of the level floor, m.
    depth_m
        Depth, m.
    batter
        Run over rise of the sides.

    Returns
    -------
    float
        Volume, m3, in the bank.

    Examples
    --------
    >>> round(battered_pit_volume(10.0, 8.0, 4.0, 1.0), 2)
    693.33
    """
    return _pit_volume(length_m, width_m, depth_m, batter, 4.0 / 3.0)


def rounded_pit_volume(length_m: float, width_m: float, depth_m: float, batter: float) -> float:
    """Volume of a rectangular pit whose corners are quarter cones, in level ground.

    `V = a b h + (a + b) z h^2 + pi/3 z^2 h^3`: the top outline is the floor grown by `z h` all
    round, which is what `battered_depths` digs.

    Parameters
    ----------
    length_m, width_m
        Size of the level floor, m.
    depth_m
        Depth, m.
    batter
        Run over rise of the sides.

    Returns
    -------
    float
        Volume, m3, in the bank; less than with square corners.

    Examples
    --------
    >>> round(rounded_pit_volume(10.0, 8.0, 4.0, 1.0), 2)
    675.02
    """
    return _pit_volume(length_m, width_m, depth_m, batter, math.pi / 3.0)


def cone_of_volume(volume_m3: float, slope: float) -> tuple[float, float]:
    """Radius and height of a cone on level ground, `r = (3 V / (pi slope))^(1/3)`.

    Not valid on a slope or against a fence: use `pile_crest_level` there.

    Parameters
    ----------
    volume_m3
        Loose volume, m3.
    slope
        Rise over run of its sides, greater than 0.

    Returns
    -------
    tuple of float
        Radius and height, m.

    Raises
    ------
    ValueError
        If the volume is negative or the slope not positive.

    Examples
    --------
    >>> [round(size_m, 3) for size_m in cone_of_volume(10.0, 0.70020754)]
    [2.389, 1.673]
    """
    if not (volume_m3 >= 0.0 and slope > 0.0):
        raise ValueError("a cone needs a volume of at least 0 and a slope greater than 0")
    radius_m = math.cbrt(3.0 * volume_m3 / (math.pi * slope))
    return radius_m, radius_m * slope


def truncated_cone_volume(base_radius_m: float, top_radius_m: float, height_m: float) -> float:
    """Volume of a cone with its tip cut off, `V = pi h / 3 (R^2 + R r + r^2)`.

    Parameters
    ----------
    base_radius_m, top_radius_m
        Radii below and above, m.
    height_m
        Height, m.

    Returns
    -------
    float
        Volume, m3.

    Examples
    --------
    >>> round(truncated_cone_volume(4.0, 2.0, 1.4), 2)
    41.05
    """
    squares_m2 = base_radius_m**2 + base_radius_m * top_radius_m + top_radius_m**2
    return math.pi * height_m / 3.0 * squares_m2


def _pit_volume(
    length_m: float, width_m: float, depth_m: float, batter: float, corner: float
) -> float:
    spread_m = batter * depth_m
    areas_m2 = length_m * width_m + (length_m + width_m) * spread_m + corner * spread_m**2
    return depth_m * areas_m2
