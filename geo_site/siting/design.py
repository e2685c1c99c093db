"""How large the basin is: void units, arrangements, depth, batter, and what a rule asks for."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, inf, isfinite
from typing import Annotated, Literal, get_args

from pydantic import BeforeValidator, model_validator

from geo_site import units, volumes
from geo_site.errors import SettingRefused
from geo_site.parameters import Degrees, Metres, Parameters, setting

__all__ = [
    "Arrangement",
    "BasinDesign",
    "Batter",
    "SearchWeights",
    "SitingParameters",
    "SoilClass",
    "Wish",
    "design_basin",
]

Batter = Annotated[float, BeforeValidator(units.parse_batter)]
SoilClass = Literal["unknown", "stable_rock", "A", "B", "C"]

_PROTECTION_M = next(rule.depth_m for rule in volumes.DEPTH_RULES if rule.code == "protection")
_SPARE_UNITS = 2  # how many more units than needed an arrangement may hold
_CHOSEN = "chosen for this tool, no source"
_PRACTICE = "common practice, no source"


class SearchWeights(Parameters):
    """What counts for how much while places are searched; only the proportions matter."""

    fall: float = setting(
        3.0, unit="-", meaning="ground above within reach", source=_CHOSEN, within="[0, inf)"
    )
    view: float = setting(
        1.0, unit="-", meaning="nearness to where one looks from", source=_CHOSEN, within="[0, inf)"
    )
    run_on: float = setting(
        2.0, unit="-", meaning="little storm water from above", source=_CHOSEN, within="[0, inf)"
    )
    leaves: float = setting(
        1.0, unit="-", meaning="few tree crowns near by", source=_CHOSEN, within="[0, inf)"
    )
    digging: float = setting(
        1.0, unit="-", meaning="level ground under the pit", source=_CHOSEN, within="[0, inf)"
    )
    route: float = setting(
        1.0, unit="-", meaning="short way for the machine", source=_CHOSEN, within="[0, inf)"
    )
    power: float = setting(
        0.5, unit="-", meaning="nearness to electric power", source=_CHOSEN, within="[0, inf)"
    )
    hand_dig: float = setting(
        2.0, unit="-", meaning="little hand-dig ground near by", source=_CHOSEN, within="[0, inf)"
    )


class SitingParameters(Parameters):
    """Settings of the basin and of the search for its place."""

    unit_length: Metres = setting(
        0.80,
        unit="m",
        meaning="length of one void unit; set to your unit",
        source="an invented round unit",
        within="(0, 5]",
    )
    unit_width: Metres = setting(
        0.60,
        unit="m",
        meaning="width of one void unit; set to your unit",
        source="an invented round unit",
        within="(0, 5]",
    )
    unit_height: Metres = setting(
        0.45,
        unit="m",
        meaning="height of one void unit; set to your unit",
        source="an invented round unit",
        within="(0, 3]",
    )
    units: int | None = setting(
        None,
        unit="-",
        meaning="number of void units in all; none: from the water needed",
        source="chosen by the user",
        within="[1, inf)",
    )
    layers: int = setting(
        1, unit="-", meaning="units above each other", source=_PRACTICE, within="[1, 4]"
    )
    void_ratio: float = setting(
        0.95,
        unit="-",
        meaning="share of a unit's volume that holds water",
        source="from memory: 0.90 to 0.97; the unit's data sheet decides",
        within="(0, 1]",
    )
    cover: Metres = setting(
        0.15, unit="m", meaning="gravel over the units", source=_PRACTICE, within="[0, 2]"
    )
    bedding: Metres = setting(
        0.10, unit="m", meaning="bedding under the units", source=_PRACTICE, within="[0, 1]"
    )
    overdig: Metres = setting(
        0.30,
        unit="m",
        meaning="gravel-filled room beside the units, each side",
        source=_PRACTICE,
        within="[0, 2]",
    )
    soil_class: SoilClass = setting(
        "unknown",
        unit="-",
        meaning="soil class as found on site by a competent person",
        source="29 CFR 1926 Subpart P, appendix A",
    )
    competent_person: bool = setting(
        False,
        unit="-",
        meaning="a competent person on site answers for sides steeper than the soil class allows",
        source="29 CFR 1926.652(a)(1)",
    )
    batter: Batter | None = setting(
        None,
        unit="-",
        meaning="sides of the excavation, horizontal per vertical; none: by soil class",
        source="29 CFR 1926 Subpart P, appendix B, table B-1",
        within="[0, 10]",
    )
    position_step: Metres = setting(
        0.25, unit="m", meaning="step between places tried", source=_CHOSEN, within="[0.05, 0.25]"
    )
    rotation_step: Degrees = setting(
        5.0, unit="deg", meaning="step between rotations tried", source=_CHOSEN, within="[1, 90]"
    )
    greatest_rise: Metres = setting(
        0.6,
        unit="m",
        meaning="largest difference of ground level over the pit floor accepted",
        source=_CHOSEN,
        within="(0, 5]",
    )
    most_elongated: float = setting(
        4.0, unit="-", meaning="largest length over width", source=_CHOSEN, within="[1, inf)"
    )
    most_units: int = setting(
        200, unit="-", meaning="most void units in all", source=_CHOSEN, within="[1, 2000]"
    )
    shortlist: int = setting(
        12, unit="-", meaning="places worked out further", source=_CHOSEN, within="[1, 100]"
    )
    candidates: int = setting(
        5, unit="-", meaning="places shown", source=_CHOSEN, within="[1, 100]"
    )
    distinct_distance: Metres = setting(
        5.0,
        unit="m",
        meaning="least distance between the centres of two places shown",
        source=_CHOSEN,
        within="[0, 100]",
    )
    view_range: Metres = setting(
        30.0, unit="m", meaning="distance of no view at all", source=_CHOSEN, within="(0, 1000]"
    )
    power_range: Metres = setting(
        30.0, unit="m", meaning="distance of no power at all", source=_CHOSEN, within="(0, 1000]"
    )
    route_range: Metres = setting(
        60.0, unit="m", meaning="machine way of no use at all", source=_CHOSEN, within="(0, 5000]"
    )
    run_on_radius: Metres = setting(
        3.0, unit="m", meaning="how far round storm water counts", source=_CHOSEN, within="[0, 50]"
    )
    leaf_radius: Metres = setting(
        6.0, unit="m", meaning="how far round crowns count", source=_PRACTICE, within="(0, 50]"
    )
    assumed_crown_radius: Metres = setting(
        4.0,
        unit="m",
        meaning="crown radius of a tree whose crown is not given",
        source=_CHOSEN,
        within="[0, 30]",
    )
    search_weights: SearchWeights = SearchWeights()

    @property
    def depth_m(self) -> float:
        """From the rim to the pit floor, m."""
        return self.cover + self.layers * self.unit_height + self.bedding

    @property
    def allowed_batter(self) -> float:
        """Steepest side for the soil class, horizontal per vertical; unknown soil is class C."""
        if self.soil_class == "unknown":
            return volumes.BATTER_OF_UNKNOWN_SOIL
        return _BATTERS[self.soil_class]

    @property
    def is_steeper(self) -> bool:
        """Whether the batter set is steeper than the soil class allows."""
        return self.batter is not None and self.batter < self.allowed_batter

    @model_validator(mode="after")
    def _refuse_a_steep_batter(self) -> SitingParameters:
        if self.is_steeper and not (self.competent_person and self.depth_m < _PROTECTION_M):
            raise ValueError(
                f"a batter of {self.batter:g} is steeper than the {self.allowed_batter:g} of soil "
                f"class {self.soil_class}: it needs competent_person = true and a depth under "
                f"{_PROTECTION_M:.3f} m (5 ft), here {self.depth_m:.2f} m"
            )
        if self.units is not None and self.units % self.layers:
            raise ValueError(f"{self.units} units do not make {self.layers} equal layers")
        return self


_BATTERS = {
    name: volumes.EXCAVATION_BATTERS[soil]
    for name, soil in zip(get_args(SoilClass)[1:], volumes.EXCAVATION_BATTERS, strict=True)
}


@dataclass(frozen=True, kw_only=True)
class Wish:
    """What the stream above the basin should be.

    Attributes
    ----------
    wanted_fall_m : float
        Fall wanted from lip to basin, m, greater than 0.
    least_length_m, greatest_length_m : float
        How near to and how far from the basin the lip may be, m.
    """

    wanted_fall_m: float
    least_length_m: float
    greatest_length_m: float

    def __post_init__(self) -> None:
        if not (self.wanted_fall_m > 0.0 and 0.0 <= self.least_length_m <= self.greatest_length_m):
            raise ValueError("a wish has a fall above 0 and lengths in rising order")


@dataclass(frozen=True, kw_only=True)
class Arrangement:
    """Void units of one layer side by side.

    Attributes
    ----------
    rows, columns : int
        Units side by side across and along their own length.
    length_m, width_m : float
        Long and short side of the whole, m.
    """

    rows: int
    columns: int
    length_m: float
    width_m: float


@dataclass(frozen=True, kw_only=True)
class BasinDesign:
    """A basin before it has a place.

    Attributes
    ----------
    units : int
        Least number of void units in all layers.
    arrangements : tuple of Arrangement
        Every one to try, the least elongated first.
    layers : int
        Units above each other.
    depth_m : float
        From the rim to the pit floor, m.
    unit_height_m : float
        Height of the units, all layers together, m.
    cover_m, bedding_m, overdig_m : float
        Gravel above, below and beside the units, m.
    batter : float
        Sides of the excavation, horizontal per vertical.
    deepest_m : float
        The excavation stays shallower than this, m: 5 ft where the batter is steeper than the
        soil class allows, else infinite.
    stored_m3 : float
        Water in the units alone, m3: the gravel beside and above them is not counted.
    flags : tuple of str
        Duties of its depth and choices to be answered for, a sentence each.
    """

    units: int
    arrangements: tuple[Arrangement, ...]
    layers: int
    depth_m: float
    unit_height_m: float
    cover_m: float
    bedding_m: float
    overdig_m: float
    batter: float
    deepest_m: float
    stored_m3: float
    flags: tuple[str, ...]


def design_basin(needed_m3: float, parameters: SitingParameters) -> BasinDesign:
    """Choose how many void units hold the water, and every way to lay them.

    The number is that of the settings, else the least whose net volume holds the water needed;
    then arrangements of up to two more units are tried too, for a prime number has only rows.

    Parameters
    ----------
    needed_m3 : float
        Water that the basin must hold, m3, at least 0.
    parameters : SitingParameters
        Units, depth, soil.

    Returns
    -------
    BasinDesign
        A number of units given by the user is kept even where it holds less; a flag says so.

    Raises
    ------
    SettingRefused
        More than ``most_units`` would be needed.
    ValueError
        ``needed_m3`` is negative or not finite.

    Examples
    --------
    >>> design = design_basin(2.4, SitingParameters())
    >>> design.units, round(design.stored_m3, 3), round(design.depth_m, 2), design.batter
    (12, 2.462, 0.7, 1.5)
    >>> [(a.rows, a.columns) for a in design.arrangements[:2]]
    [(4, 3), (3, 4)]
    """
    if not (isfinite(needed_m3) and needed_m3 >= 0.0):
        raise ValueError(f"the water needed is a volume of at least 0, not {needed_m3!r}")
    net_m3 = (
        parameters.unit_length
        * parameters.unit_width
        * parameters.unit_height
        * parameters.void_ratio
    )
    count = parameters.units or _units_for(needed_m3, net_m3, parameters)
    arrangements, flags = _arrangements(count, parameters)
    batter = parameters.allowed_batter if parameters.batter is None else parameters.batter
    return BasinDesign(
        units=count,
        arrangements=arrangements,
        layers=parameters.layers,
        depth_m=parameters.depth_m,
        unit_height_m=parameters.layers * parameters.unit_height,
        cover_m=parameters.cover,
        bedding_m=parameters.bedding,
        overdig_m=parameters.overdig,
        batter=batter,
        deepest_m=_PROTECTION_M if parameters.is_steeper else inf,
        stored_m3=count * net_m3,
        flags=(*flags, *_flags(needed_m3, count * net_m3, parameters)),
    )


def _units_for(needed_m3: float, net_m3: float, parameters: SitingParameters) -> int:
    per_layer = ceil(needed_m3 / (net_m3 * parameters.layers) * (1.0 - 1e-12))
    count = max(per_layer, 1) * parameters.layers
    if count > parameters.most_units:
        raise SettingRefused(
            f"the {needed_m3:.2f} m3 of water needed take {count} void units, more than "
            f"most_units = {parameters.most_units}",
            remedy="set siting.unit_length, unit_width, unit_height, layers or most_units",
        )
    return count


def _arrangements(
    count: int, parameters: SitingParameters
) -> tuple[tuple[Arrangement, ...], tuple[str, ...]]:
    per_layer = count // parameters.layers
    spare = 0 if parameters.units else _SPARE_UNITS
    every = [
        _arranged(rows, number // rows, parameters)
        for number in range(per_layer, per_layer + spare + 1)
        for rows in range(1, number + 1)
        if number % rows == 0
    ]
    every.sort(key=lambda a: (a.rows * a.columns, _elongation(a), a.columns))
    distinct = {(round(a.length_m, 9), round(a.width_m, 9)): a for a in reversed(every)}
    kept = [a for a in every if distinct[round(a.length_m, 9), round(a.width_m, 9)] is a]
    compact = [a for a in kept if _elongation(a) <= parameters.most_elongated + 1e-9]
    if compact:
        return tuple(compact), ()
    least = min(kept, key=_elongation)
    return (least,), (
        f"no arrangement of {count} units is shorter than {parameters.most_elongated:g} times "
        f"its width: {least.rows} by {least.columns} is used",
    )


def _arranged(rows: int, columns: int, parameters: SitingParameters) -> Arrangement:
    sides = columns * parameters.unit_length, rows * parameters.unit_width
    return Arrangement(rows=rows, columns=columns, length_m=max(sides), width_m=min(sides))


def _elongation(arrangement: Arrangement) -> float:
    return arrangement.length_m / arrangement.width_m


def _flags(needed_m3: float, stored_m3: float, parameters: SitingParameters) -> list[str]:
    flags = [
        f"{rule.code}: {rule.duty} ({rule.source})"
        for rule in volumes.depth_rules(parameters.depth_m)
    ]
    if stored_m3 < needed_m3 * (1.0 - 1e-9):
        flags.append(f"storage: the units hold {stored_m3:.2f} m3, {needed_m3:.2f} m3 are needed")
    if parameters.soil_class == "unknown":
        flags.append("soil: nobody has classed the soil; sides as for class C")
    if parameters.is_steeper:
        flags.append(
            f"competent person: sides at {parameters.batter:g} horizontal to 1 vertical are "
            f"steeper than soil class {parameters.soil_class} allows"
        )
    return flags
