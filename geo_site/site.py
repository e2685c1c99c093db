"""A site: everything that was read, in one metric CRS, checked, nothing computed.

Readers make it; steps read it. Each vector input is a table with the columns of
:data:`INPUT_LAYERS`, always there, empty when the user gave none; ids are text and unique
within a table.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from types import MappingProxyType
from typing import Any, Literal

import geopandas as gpd
import pandas as pd
from pyproj import CRS
from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from geo_site.drawn import Drawn
from geo_site.locate_quality import COLOUR_KINDS
from geo_site.prices import PriceList
from geo_site.pumps import PumpCurve
from geo_site.rainfall import RainfallTable
from geo_site.raster import Raster

__all__ = [
    "INPUT_LAYERS",
    "PRIVATE_THINGS",
    "UTILITY_KINDS",
    "Field",
    "InputLayer",
    "InputRecord",
    "PrivateLocate",
    "Site",
    "Ticket",
    "empty_layer",
    "table_like",
]

UTILITY_KINDS: tuple[str, ...] = (
    "electric",
    "gas",
    "communication",
    "potable_water",
    "reclaimed_water",
    "sewer",
    "unknown",
)
"""Line meanings of the uniform colour code (APWA, colours of ANSI Z535.1), and ``unknown``."""


@dataclass(frozen=True)
class Field:
    """A column of an input table.

    Attributes
    ----------
    name : str
        Column, with its unit as a suffix (``diameter_m``).
    given_as : str
        What the user calls it in ``fields`` and ``units`` (``diameter``).
    type : {"text", "number", "truth", "date"}
        Missing values are None (text, truth, date) or NaN (number).
    dimension : str
        ``"length"``, ``"voltage"`` or ``"-"``: which units ``units`` may name.
    meaning : str
        One sentence.
    choices : tuple of str
        The words accepted; empty: any.
    """

    name: str
    given_as: str
    type: Literal["text", "number", "truth", "date"]
    dimension: str
    meaning: str
    choices: tuple[str, ...] = ()


@dataclass(frozen=True)
class InputLayer:
    """What one vector input may hold.

    Attributes
    ----------
    name : str
        Table in ``[inputs]`` and attribute of :class:`Site`.
    geometry : {"point", "line", "polygon", "any"}
        What its geometries must be.
    fields : tuple of Field
        Its columns, ``id`` first and ``geometry`` apart.
    meaning : str
        One sentence.
    """

    name: str
    geometry: Literal["point", "line", "polygon", "any"]
    fields: tuple[Field, ...]
    meaning: str


def _text(name: str, meaning: str, choices: tuple[str, ...] = ()) -> Field:
    return Field(name, name, "text", "-", meaning, choices)


def _length(given_as: str, meaning: str) -> Field:
    return Field(f"{given_as}_m", given_as, "number", "length", meaning)


_ID = _text("id", "the user's own id; made from the feature's number where there is none")

_LAYERS: tuple[InputLayer, ...] = (
    InputLayer(
        "utilities",
        "line",
        (
            _ID,
            _text("kind", "what the line carries", UTILITY_KINDS),
            _length("diameter", "outside diameter of the line"),
            _text(
                "quality_level",
                "how well its position is known: ASCE 38-22 or PAS 128",
                ("QL-A", "QL-B", "QL-B1", "QL-B2", "QL-B3", "QL-B4", "QL-C", "QL-D"),
            ),
            _length("depth", "depth of cover as told: an expectation, never a clearance"),
            _text("member", "the one-call member that answers for the line"),
            _text("owner", "who owns it"),
            _text("side", "which side of the meter or demarcation", ("public", "private")),
            _text("marked_by", "who marked it"),
            Field("marked_on", "marked_on", "date", "-", "the day of the marks"),
            _text("status", "whether it is in use", ("live", "abandoned")),
            _text("colour", "colour of the paint on the ground", tuple(COLOUR_KINDS)),
            _length("uncertainty", "position uncertainty as stated for this line"),
            Field(
                "shift_accuracy_m",
                "",
                "number",
                "length",
                "accuracy of the datum shift that it came through; filled by the reader",
            ),
        ),
        "marked or mapped buried lines",
    ),
    InputLayer(
        "fixtures",
        "point",
        (
            _ID,
            _text(
                "kind",
                "what stands there",
                (
                    "lamp_post",
                    "outlet",
                    "switch",
                    "meter",
                    "transformer",
                    "hydrant",
                    "manhole",
                    "unknown",
                ),
            ),
        ),
        "point fixtures with a zone all round",
    ),
    InputLayer(
        "structures", "polygon", (_ID, _text("kind", "house, shed, wall, patio ...")), "structures"
    ),
    InputLayer(
        "trees",
        "point",
        (
            _ID,
            _length("trunk_diameter", "stem diameter at breast height"),
            _length("crown_radius", "crown radius"),
            Field("deciduous", "deciduous", "truth", "-", "whether it sheds its leaves at once"),
        ),
        "trees",
    ),
    InputLayer("easements", "polygon", (_ID, _text("kind", "whose right")), "easements"),
    InputLayer("water_bodies", "any", (_ID, _text("kind", "stream, pond, ditch ...")), "waters"),
    InputLayer(
        "septic",
        "any",
        (_ID, _text("kind", "which part", ("tank", "field", "reserve_field", "well", "unknown"))),
        "septic parts and wells",
    ),
    InputLayer(
        "overhead",
        "line",
        (
            _ID,
            _length("height", "lowest height of the wire above ground"),
            Field("voltage_v", "voltage", "number", "voltage", "line voltage"),
        ),
        "overhead lines",
    ),
    InputLayer(
        "exposed",
        "point",
        (
            _ID,
            _text("utility_id", "the line that was seen there, by its id"),
            _length("depth", "depth of cover as measured"),
            _text("exposed_by", "who exposed it"),
            Field("exposed_on", "exposed_on", "date", "-", "the day"),
            _length("uncertainty", "position uncertainty of the point"),
        ),
        "points where a buried line was exposed and measured",
    ),
    InputLayer("access", "point", (_ID,), "where a machine enters the lot"),
    InputLayer("views", "point", (_ID,), "where the feature is looked at from"),
    InputLayer("power", "point", (_ID,), "where electric power can be taken"),
    InputLayer(
        "surfaces",
        "polygon",
        (
            _ID,
            _text("kind", "roof, paving, lawn ..."),
            Field("curve_number", "curve_number", "number", "-", "SCS curve number"),
            Field("runoff_coefficient", "runoff_coefficient", "number", "-", "rational C"),
        ),
        "surfaces that shed storm water",
    ),
    InputLayer(
        "soils",
        "polygon",
        (_ID, _text("kind", "which soil", ("sand", "loam", "clay", "rock", "unknown"))),
        "soils",
    ),
    InputLayer("culverts", "line", (_ID,), "pipes that let water through a bank, drawn downstream"),
)

INPUT_LAYERS: Mapping[str, InputLayer] = MappingProxyType({layer.name: layer for layer in _LAYERS})
"""Every vector input besides the parcel, by name."""

_DTYPES = {"text": "object", "number": "float64", "truth": "object", "date": "object"}


def empty_layer(name: str, crs: CRS) -> gpd.GeoDataFrame:
    """Make the table of an input that was not given: all columns, no rows."""
    columns = {f.name: pd.Series([], dtype=_DTYPES[f.type]) for f in INPUT_LAYERS[name].fields}
    return gpd.GeoDataFrame(columns, geometry=gpd.GeoSeries([], crs=crs), crs=crs)


PRIVATE_THINGS: tuple[str, ...] = (
    "septic",
    "irrigation",
    "yard lighting",
    "propane",
    "pool",
    "outbuilding",
    "pet fence",
    "drains",
)
"""What a lot like this usually has under the ground, and no public ticket marks."""


def table_like(rows: Sequence[Mapping[Any, Any]], like: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Make an input table of rows, with the columns, types and CRS of another.

    Parameters
    ----------
    rows : sequence of mapping
        One for each feature, ``geometry`` with it.
    like : geopandas.GeoDataFrame
        The table that the rows came from.

    Returns
    -------
    geopandas.GeoDataFrame
        What is missing among words stays None.
    """
    # As objects, for a column of words and None would turn into one of words and NaN.
    table = pd.DataFrame(rows, columns=list(like.columns), dtype=object)
    made = gpd.GeoDataFrame(table, geometry="geometry", crs=like.crs)
    numbers = set(like.select_dtypes("number").columns)
    types = {
        name: kind
        for name, kind in like.drop(columns="geometry").dtypes.items()
        if name in numbers or made[name].notna().all()
    }
    return made.astype(types)


@dataclass(frozen=True, kw_only=True)
class Ticket:
    """The one-call ticket, as far as it is known.

    Attributes
    ----------
    as_of : datetime.date or None
        The day on which the plan is judged; None: unknown, so nothing is taken as valid.
    number : str
        Ticket number.
    requested_on, valid_until : datetime.date or None
        Its dates.
    state : str
        Whose one-call law it falls under.
    responses : mapping of str to str
        Member to ``marked``, ``clear`` or ``pending``.
    members : tuple of str
        Members that the centre has told of the ticket; each must answer.
    refreshed_on : datetime.date or None
        The day on which the marks were made anew.
    holidays : tuple of datetime.date or None
        Days that do not count as working days; None: not given, so none can be counted.
    """

    as_of: datetime.date | None = None
    number: str = ""
    requested_on: datetime.date | None = None
    valid_until: datetime.date | None = None
    state: str = ""
    responses: Mapping[str, str] = field(default_factory=dict)
    members: tuple[str, ...] = ()
    refreshed_on: datetime.date | None = None
    holidays: tuple[datetime.date, ...] | None = None


@dataclass(frozen=True, kw_only=True)
class PrivateLocate:
    """A private locator's survey.

    Attributes
    ----------
    by : str
        Who located.
    on, valid_until : datetime.date or None
        Its dates.
    covers : tuple of str
        Private things that it accounts for, by the names of the visit list (``septic`` ...).
    """

    by: str
    on: datetime.date | None = None
    valid_until: datetime.date | None = None
    covers: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class InputRecord:
    """What was read of one input, for the record.

    Attributes
    ----------
    name : str
        Which input.
    path : str
        As written in the site file.
    sha256 : str
        Of the file's bytes (of each, joined by a space, where there are several).
    crs : str
        Name and authority code as found.
    unit : str
        Unit of its coordinates (of its heights for terrain) as found.
    count : int
        Features read, or cells.
    extent : tuple of float
        West, south, east, north in the working CRS, m.
    modified : str
        Day of the file, ISO.
    notes : tuple of str
        What was repaired, dropped or assumed, a sentence each.
    """

    name: str
    path: str
    sha256: str
    crs: str
    unit: str
    count: int
    extent: tuple[float, float, float, float]
    modified: str = ""
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Site:
    """Everything read, in one projected metric CRS.

    Attributes
    ----------
    name : str
        As the user calls it.
    report_units : {"us", "si"}
        How documents speak.
    crs : pyproj.CRS
        Projected, metric: of everything here.
    output_crs : pyproj.CRS
        Of the layers written: the parcel file's if projected, else ``crs``.
    parcel : shapely.MultiPolygon
        The lot.
    parcel_id : str
        Its id in the file.
    parcel_accuracy_m : float
        How well its lines are known; NaN when unknown.
    terrain : Raster
        Ground level, m, float32 or float64; NaN no data; the whole terrain given.
    rmse_z_m : float
        Its vertical error; NaN when unknown.
    vertical_datum : str
        As far as the file tells, else "".
    utilities, fixtures, structures, trees, easements, water_bodies, septic, overhead, exposed,
    access, views, power, surfaces, soils, culverts : geopandas.GeoDataFrame
        Columns of :data:`INPUT_LAYERS`. Utilities and overhead lines reach beyond the lot.
    ticket : Ticket
        Empty when none was given.
    private_locate : PrivateLocate or None
        None when none was given.
    tables : mapping
        The settings as written in the site file, by table; checked by the reader.
    records : tuple of InputRecord
        What was read.
    pumps : tuple of PumpCurve
        The user's; empty when none were given.
    prices : PriceList or None
        The user's; None when none were given.
    rainfall : RainfallTable or None
        The user's; None when none was given: rain is never guessed.
    fixed : Drawn
        Works and ground that the site file pins; empty when it pins none.
    revision : str
        Which state of the plan this is, as documents print it; empty: none is told.
    """

    name: str
    report_units: Literal["us", "si"]
    crs: CRS
    output_crs: CRS
    parcel: MultiPolygon
    parcel_id: str
    parcel_accuracy_m: float
    terrain: Raster
    rmse_z_m: float
    vertical_datum: str
    utilities: gpd.GeoDataFrame
    fixtures: gpd.GeoDataFrame
    structures: gpd.GeoDataFrame
    trees: gpd.GeoDataFrame
    easements: gpd.GeoDataFrame
    water_bodies: gpd.GeoDataFrame
    septic: gpd.GeoDataFrame
    overhead: gpd.GeoDataFrame
    exposed: gpd.GeoDataFrame
    access: gpd.GeoDataFrame
    views: gpd.GeoDataFrame
    power: gpd.GeoDataFrame
    surfaces: gpd.GeoDataFrame
    soils: gpd.GeoDataFrame
    culverts: gpd.GeoDataFrame
    ticket: Ticket
    private_locate: PrivateLocate | None
    tables: Mapping[str, Any]
    records: tuple[InputRecord, ...]
    pumps: tuple[PumpCurve, ...] = ()
    prices: PriceList | None = None
    rainfall: RainfallTable | None = None
    fixed: Drawn = field(default_factory=Drawn)
    revision: str = ""

    def layer(self, name: str) -> gpd.GeoDataFrame:
        """Give an input's table by name."""
        table = getattr(self, name)
        if not isinstance(table, gpd.GeoDataFrame):
            raise KeyError(name)
        return table

    @cached_property
    def rows(self) -> Mapping[str, tuple[Any, ...]]:
        """Rows of every input: ``row.id``, ``row.kind`` ..."""
        return MappingProxyType({name: _rows_of(self.layer(name)) for name in INPUT_LAYERS})

    @cached_property
    def objects(self) -> Mapping[str, tuple[Any, ...]]:
        """Rows that have a geometry, of every input: ``row.id``, ``row.geometry`` ..."""
        return MappingProxyType({name: _drawn(rows) for name, rows in self.rows.items()})

    def outside(self, geometry: BaseGeometry) -> float:
        """Area of a geometry outside the parcel, m2."""
        return float(geometry.difference(self.parcel).area)


def _rows_of(table: gpd.GeoDataFrame) -> tuple[Any, ...]:
    return () if table.empty else tuple(table.itertuples(index=False))


def _drawn(rows: tuple[Any, ...]) -> tuple[Any, ...]:
    return tuple(row for row in rows if row.geometry is not None and not row.geometry.is_empty)
