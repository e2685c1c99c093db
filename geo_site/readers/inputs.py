"""What the site file may say about its inputs: one table for each kind of input.

Numbers alone are metres; unknown keys are refused with the valid ones.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from typing import Annotated, Any, Literal, TypeVar

from pydantic import BeforeValidator, Field, field_validator, model_validator

from geo_site.errors import InputRefused, SettingRefused
from geo_site.parameters import Metres, Parameters, read_table
from geo_site.site import PRIVATE_THINGS

__all__ = [
    "FIRST_YEAR",
    "LAST_YEAR",
    "ParcelInput",
    "PriceInput",
    "PrivateLocateInput",
    "PumpInput",
    "RainfallInput",
    "TerrainInput",
    "TicketInput",
    "VectorInput",
    "read_input_table",
]

Word = str | int | float | bool


FIRST_YEAR, LAST_YEAR = 1950, 2099
"""Marks, tickets and locates of other years are slips of the pen."""


def _day(value: object) -> object:
    if isinstance(value, str):
        try:
            value = datetime.date.fromisoformat(value.strip())
        except ValueError:
            raise ValueError("not a day; write 2026-11-30") from None
    if value is None:
        return value
    if type(value) is not datetime.date:
        raise ValueError("not a day; write 2026-11-30")
    if not FIRST_YEAR <= value.year <= LAST_YEAR:
        raise ValueError(f"the year {value.year} cannot be")
    return value


Day = Annotated[datetime.date | None, BeforeValidator(_day)]


def _as_list(value: object) -> object:
    return [value] if isinstance(value, str) else value


class FileInput(Parameters):
    """What every vector file may say."""

    path: str = Field(min_length=1, description="file, relative to the site file")
    layer: str | None = Field(
        default=None, description="which layer; needed where there are several"
    )
    crs: str | None = Field(
        default=None, description="CRS of a file that has none of its own, as EPSG:2154"
    )
    shift_accuracy: Metres | None = Field(
        default=None,
        ge=0.0,
        le=1.0,
        description="accuracy of the datum shift that the user vouches for, m",
    )
    repair: bool = Field(default=False, description="whether invalid areas may be made valid")


class ParcelInput(FileInput):
    """``[inputs.parcel]``."""

    accuracy: Metres | None = Field(
        default=None, ge=0.0, description="how well the parcel lines are known, m"
    )
    where: dict[str, Word] = Field(
        default_factory=dict, description="field = value of the parcel wanted"
    )
    at: tuple[float, float] | None = Field(
        default=None, description="a point in the parcel wanted, in the file's CRS"
    )

    @model_validator(mode="after")
    def _one_choice(self) -> ParcelInput:
        if self.where and self.at:
            raise ValueError("give where or at, not both")
        return self


class TerrainInput(Parameters):
    """``[inputs.terrain]``."""

    path: Annotated[list[str], BeforeValidator(_as_list)] = Field(
        min_length=1, description="rasters or point clouds, relative to the site file"
    )
    vertical_unit: Literal["m", "ft", "us-ft"] | None = Field(
        default=None, description="unit of the levels, where the file does not say"
    )
    rmse_z: Metres | None = Field(default=None, ge=0.0, description="vertical error (RMSE), m")


class VectorInput(FileInput):
    """``[inputs.utilities]`` and all other vector inputs."""

    fields: dict[str, str] = Field(
        default_factory=dict, description="our field = the file's field; empty: leave it out"
    )
    same: dict[str, Word] = Field(
        default_factory=dict, description="our field = the value that all features have"
    )
    units: dict[str, str] = Field(
        default_factory=dict, description="our field = unit of its numbers"
    )
    kinds: dict[str, str] = Field(default_factory=dict, description="the file's word = our kind")
    words: dict[str, dict[str, str]] = Field(
        default_factory=dict, description="the same for other fields: field = { word = our word }"
    )
    no_data: list[float] = Field(
        default_factory=list, description="numbers that stand for nothing, as -9999"
    )

    @field_validator("no_data", mode="before")
    @classmethod
    def _no_data_list(cls, value: object) -> object:
        return [value] if isinstance(value, int | float) else value


class PumpInput(Parameters):
    """``[inputs.pumps]``."""

    path: str = Field(min_length=1, description="CSV of pump curves, relative to the site file")
    one_point: bool = Field(
        default=False,
        description="whether a pump with one point may have the curve assumed through it",
    )


class PriceInput(Parameters):
    """``[inputs.prices]``."""

    path: str = Field(min_length=1, description="CSV of prices, relative to the site file")


class RainfallInput(Parameters):
    """``[inputs.rainfall]``."""

    path: str = Field(min_length=1, description="CSV of rain depths, relative to the site file")


class TicketInput(Parameters):
    """``[ticket]``."""

    as_of: Day = None
    number: str = ""
    requested_on: Day = None
    valid_until: Day = None
    state: str = ""
    responses: dict[str, Literal["marked", "clear", "pending"]] = Field(default_factory=dict)
    members: list[str] = Field(default_factory=list)
    refreshed_on: Day = None
    holidays: list[Annotated[datetime.date, BeforeValidator(_day)]] | None = None

    @field_validator("number", mode="before")
    @classmethod
    def _number_as_text(cls, value: object) -> object:
        return str(value) if isinstance(value, int) else value

    @model_validator(mode="after")
    def _dates_in_order(self) -> TicketInput:
        if self.requested_on and self.valid_until and self.valid_until < self.requested_on:
            raise ValueError(
                f"valid_until {self.valid_until} is before requested_on {self.requested_on}"
            )
        if self.requested_on and self.refreshed_on and self.refreshed_on < self.requested_on:
            raise ValueError(
                f"refreshed_on {self.refreshed_on} is before requested_on {self.requested_on}"
            )
        return self


class PrivateLocateInput(Parameters):
    """``[private_locate]``."""

    by: str = Field(min_length=1)
    on: Day = None
    valid_until: Day = None
    covers: list[str] = Field(default_factory=list)

    @field_validator("covers")
    @classmethod
    def _known_things(cls, value: list[str]) -> list[str]:
        unknown = [name for name in value if name not in PRIVATE_THINGS]
        if unknown:
            raise ValueError(f"{unknown[0]!r} is none of {', '.join(PRIVATE_THINGS)}")
        return value

    @model_validator(mode="after")
    def _dates_in_order(self) -> PrivateLocateInput:
        if self.on and self.valid_until and self.valid_until < self.on:
            raise ValueError(f"valid_until {self.valid_until} is before on {self.on}")
        return self


P = TypeVar("P", bound=Parameters)


def read_input_table(kind: type[P], given: object, *, table: str, file: str) -> P:
    """Read one table that is not a table of settings.

    Parameters
    ----------
    kind : type
        The table's class.
    given : object
        What the site file says.
    table : str
        Its dotted name.
    file : str
        The site file, for the message.

    Returns
    -------
    P
        Frozen, complete, SI.

    Raises
    ------
    InputRefused
        Not a table, a key that is unknown or missing, a value that cannot be.
    """
    valid = ", ".join(kind.model_fields)
    if not isinstance(given, Mapping):
        raise InputRefused(f"[{table}] is not a table", remedy=f"valid keys: {valid}", file=file)
    missing = [
        n for n, field in kind.model_fields.items() if field.is_required() and n not in given
    ]
    if missing:
        raise InputRefused(f"[{table}] has no {missing[0]}", remedy=f"valid: {valid}", file=file)
    plain: dict[str, Any] = dict(given)
    try:
        return read_table(kind, plain, table=table, file=file)
    except SettingRefused as refused:
        fault = refused.fault.replace("unknown setting", "unknown key", 1)
        is_key = fault != refused.fault
        remedy = refused.remedy if is_key else f"keys of [{table}]: {valid}"
        raise InputRefused(fault, remedy=remedy, file=file) from None
