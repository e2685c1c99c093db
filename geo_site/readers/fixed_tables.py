"""What ``[fixed]`` of the site file says: which works are pinned, and in which files they are.

In: the table as parsed. Out: :class:`FixedTables`. No file is opened here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

from pydantic import Field, model_validator

from geo_site.errors import InputRefused
from geo_site.parameters import Parameters
from geo_site.readers.inputs import FileInput, Word, read_input_table

__all__ = ["PLAN_WORKS", "FixedInput", "FixedTables", "read_fixed_tables"]

PLAN_WORKS = ("basin", "stream", "pipe", "spoil_pile", "silt_fence", "machine_route")
"""Works that may be taken from a plan."""
_OTHERS = ("spillway", "keep_off", "must_pass")


class FixedInput(FileInput):
    """``[fixed.basin]`` and the like: which features of a file are pinned."""

    where: dict[str, Word] = Field(
        default_factory=dict, description="field = value of the features wanted"
    )
    at: tuple[float, float] | None = Field(
        default=None, description="a point in or on the feature wanted, in the file's CRS"
    )

    @model_validator(mode="after")
    def _one_choice(self) -> FixedInput:
        if self.where and self.at:
            raise ValueError("give where or at, not both")
        if self.repair:
            raise ValueError("a pinned work is not mended: draw it again")
        return self


class _Plan(Parameters):
    plan: str | None = Field(default=None, min_length=1)
    layers: list[str] = Field(default_factory=list)


@dataclass(frozen=True, kw_only=True)
class FixedTables:
    """``[fixed]``, read.

    Attributes
    ----------
    plan : str or None
        An edited plan, as written.
    layers : tuple of str
        Works of it that are pinned.
    works : mapping of str to FixedInput
        Works and ground with a file of their own.
    """

    plan: str | None = None
    layers: tuple[str, ...] = ()
    works: Mapping[str, FixedInput] = field(default_factory=lambda: MappingProxyType({}))


def read_fixed_tables(given: object, file: str) -> FixedTables:
    """Read ``[fixed]``.

    Parameters
    ----------
    given : object
        What the site file says; None: nothing is pinned.
    file : str
        The site file, for the message.

    Returns
    -------
    FixedTables
        Checked: no work twice.

    Raises
    ------
    InputRefused
        An unknown key or work, a plan without layers or the reverse, a work twice.
    """
    if given is None:
        return FixedTables()
    if not isinstance(given, Mapping):
        raise InputRefused("[fixed] is not a table", remedy="write [fixed.basin]", file=file)
    plain = {key: value for key, value in given.items() if not isinstance(value, Mapping)}
    head = read_input_table(_Plan, plain, table="fixed", file=file)
    works = _works(given, file)
    _check_plan(head, works, file)
    return FixedTables(
        plan=head.plan, layers=tuple(dict.fromkeys(head.layers)), works=MappingProxyType(works)
    )


def _works(given: Mapping[str, Any], file: str) -> dict[str, FixedInput]:
    valid = (*PLAN_WORKS, *_OTHERS)
    tables = {key: value for key, value in given.items() if isinstance(value, Mapping)}
    for name in tables:
        if name not in valid:
            raise InputRefused(
                f"unknown work fixed.{name}", remedy=f"valid: {', '.join(valid)}", file=file
            )
    return {
        name: read_input_table(FixedInput, tables[name], table=f"fixed.{name}", file=file)
        for name in valid
        if name in tables
    }


def _check_plan(head: _Plan, works: Mapping[str, FixedInput], file: str) -> None:
    if (head.plan is None) == bool(head.layers):
        raise InputRefused(
            "[fixed] wants plan and layers together",
            remedy='write plan = "plan.gpkg" and layers = ["basin"]',
            file=file,
        )
    for name in head.layers:
        if name not in PLAN_WORKS:
            raise InputRefused(
                f"fixed.layers: {name!r} is no work of a plan",
                remedy=f"valid: {', '.join(PLAN_WORKS)}",
                file=file,
            )
        if name in works:
            raise InputRefused(
                f"{name} is pinned twice: in fixed.layers and in [fixed.{name}]",
                remedy="leave one of them out",
                file=file,
            )
