"""Input that cannot be used is refused in one line that says what is wrong and what is right.

:data:`BAD_INPUTS` is the list, as data: how a good site is broken, and the words that the
message must hold. Every case starts from a site that is read without complaint.
"""

from __future__ import annotations

import json
import os
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from shapely.geometry import LineString, MultiPoint, MultiPolygon, Point, Polygon, box
from site_files import CRS, GAS, LOT, ORIGIN, SiteFolder, at_origin, write_terrain, write_vector

from geo_site.errors import InputRefused
from geo_site.readers import read_site, site_file

Break = Callable[[SiteFolder], object]


@dataclass(frozen=True)
class BadInput:
    """One way in which input cannot be used.

    ``name`` is what is wrong, ``break_it`` does it to a good site, ``words`` must be told.
    """

    name: str
    break_it: Break
    words: tuple[str, ...]


def _parcel(*geometries, crs: str | None = CRS, file: str = "parcel.gpkg", **columns) -> Break:
    def break_it(site: SiteFolder) -> None:
        site.inputs["parcel"]["path"] = file
        (site.folder / file).unlink(missing_ok=True)
        write_vector(site.folder / file, [at_origin(g) for g in geometries], columns, crs=crs)

    return break_it


def _say(name: str, **keys) -> Break:
    return lambda site: site.inputs[name].update(keys)


def _bytes(file: str, content: bytes) -> Break:
    return lambda site: (site.folder / file).write_bytes(content)


def _line(geometry=GAS, **columns) -> Break:
    return lambda site: site.utilities(geometry, **columns)


def _top(**keys) -> Break:
    return lambda site: site.document.update(keys)


def _both(*steps: Break) -> Break:
    return lambda site: [step(site) for step in steps]


def _add(name: str, geometries, **columns) -> Break:
    return lambda site: site.add(name, geometries, **columns)


def _without(file: str) -> Break:
    return lambda site: (site.folder / file).unlink()


def _cut_terrain(site: SiteFolder) -> None:
    path = site.folder / "terrain.tif"
    path.write_bytes(path.read_bytes()[:9000])


def _no_terrain_crs(site: SiteFolder) -> None:
    write_terrain(site.folder / "terrain.tif", crs=None)


def _far_terrain(site: SiteFolder) -> None:
    write_terrain(site.folder / "terrain.tif", west_north=(600_000.0, 4_000_060.0))


def _empty_terrain(site: SiteFolder) -> None:
    write_terrain(site.folder / "terrain.tif", np.full((90, 100), np.nan))


def _hole_on_lot(site: SiteFolder) -> None:
    levels = np.full((90, 100), 100.0)
    levels[25:65, 25:75] = np.nan
    write_terrain(site.folder / "terrain.tif", levels)


def _no_unit(site: SiteFolder) -> None:
    write_terrain(site.folder / "terrain.tif", unit=None)


def _shapefile(with_prj: bool) -> Break:
    def break_it(site: SiteFolder) -> None:
        _parcel(LOT, file="parcel.shp", lot=["14"])(site)
        if not with_prj:
            (site.folder / "parcel.prj").unlink()

    return break_it


def _geojson(*features, **site_keys) -> Break:
    def break_it(site: SiteFolder) -> None:
        collection = {"type": "FeatureCollection", "features": list(features)}
        (site.folder / "lines.geojson").write_text(json.dumps(collection), encoding="utf-8")
        site.inputs["utilities"] = {"path": "lines.geojson", **site_keys}

    return break_it


def _feature(coordinates, **properties):
    geometry = {"type": "LineString", "coordinates": coordinates}
    return {"type": "Feature", "properties": properties, "geometry": geometry}


def _two_layers(site: SiteFolder) -> None:
    path = site.folder / "utilities.gpkg"
    write_vector(path, [at_origin(GAS)], {"kind": ["gas"]}, layer="second")


def _two_lines(**columns) -> Break:
    def break_it(site: SiteFolder) -> None:
        path = site.folder / "utilities.gpkg"
        path.unlink()
        water = LineString([(-50.0, 5.0), (90.0, 5.0)])
        write_vector(path, [at_origin(GAS), at_origin(water)], columns)

    return break_it


def _nad27_lines(site: SiteFolder) -> None:
    path = site.folder / "utilities.gpkg"
    path.unlink()
    write_vector(path, [at_origin(GAS)], {"kind": ["gas"]}, crs="EPSG:26717")


def _listed(name: str, content: str | bytes) -> Break:
    """Give a table without geometry: ``pumps.csv``, ``prices.csv`` or ``rainfall.csv``."""

    def break_it(site: SiteFolder) -> None:
        as_bytes = content if isinstance(content, bytes) else content.encode()
        (site.folder / f"{name}.csv").write_bytes(as_bytes)
        site.inputs[name] = {"path": f"{name}.csv"}

    return break_it


def _rain(*rows: str, unit: str = "(inches)", kind: str = "depth", years: str = "2,10") -> Break:
    """Give a table of rain as the server gives it."""
    head = f"Point precipitation frequency estimates {unit}\nData type: Precipitation {kind}\n"
    table = f"by duration for ARI (years):, {years}\n" + "".join(f"{row}\n" for row in rows)
    return _listed("rainfall", head + "\nPRECIPITATION FREQUENCY ESTIMATES\n" + table)


def _pumps(pump: str, *points: str) -> Break:
    """Give a table of one pump in gpm and ft."""
    rows = "".join(f"{pump},{point}\n" for point in points)
    return _listed("pumps", f"pump,flow_gpm,head_ft\n{rows}")


def _zip_of(*members: tuple[str, bytes]) -> Break:
    def break_it(site: SiteFolder) -> None:
        with zipfile.ZipFile(site.folder / "parcel.zip", "w") as archive:
            for name, content in members:
                archive.writestr(name, content)
        site.inputs["parcel"]["path"] = "parcel.zip"

    return break_it


VRT = b'<VRTDataset rasterXSize="1" rasterYSize="1"><SRS>EPSG:32617</SRS></VRTDataset>'
OGR_VRT = b"<OGRVRTDataSource><OGRVRTLayer name='x'/></OGRVRTDataSource>"
OPEN_LOT = LineString([(0.0, 0.25), (0.0, 30.0), (40.0, 30.0), (40.0, 0.0), (0.0, 0.0)])
BOW_TIE = Polygon([(0.0, 0.0), (40.0, 30.0), (40.0, 0.0), (0.0, 30.0)])
CROSSING = LineString([(0, 0), (40, 30), (40, 0), (0, 30), (0, 0)])

BAD_INPUTS: tuple[BadInput, ...] = (
    # paths and files
    BadInput("missing file", _without("utilities.gpkg"), ("utilities.gpkg", "no such file")),
    BadInput("a folder", _say("terrain", path="."), ("folder",)),
    BadInput("an empty file", _bytes("parcel.gpkg", b""), ("parcel.gpkg", "empty")),
    BadInput(
        "an address", _say("parcel", path="https://example.org/p.gpkg"), ("address", "this machine")
    ),
    BadInput("a virtual path", _say("terrain", path="/vsicurl/x.tif"), ("virtual path",)),
    BadInput("a virtual path, other case", _say("terrain", path="/VSIMEM/x.tif"), ("virtual",)),
    BadInput("a driver's prefix", _say("parcel", path="GPKG:parcel.gpkg:x"), ("prefix",)),
    BadInput("text as a path", _say("terrain", path="<VRTDataset/>"), ("text that describes",)),
    BadInput("a NUL in the path", _say("parcel", path="a\u0000.gpkg"), ("NUL",)),
    BadInput(
        "path and layer in one", _say("parcel", path="parcel.gpkg|layername=x"), ("layer", "apart")
    ),
    BadInput("a VRT called .tif", _bytes("terrain.tif", VRT), ("terrain.tif", "VRT")),
    BadInput("a VRT called .gpkg", _bytes("parcel.gpkg", OGR_VRT), ("parcel.gpkg", "VRT")),
    BadInput(
        "JSON called .gpkg", _bytes("parcel.gpkg", b'{"type": "x"}'), ("GeoJSON", "says .gpkg")
    ),
    BadInput("a web page", _bytes("parcel.gpkg", b"<!DOCTYPE html>"), ("HTML",)),
    BadInput(
        "a pointer to large-file storage",
        _bytes("terrain.tif", b"version https://git-lfs.github.com/spec/v1\n"),
        ("pointer",),
    ),
    BadInput("not a format", _bytes("parcel.gpkg", b"\x7fELF....."), ("no format that is read",)),
    BadInput(
        "a broken GeoPackage",
        _bytes("utilities.gpkg", b"SQLite format 3\x00" + b"\x01" * 400),
        ("utilities.gpkg", "cannot be read"),
    ),
    BadInput("a truncated raster", _cut_terrain, ("terrain.tif",)),
    BadInput("a raster as parcel", _say("parcel", path="terrain.tif"), ("not a raster",)),
    BadInput("a vector file as terrain", _say("terrain", path="parcel.gpkg"), ("parcel.gpkg",)),
    BadInput("an archive with nothing", _zip_of(("a.txt", b"x")), ("no shapefile",)),
    BadInput(
        "an archive that climbs out", _zip_of(("../a.shp", b"x")), ("parcel.zip", "outside it")
    ),
    BadInput(
        "several shapefiles", _zip_of(("a.shp", b"x"), ("b.shp", b"x")), ("layer = one of a, b",)
    ),
    BadInput("an archived disguise", _zip_of(("a.shp", OGR_VRT)), ("a.shp is no shapefile",)),
    BadInput(
        "an archive of too many",
        _zip_of(*((f"{n}.txt", b"") for n in range(300))),
        ("more than 200",),
    ),
    BadInput("no such layer", _say("utilities", layer="x"), ("no layer x", "layers: utilities")),
    BadInput(
        "two layers, no choice", _two_layers, ("several layers", "layer = one of utilities, second")
    ),
    # coordinate systems
    BadInput("terrain without CRS", _no_terrain_crs, ("terrain.tif", "CRS")),
    BadInput("a shapefile without .prj", _shapefile(False), ("parcel.shp", "crs = ")),
    BadInput("a GeoPackage without CRS", _parcel(LOT, crs=None), ("parcel.gpkg", "which CRS")),
    BadInput(
        "a stated CRS that the file denies",
        _say("utilities", crs="EPSG:2154"),
        ("Lambert-93", "leave crs out"),
    ),
    BadInput(
        "an unknown CRS",
        _both(_shapefile(False), _say("parcel", crs="EPSG:999999")),
        ("EPSG:999999", "not known"),
    ),
    BadInput(
        "metres that pass for degrees",
        _geojson(_feature([[500_000.0, 4_000_000.0], [500_050.0, 4_000_000.0]])),
        ("lines.geojson", "not degrees"),
    ),
    BadInput("a coarse datum shift", _nad27_lines, ("datum shift", "shift_accuracy")),
    BadInput(
        "lines on another continent",
        _geojson(_feature([[10.0, 50.0], [10.001, 50.0]], kind="gas")),
        ("km from the parcel",),
    ),
    BadInput("no overlap", _far_terrain, ("do not overlap", "600000.0 to 600100.0")),
    BadInput("terrain of no data", _empty_terrain, ("terrain.tif", "no cell")),
    BadInput("no data on the lot", _hole_on_lot, ("no level anywhere on the parcel",)),
    BadInput("levels without a unit", _no_unit, ("terrain.tif", "vertical_unit")),
    # the parcel
    BadInput(
        "a self-crossing parcel", _parcel(BOW_TIE), ("crosses itself at 500020.000, 4000015",)
    ),
    BadInput("a self-crossing boundary", _parcel(CROSSING), ("crosses itself at 500020.000",)),
    BadInput(
        "lines that do not close",
        _parcel(OPEN_LOT),
        ("500000.000, 4000000.000", "500000.000, 4000000.250", "gap of 0.250 metre"),
    ),
    BadInput("points as parcel", _parcel(Point(5, 5)), ("Point", "lines that close")),
    BadInput("areas and lines as parcel", _parcel(LOT, GAS), ("LineString, Polygon",)),
    BadInput(
        "two parcels and no choice",
        _parcel(LOT, box(40, 0, 80, 30), lot=["14", "15"]),
        ("2 parcels", "lot = 14", "lot = 15", "at = [500020.0, 4000015.0]"),
    ),
    BadInput(
        "a choice that fits none",
        _say("parcel", where={"lot": "99"}),
        ("no parcel has lot = 99", "14"),
    ),
    BadInput(
        "a choice by no field", _say("parcel", where={"plot": "14"}), ("no field plot", "lot")
    ),
    BadInput("a point in no parcel", _say("parcel", at=[1.0, 2.0]), ("no parcel holds the point",)),
    BadInput("where and at", _say("parcel", at=[1.0, 2.0], where={"lot": "14"}), ("not both",)),
    BadInput("no parcels in the file", _parcel(), ("no features",)),
    # fields, words, numbers
    BadInput(
        "a missing field",
        _say("utilities", fields={"diameter": "DIA"}),
        ("no field DIA", "id, kind, diameter"),
    ),
    BadInput(
        "a field that is not ours",
        _say("utilities", fields={"shade": "kind"}),
        ("shade", "valid: id, kind, diameter"),
    ),
    BadInput(
        "an unknown kind", _line(kind="STEAM"), ("id G1", "unknown kind: STEAM", "electric, gas")
    ),
    BadInput(
        "a kind mapped to no kind",
        _both(_line(kind="E"), _say("utilities", kinds={"E": "electricity"})),
        ("electricity is not a kind", "electric, gas"),
    ),
    BadInput(
        "an unknown quality level", _line(quality_level="good"), ("quality_level: good", "QL-A")
    ),
    BadInput(
        "a colour that is another kind's",
        _line(kind="gas", colour="blue"),
        ("id G1", "kind gas and colour blue", "potable_water"),
    ),
    BadInput("a colour of no line", _line(colour="pink"), ("pink", "red, yellow")),
    BadInput(
        "an exposed point of no line",
        _add("exposed", [Point(5, 25)], utility_id=["G9"]),
        ("exposed.gpkg", "id 1", "name no line", "utility_id"),
    ),
    BadInput(
        "an exposed point far from its line",
        _add("exposed", [Point(5, 19.9)], utility_id=["G1"]),
        ("exposed.gpkg", "id 1", "over 5 m"),
    ),
    BadInput(
        "exposed after the plan",
        _both(
            _add("exposed", [Point(5, 25)], utility_id=["G1"], exposed_on=["2026-06-02"]),
            _top(ticket={"as_of": "2026-06-01"}),
        ),
        ("id 1", "after the day of the plan"),
    ),
    BadInput("a day that cannot be", _line(marked_on="0226-03-01"), ("id G1", "0226-03-01")),
    BadInput("an unknown side", _line(side="left"), ("left", "public, private")),
    BadInput("a negative diameter", _line(diameter=-9999.0), ("id G1", "-9999 m", "no_data")),
    BadInput("an absurd diameter", _line(diameter=150.0), ("150 m", "units")),
    BadInput("a diameter in words", _line(diameter="wide"), ("id G1", "wide")),
    BadInput("an unknown unit", _say("utilities", units={"diameter": "furlong"}), ("furlong",)),
    BadInput("a unit where there is none", _say("utilities", units={"kind": "m"}), ("units.kind",)),
    BadInput("a day that is none", _line(marked_on="last week"), ("last week", "2026-11-30")),
    BadInput(
        "ids that are double",
        _both(
            _two_lines(LOC=["A", "A"], kind=["gas", "sewer"]),
            _say("utilities", fields={"id": "LOC"}),
        ),
        ("id A", "not unique"),
    ),
    BadInput(
        "ids that are missing",
        _both(
            _two_lines(LOC=["A", None], kind=["gas", "sewer"]),
            _say("utilities", fields={"id": "LOC"}),
        ),
        ("numbers 2", "without an id"),
    ),
    # geometry
    BadInput("points where lines belong", _line(Point(5, 5)), ("wants lines", "Point")),
    BadInput("areas where lines belong", _line(LOT), ("wants lines", "Polygon")),
    BadInput("lines where points belong", _add("trees", [GAS]), ("wants points", "LineString")),
    BadInput(
        "several points in one tree",
        _add("trees", [MultiPoint([(1, 1), (2, 2)])]),
        ("trees.gpkg", "MultiPoint"),
    ),
    BadInput("null geometry", _line(None), ("id 1", "without geometry")),
    BadInput("empty geometry", _line(LineString()), ("id 1", "without geometry")),
    BadInput("a line of no length", _line(LineString([(1, 1), (1, 1)])), ("id G1", "no length")),
    BadInput(
        "a coordinate that is no number",
        _line(LineString([(0, 0), (np.nan, 1), (5, 5)])),
        ("not finite",),
    ),
    BadInput(
        "a self-crossing house",
        _add("structures", [BOW_TIE]),
        ("structures.gpkg", "crosses itself at 500020.000", "repair"),
    ),
    # the site file
    BadInput(
        "an unknown input", lambda s: s.inputs.update(tress={"path": "x"}), ("tress", "trees")
    ),
    BadInput("an unknown key", _say("parcel", acuracy=1.0), ("inputs.parcel.acuracy", "accuracy")),
    BadInput("an unknown word at the top", _top(units="si"), ("units", "report_units")),
    BadInput("no terrain", lambda s: s.inputs.pop("terrain"), ("no [inputs.terrain]",)),
    BadInput("no path", lambda s: s.inputs["parcel"].pop("path"), ("[inputs.parcel] has no path",)),
    BadInput("units of no system", _top(report_units="metric"), ("report_units", "'us' or 'si'")),
    BadInput("an accuracy below nothing", _say("parcel", accuracy=-1.0), ("accuracy",)),
    BadInput("an unknown vertical unit", _say("terrain", vertical_unit="yd"), ("vertical_unit",)),
    BadInput(
        "a ticket day that is none",
        _top(ticket={"as_of": "soon"}),
        ("ticket.as_of", "2026-11-30"),
    ),
    BadInput(
        "a ticket that ends before it begins",
        _top(ticket={"requested_on": "2026-05-02", "valid_until": "2026-05-01"}),
        ("2026-05-01 is before requested_on 2026-05-02",),
    ),
    BadInput(
        "a response of no meaning",
        _top(ticket={"responses": {"Gas Co": "ok"}}),
        ("'marked', 'clear' or 'pending'",),
    ),
    BadInput(
        "a ticket of a year that cannot be",
        _top(ticket={"requested_on": "2206-05-01"}),
        ("ticket.requested_on", "2206"),
    ),
    BadInput(
        "marks made anew before the request",
        _top(ticket={"requested_on": "2026-05-02", "refreshed_on": "2026-05-01"}),
        ("refreshed_on 2026-05-01 is before",),
    ),
    BadInput("a holiday that is no day", _top(ticket={"holidays": ["May Day"]}), ("not a day",)),
    BadInput(
        "a private locate of what is not on our list",
        _top(private_locate={"by": "A", "covers": ["treasure"]}),
        ("treasure", "septic, irrigation"),
    ),
    BadInput(
        "a private locate by nobody", _top(private_locate={"on": "2026-05-01"}), ("has no by",)
    ),
    # tables of pumps and prices
    BadInput(
        "pumps without a file", lambda s: s.inputs.update(pumps={"path": "none.csv"}), ("no such",)
    ),
    BadInput(
        "pumps of an unknown key",
        lambda s: s.inputs.update(pumps={"path": "pumps.csv", "unit": "gpm"}),
        ("inputs.pumps.unit", "one_point"),
    ),
    BadInput("no rows of pumps", _pumps("A"), ("pumps.csv", "no rows")),
    BadInput(
        "a pump column of no meaning",
        _listed("pumps", "pump,flow_gpm,head_ft,colour\nA,0,20,red\n"),
        ("row 1", "unknown column colour", "power_w"),
    ),
    BadInput(
        "a pump curve without a unit",
        _listed("pumps", "pump,flow,head_ft\nA,0,20\n"),
        ("no column of flow with its unit", "flow_gpm"),
    ),
    BadInput(
        "a pump curve in two units",
        _listed("pumps", "pump,flow_gpm,flow_lps,head_ft\nA,0,0,20\n"),
        ("flow_gpm and flow_lps",),
    ),
    BadInput("a gap in a pump curve", _pumps("A", "0,20", "50,", "80,5"), ("row 3", "head_ft")),
    BadInput(
        "a unit in a cell", _pumps("A", "0,20", "50 gpm,15"), ("row 3", "flow_gpm", "'50 gpm'")
    ),
    BadInput("a formula in a cell", _pumps("A", "=1+1,20"), ("row 2", "'=1+1' is not a number")),
    BadInput("a negative head", _pumps("A", "0,20", "50,-15"), ("row 3, column head_ft: -15",)),
    BadInput(
        "a flow twice", _pumps("A", "0,20", "50,15", "50,14"), ("row 4", "flow of row 3 again")
    ),
    BadInput("a pump of two points", _pumps("A", "0,20", "50,15"), ("A has 2 points", "one_point")),
    BadInput("a pump without a name", _pumps("", "0,20", "50,15", "90,5"), ("row 2, column pump",)),
    BadInput(
        "a row with a cell too many",
        _pumps("A", "0,20", "50,15,7"),
        ("row 3: 4 cells, the header has 3",),
    ),
    BadInput(
        "a decimal comma", _pumps("A", '"0,5",20'), ("row 2, column flow_gpm", "decimal point")
    ),
    BadInput("a quote left open", _pumps('"A', "0,20"), ("quoted cell is not closed",)),
    BadInput("pumps that are no text", _listed("pumps", b"PK\x03\x04\xff"), ("not UTF-8",)),
    BadInput(
        "a price for an unknown unit",
        _listed("prices", "item,unit,price\nliner,roll,5\n"),
        ("row 2, column unit", "'roll'", "yd3"),
    ),
    BadInput(
        "a price column of no meaning",
        _listed("prices", "item,unit,cost\nliner,m2,5\n"),
        ("unknown column cost", "price"),
    ),
    BadInput(
        "prices without prices", _listed("prices", "item,unit\nliner,m2\n"), ("no column price",)
    ),
    BadInput(
        "a price that is no number",
        _listed("prices", "item,unit,price\nliner,m2,$5\n"),
        ("row 2, column price", "'$5'"),
    ),
    BadInput(
        "a negative price",
        _listed("prices", "item,unit,price\nliner,m2,-5\n"),
        ("row 2, column price: -5 is negative",),
    ),
    BadInput(
        "an item priced twice",
        _listed("prices", "item,unit,price\nliner,m2,5\nLiner,ft2,1\n"),
        ("row 3, column item: Liner stands twice",),
    ),
    BadInput(
        "prices in two currencies",
        _listed("prices", "item,unit,price,currency\nliner,m2,5,EUR\nsod,m2,1,USD\n"),
        ("row 3, column currency: 'USD' after 'EUR'",),
    ),
    # tables of rain
    BadInput(
        "rain without a unit", _rain("5-min:, 0.4, 0.6", unit=""), ("rainfall.csv", "name no unit")
    ),
    BadInput(
        "rain in two units",
        _rain("5-min:, 0.4, 0.6", unit="(inches) (millimeters)"),
        ("name inches and millimeters",),
    ),
    BadInput(
        "rain as intensities", _rain("5-min:, 4.8, 7.2", kind="intensity"), ("table of depths",)
    ),
    BadInput("a gap in the rain", _rain("5-min:, 0.4,"), ("row 6, column 3: the cell is empty",)),
    BadInput("a depth of rain missing", _rain("5-min:, 0.4"), ("row 6: 1 depths for 2",)),
    BadInput("rain of 0", _rain("5-min:, 0, 0.6"), ("row 6, column 2: a depth of 0",)),
    BadInput("rain that is no number", _rain("5-min:, -9.9, 0.6"), ("row 6, column 2: '-9.9'",)),
    BadInput(
        "less rain in a longer time",
        _rain("5-min:, 0.4, 0.6", "10-min:, 0.5, 0.55"),
        ("row 7, column 3: less rain for a longer duration",),
    ),
    BadInput(
        "less rain in a rarer storm",
        _rain("5-min:, 0.4, 0.3"),
        ("row 6, column 3: less rain for a longer return period",),
    ),
    BadInput(
        "durations of rain out of order",
        _rain("10-min:, 0.4, 0.6", "5-min:, 0.5, 0.7"),
        ("row 7: a duration does not follow a smaller one",),
    ),
    BadInput(
        "a return period that is none",
        _rain("5-min:, 0.4, 0.6", years="2,x"),
        ("row 5, column 3: 'x' is no return period",),
    ),
    BadInput("no rows of rain", _rain("total:, 0.4, 0.6"), ("row 5: no rows of durations",)),
    BadInput(
        "rain in a table of no known form",
        _listed("rainfall", "minutes,depth\n5,0.4\n"),
        ("by duration for", "duration_min", "2_year_in"),
    ),
    BadInput(
        "rain in a column without a unit",
        _listed("rainfall", "duration_min,2_year_in,10_year\n5,0.4,0.6\n"),
        ("row 1, column 3: '10_year'",),
    ),
    BadInput(
        "rain in columns of two units",
        _listed("rainfall", "duration_min,2_year_in,10_year_mm\n5,0.4,15\n"),
        ("row 1: columns in in and mm",),
    ),
)


@pytest.fixture(autouse=True)
def _no_settings(monkeypatch):
    monkeypatch.setattr(site_file, "_checked_tables", lambda tables, file: tables)


@pytest.mark.parametrize("case", BAD_INPUTS, ids=lambda case: case.name)
def test_bad_input_is_refused_in_one_plain_line(case: BadInput, tmp_path: Path):
    site = SiteFolder(tmp_path)
    case.break_it(site)
    with pytest.raises(InputRefused) as refused:
        read_site(site.write())
    told = str(refused.value)
    for word in case.words:
        assert word in told
    assert "\n" not in told
    assert refused.value.exit_code == 3
    assert str(tmp_path) not in told.replace(f"paths start at {tmp_path.as_posix()}", "")


@pytest.mark.parametrize("kept", [0.3, 0.6, 0.9, 0.99])
@pytest.mark.parametrize("suffix", ["gpkg", "shp", "geojson", "fgb"])
def test_a_file_that_breaks_off_is_never_read_in_part(tmp_path: Path, suffix: str, kept: float):
    site = SiteFolder(tmp_path)
    path = tmp_path / f"lines.{suffix}"
    lines = [at_origin(LineString([(0, n / 10), (40, n / 10)])) for n in range(600)]
    write_vector(path, lines, {"kind": ["gas"] * 600})
    whole = path.read_bytes()
    path.write_bytes(whole[: int(len(whole) * kept)])
    site.inputs["utilities"] = {"path": path.name}
    with pytest.raises(InputRefused, match=f"lines.{suffix}"):
        read_site(site.write())


def test_the_unbroken_site_is_read(tmp_path: Path):
    assert read_site(SiteFolder(tmp_path).write()).parcel_id == "14"


def test_an_unreadable_file_is_refused(tmp_path: Path):
    site = SiteFolder(tmp_path)
    path = site.folder / "utilities.gpkg"
    path.chmod(0)
    if os.access(path, os.R_OK):
        pytest.skip("this user may read everything")
    with pytest.raises(InputRefused, match="cannot be read"):
        read_site(site.write())


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (b"name = \n", ("TOML", "line 1")),
        (b"name = 'a'\nname = 'b'\n", ("TOML",)),
        (b"name = '\xff'\n", ("UTF-8",)),
        (b"name = 'a'\n", ("[inputs.parcel]",)),
        (b"name = 'a'\ninputs = 3\n", ("inputs",)),
        (b"[inputs.parcel]\npath = 'x'\n[inputs.terrain]\npath = 'y'\n", ("name",)),
        (b"name = 'a'\n[inputs]\nparcel = 3\nterrain = 4\n", ("inputs.parcel", "table")),
    ],
)
def test_a_site_file_that_is_no_site_file(tmp_path: Path, text: bytes, words: tuple[str, ...]):
    path = tmp_path / "site.toml"
    path.write_bytes(text)
    with pytest.raises(InputRefused) as refused:
        read_site(path)
    assert all(word in str(refused.value) for word in ("site.toml", *words))


def test_a_site_file_that_is_not_there(tmp_path: Path):
    with pytest.raises(InputRefused, match="cannot be read"):
        read_site(tmp_path / "none.toml")


def test_ids_and_unknown_words_beyond_eight_are_counted(tmp_path: Path):
    site = SiteFolder(tmp_path)
    lines = [at_origin(LineString([(0, y), (40, y)])) for y in range(12)]
    (tmp_path / "utilities.gpkg").unlink()
    write_vector(
        tmp_path / "utilities.gpkg",
        lines,
        {"id": [f"L{n}" for n in range(12)], "kind": [f"w{n:02d}" for n in range(12)]},
    )
    with pytest.raises(InputRefused) as refused:
        read_site(site.write())
    assert "L7 and 4 more" in str(refused.value)
    assert "w07 and 4 more" in str(refused.value)
    assert len(refused.value.ids) == 12


def test_a_parcel_of_two_lots_is_offered_by_name(tmp_path: Path):
    site = SiteFolder(tmp_path)
    _parcel(*(box(10 * n, 0, 10 * n + 10, 30) for n in range(11)), lot=[str(n) for n in range(11)])(
        site
    )
    with pytest.raises(InputRefused, match=r"11 parcels.*and 3 more"):
        read_site(site.write())


def test_nothing_is_written_beside_the_inputs(tmp_path: Path):
    site = SiteFolder(tmp_path)
    site.add_common()
    path = site.write()
    before = {p.name: (p.stat().st_size, p.stat().st_mtime_ns) for p in tmp_path.iterdir()}
    read_site(path)
    assert {p.name: (p.stat().st_size, p.stat().st_mtime_ns) for p in tmp_path.iterdir()} == before


def test_multi_polygons_and_origin_agree():
    """The site builder itself: the lot is where it says."""
    assert MultiPolygon([at_origin(LOT)]).bounds == (
        ORIGIN[0],
        ORIGIN[1],
        ORIGIN[0] + 40,
        ORIGIN[1] + 30,
    )
