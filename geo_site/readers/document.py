"""The site file's text: parsed, its own tables checked, the tables of settings set apart.

In: a path. Out: a :class:`Document`. Nothing that the site file names is opened here.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Any, Literal, TypeVar

from pydantic import Field

from geo_site.errors import InputRefused
from geo_site.parameters import Parameters
from geo_site.readers.fixed_tables import FixedTables, read_fixed_tables
from geo_site.readers.inputs import (
    ParcelInput,
    PriceInput,
    PrivateLocateInput,
    PumpInput,
    RainfallInput,
    TerrainInput,
    TicketInput,
    VectorInput,
    read_input_table,
)
from geo_site.site import INPUT_LAYERS, PrivateLocate, Ticket

__all__ = ["Document", "read_document"]

_TABLES = ("inputs", "ticket", "private_locate", "fixed")
_LISTS = ("pumps", "prices", "rainfall")


L = TypeVar("L", bound=Parameters)


class _Top(Parameters):
    name: str = Field(min_length=1)
    report_units: Literal["us", "si"] = "us"
    revision: str = Field(default="", max_length=40)


@dataclass(frozen=True, kw_only=True)
class Document:
    """A site file, read.

    Attributes
    ----------
    file : str
        Its name, for messages.
    folder : pathlib.Path
        Where it is.
    name : str
        The site's.
    report_units : {"us", "si"}
        How documents speak.
    revision : str
        Which state of the plan this is, as documents print it; empty: none is told.
    parcel : ParcelInput
        ``[inputs.parcel]``.
    terrain : TerrainInput
        ``[inputs.terrain]``.
    vectors : mapping of str to tuple of VectorInput
        All others that are given; one table for each file.
    ticket : Ticket
        Empty when none is given.
    private_locate : PrivateLocate or None
        None when none is given.
    tables : mapping
        Tables of settings, as written.
    pumps : PumpInput or None
        ``[inputs.pumps]``; None when none are given.
    prices : PriceInput or None
        ``[inputs.prices]``; None when none are given.
    rainfall : RainfallInput or None
        ``[inputs.rainfall]``; None when none is given.
    fixed : FixedTables
        ``[fixed]``; empty when nothing is pinned.
    """

    file: str
    folder: Path
    name: str
    report_units: Literal["us", "si"]
    parcel: ParcelInput
    terrain: TerrainInput
    vectors: Mapping[str, tuple[VectorInput, ...]]
    ticket: Ticket
    private_locate: PrivateLocate | None
    tables: Mapping[str, Any]
    pumps: PumpInput | None = None
    prices: PriceInput | None = None
    rainfall: RainfallInput | None = None
    revision: str = ""
    fixed: FixedTables = field(default_factory=FixedTables)


def read_document(path: Path) -> Document:
    """Read a site file, not yet what it names.

    Parameters
    ----------
    path : pathlib.Path
        The TOML file.

    Returns
    -------
    Document
        Checked, apart from the tables of settings.

    Raises
    ------
    InputRefused
        No such file, not TOML (with the line), no parcel or terrain, an unknown key, a value
        that cannot be.
    """
    said = _parse(path)
    file = path.name
    top = {key: value for key, value in said.items() if not isinstance(value, dict)}
    head = read_input_table(_Top, top, table="", file=file)
    inputs = said.get("inputs")
    if not isinstance(inputs, dict):
        raise InputRefused("no [inputs.parcel]", remedy="say where the parcel is", file=file)
    _check_names(inputs, file)
    return Document(
        file=file,
        folder=path.parent,
        name=head.name,
        report_units=head.report_units,
        revision=head.revision,
        parcel=read_input_table(
            ParcelInput, inputs.get("parcel"), table="inputs.parcel", file=file
        ),
        terrain=read_input_table(
            TerrainInput, inputs.get("terrain"), table="inputs.terrain", file=file
        ),
        vectors=_vectors(inputs, file),
        ticket=_ticket(said.get("ticket", {}), file),
        private_locate=_private_locate(said.get("private_locate"), file),
        tables=MappingProxyType(
            {k: v for k, v in said.items() if isinstance(v, dict) and k not in _TABLES}
        ),
        pumps=_listed(PumpInput, inputs, "pumps", file),
        prices=_listed(PriceInput, inputs, "prices", file),
        rainfall=_listed(RainfallInput, inputs, "rainfall", file),
        fixed=read_fixed_tables(said.get("fixed"), file),
    )


def _parse(path: Path) -> dict[str, Any]:
    try:
        with path.open("rb") as stream:
            return tomllib.load(stream)
    except tomllib.TOMLDecodeError as fault:
        fault_, remedy = f"this is not TOML: {fault}", "correct that line"
    except UnicodeDecodeError:
        fault_, remedy = "the text is not UTF-8", "save it as UTF-8"
    except OSError as fault:
        fault_ = f"the site file cannot be read ({fault.strerror})"
        remedy = "give the path of a site file"
    raise InputRefused(fault_, remedy=remedy, file=str(path.name))


def _check_names(inputs: Mapping[str, Any], file: str) -> None:
    valid = ("parcel", "terrain", *INPUT_LAYERS, *_LISTS)
    for name in inputs:
        if name not in valid:
            raise InputRefused(
                f"unknown input inputs.{name}", remedy=f"valid: {', '.join(valid)}", file=file
            )
    for name in ("parcel", "terrain"):
        if name not in inputs:
            raise InputRefused(f"no [inputs.{name}]", remedy="say where its file is", file=file)


def _vectors(inputs: Mapping[str, Any], file: str) -> Mapping[str, tuple[VectorInput, ...]]:
    found: dict[str, tuple[VectorInput, ...]] = {}
    for name in INPUT_LAYERS:
        if name not in inputs:
            continue
        given = inputs[name]
        tables = given if isinstance(given, list) else _one_for_each_path(given)
        found[name] = tuple(
            read_input_table(VectorInput, table, table=f"inputs.{name}", file=file)
            for table in tables
        )
    return MappingProxyType(found)


def _one_for_each_path(given: Any) -> list[Any]:
    """Several files that are read alike: path = ["a.gpkg", "b.gpkg"]."""
    paths = given.get("path") if isinstance(given, dict) else None
    return [{**given, "path": path} for path in paths] if isinstance(paths, list) else [given]


def _listed(kind: type[L], inputs: Mapping[str, Any], name: str, file: str) -> L | None:
    if name not in inputs:
        return None
    return read_input_table(kind, inputs[name], table=f"inputs.{name}", file=file)


def _ticket(given: object, file: str) -> Ticket:
    table = read_input_table(TicketInput, given, table="ticket", file=file)
    return Ticket(
        as_of=table.as_of,
        number=table.number,
        requested_on=table.requested_on,
        valid_until=table.valid_until,
        state=table.state,
        responses=MappingProxyType(dict(table.responses)),
        members=tuple(table.members),
        refreshed_on=table.refreshed_on,
        holidays=None if table.holidays is None else tuple(table.holidays),
    )


def _private_locate(given: object, file: str) -> PrivateLocate | None:
    if given is None:
        return None
    table = read_input_table(PrivateLocateInput, given, table="private_locate", file=file)
    return PrivateLocate(
        by=table.by, on=table.on, valid_until=table.valid_until, covers=tuple(table.covers)
    )
