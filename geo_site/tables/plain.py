"""Results as plain data: numbers, words, lists and mappings; geometry and grids left out."""

from __future__ import annotations

import datetime
import math
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import Any

import numpy as np
from pydantic import BaseModel
from shapely.geometry.base import BaseGeometry

__all__ = ["numbers_of", "plain"]

_LEFT_OUT = (BaseGeometry, np.ndarray)
_TOLD_AS = {"x": "x_m", "y": "y_m"}


def plain(value: Any) -> Any:
    """Turn a value into what JSON can hold; NaN and infinities become None.

    Raises
    ------
    TypeError
        A value of a kind that nobody thought of: a fault of ours.

    Examples
    --------
    >>> plain({"depth_m": float("nan"), "rows": (1, 2)})
    {'depth_m': None, 'rows': [1, 2]}
    """
    if isinstance(value, np.generic):
        value = value.item()
    if value is None or isinstance(value, str | bool | int):
        return value
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, datetime.date):
        return value.isoformat()
    if isinstance(value, BaseModel):
        value = value.model_dump()
    if isinstance(value, Mapping):
        return {str(key): plain(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [plain(inner) for inner in value]
    if is_dataclass(value):
        return numbers_of(value)
    raise TypeError(f"{type(value).__name__} has no plain form")


def numbers_of(result: Any, *leave_out: str) -> dict[str, Any]:
    """Give a frozen result as a mapping by its own names; coordinates get their unit.

    Parameters
    ----------
    result : dataclass
        Any result of a step.
    *leave_out : str
        Names told elsewhere. Geometries and arrays are left out anyway: layers have them.

    Returns
    -------
    dict
        In the order of declaration.
    """
    return {
        _TOLD_AS.get(field.name, field.name): plain(getattr(result, field.name))
        for field in fields(result)
        if field.name not in leave_out and not isinstance(getattr(result, field.name), _LEFT_OUT)
    }
