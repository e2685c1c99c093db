"""How settings are declared, read and described: one way, everywhere.

A step declares its settings as a class of frozen fields made by :func:`setting`; each field has
a unit, a meaning and a source, and the user may change all of them in the site file. Lengths,
areas, volumes, flows, angles and slopes may be written with a unit; numbers alone are SI.

Examples
--------
>>> class FallParameters(Parameters):
...     least_height: Metres = setting(
...         0.10, unit="m", meaning="lowest fall worth building",
...         source="common practice, no source", within="(0, 3]")
>>> read_table(FallParameters, {"least_height": "6 in"}, table="layout").least_height
0.1524
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import isfinite
from typing import Annotated, Any, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError
from pydantic.fields import FieldInfo

from geo_site import units
from geo_site.errors import SettingRefused

__all__ = [
    "CubicMetres",
    "CubicMetresPerSecond",
    "Degrees",
    "Metres",
    "Parameters",
    "SettingRow",
    "Slope",
    "SquareMetres",
    "describe",
    "read_table",
    "setting",
]

Metres = Annotated[float, BeforeValidator(units.parse_length)]
SquareMetres = Annotated[float, BeforeValidator(units.parse_area)]
CubicMetres = Annotated[float, BeforeValidator(units.parse_volume)]
CubicMetresPerSecond = Annotated[float, BeforeValidator(units.parse_flow)]
Degrees = Annotated[float, BeforeValidator(units.parse_angle)]
Slope = Annotated[float, BeforeValidator(units.parse_slope)]


class Parameters(BaseModel):
    """Base of every table of settings: frozen, unknown keys refused, no infinities."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


P = TypeVar("P", bound=Parameters)


def setting(
    default: Any,
    *,
    unit: str,
    meaning: str,
    source: str,
    within: str | None = None,
) -> Any:
    """Declare one setting.

    Parameters
    ----------
    default : Any
        Value used when the user says nothing, SI. A mapping or list is copied per table.
    unit : str
        Unit of the value, ``"-"`` for a pure number or a word.
    meaning : str
        One plain sentence.
    source : str
        Published source, ``"common practice, no source"``, or who chose it.
    within : str, optional
        What is possible, as an interval: ``"(0, 3]"`` is above 0 and at most 3; ``inf`` for
        no bound. What lies outside is impossible, not merely unusual.

    Returns
    -------
    Any
        A pydantic field.
    """
    return Field(
        default=default,
        description=meaning,
        validate_default=True,
        json_schema_extra={"unit": unit, "source": source},
        **_bounds(within),
    )


def _bounds(within: str | None) -> dict[str, Any]:
    if within is None:
        return {}
    low, high = (float(part) for part in within[1:-1].split(","))
    bounds = {"gt" if within[0] == "(" else "ge": low, "lt" if within[-1] == ")" else "le": high}
    return {name: bound for name, bound in bounds.items() if isfinite(bound)}


def read_table(
    kind: type[P], given: Mapping[str, Any], *, table: str, file: str | None = None
) -> P:
    """Read one table of settings.

    Parameters
    ----------
    kind : type
        The table's class.
    given : mapping
        What the user wrote, from TOML.
    table : str
        The table's dotted name, for the message.
    file : str, optional
        The site file, for the message.

    Returns
    -------
    P
        Frozen, complete, SI.

    Raises
    ------
    SettingRefused
        Unknown key (the valid ones are named), wrong type, unknown unit, out of bounds.
    """
    try:
        return kind.model_validate(dict(given))
    except ValidationError as refused:
        raise _refusal(refused, kind, table, file) from None


def _refusal(
    refused: ValidationError, kind: type[Parameters], table: str, file: str | None
) -> SettingRefused:
    first = refused.errors()[0]
    path = [str(part) for part in first["loc"]]
    key = ".".join([table, *path]) if table else ".".join(path)
    if first["type"] == "extra_forbidden":
        valid = ", ".join(_fields_at(kind, path[:-1]))
        return SettingRefused(f"unknown setting {key}", remedy=f"valid: {valid}", file=file)
    told = first["msg"].removeprefix("Value error, ")
    told = told[:1].lower() + told[1:]
    return SettingRefused(
        f"{key} = {first['input']!r}: {told}",
        remedy="geo-site settings lists every setting with its unit",
        file=file,
    )


def _fields_at(kind: type[Parameters], path: list[str]) -> list[str]:
    for part in path:
        inner = kind.model_fields[part].annotation if part in kind.model_fields else None
        if not (isinstance(inner, type) and issubclass(inner, Parameters)):
            break
        kind = inner
    return sorted(kind.model_fields)


@dataclass(frozen=True)
class SettingRow:
    """One setting as it is printed.

    Attributes
    ----------
    key : str
        Dotted name in the site file, for example ``siting.unit_length``.
    value : Any
        Value in use, SI.
    unit, meaning, source : str
        As declared.
    is_default : bool
        False where the user chose the value.
    """

    key: str
    value: Any
    unit: str
    meaning: str
    source: str
    is_default: bool


def describe(parameters: Parameters, prefix: str = "") -> Iterator[SettingRow]:
    """Walk through all settings of a table and of the tables inside it.

    Parameters
    ----------
    parameters : Parameters
        A table of settings, complete.
    prefix : str
        Dotted name of the table.

    Yields
    ------
    SettingRow
        In the order of declaration.
    """
    for name, field in type(parameters).model_fields.items():
        key = f"{prefix}.{name}" if prefix else name
        value = getattr(parameters, name)
        if isinstance(value, Parameters):
            yield from describe(value, key)
        else:
            yield _row(key, value, field)


def _row(key: str, value: Any, field: FieldInfo) -> SettingRow:
    extra = field.json_schema_extra if isinstance(field.json_schema_extra, Mapping) else {}
    return SettingRow(
        key=key,
        value=value,
        unit=str(extra.get("unit", "-")),
        meaning=field.description or "",
        source=str(extra.get("source", "")),
        is_default=bool(value == field.get_default(call_default_factory=True)),
    )
