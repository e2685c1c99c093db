"""Attributes: from a stranger's columns to ours, with units, words and dates settled.

In: a frame of a vector file and its input's table. Out: the columns of
``site.INPUT_LAYERS``. What is not understood is refused with the words and fields that there
are; a number that cannot be is refused with the ids.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
import pandas as pd

from geo_site import units
from geo_site.readers.inputs import FIRST_YEAR, LAST_YEAR, VectorInput
from geo_site.readers.parcels import as_text
from geo_site.readers.vectors import VectorFile
from geo_site.site import Field, InputLayer

__all__ = ["Columns", "made_columns", "sources_of"]

_MOST: Mapping[str, float] = MappingProxyType(
    {
        "diameter_m": 3.0,  # wider buried lines are tunnels; catches inches and mm unit slips
        "depth_m": 30.0,
        "uncertainty_m": 100.0,
        "trunk_diameter_m": 5.0,
        "crown_radius_m": 40.0,
        "height_m": 300.0,
        "voltage_v": 2.0e6,
        "curve_number": 100.0,
        "runoff_coefficient": 1.0,
    }
)
_ZERO_IS_UNKNOWN = {
    "diameter_m",
    "uncertainty_m",
    "trunk_diameter_m",
    "crown_radius_m",
    "height_m",
    "voltage_v",
}
_THINNEST_M = 0.012  # thinner than service pipe: millimetres may be inches
_VOLTS = {"v": 1.0, "kv": 1000.0}
_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?")
_VOLTAGE = re.compile(rf"\s*({_NUMBER.pattern})\s*([kK]?[vV])\s*")
_QUALITY = re.compile(r"(?:QL)?[-_ ]?([ABCD])([1-4]?)P?")  # P: post-processed, PAS 128
_TRUE = {"true", "t", "yes", "y", "1"}
_FALSE = {"false", "f", "no", "n", "0"}


@dataclass(frozen=True)
class Columns:
    """What :func:`made_columns` gives back.

    Attributes
    ----------
    frame : pandas.DataFrame
        The layer's columns without geometry, indexed as the features.
    ids_are_numbers : bool
        Whether the ids were made from the features' numbers.
    notes : tuple of str
        What was assumed.
    """

    frame: pd.DataFrame
    ids_are_numbers: bool
    notes: tuple[str, ...]


def sources_of(layer: InputLayer, table: VectorInput, file: VectorFile) -> dict[str, str]:
    """Say which of the file's fields feeds each of ours.

    Parameters
    ----------
    layer : InputLayer
        What may be given.
    table : VectorInput
        The input's table.
    file : VectorFile
        The file's fields.

    Returns
    -------
    dict of str to str
        Our column to the file's field. A field of the file that has our name is taken where
        ``fields`` and ``same`` do not speak of it.

    Raises
    ------
    InputRefused
        A key that is not ours, or a field that the file does not have.
    """
    ours = {f.given_as: f for f in layer.fields if f.given_as}
    _refuse_foreign_keys(ours, layer, table, file)
    missing = [name for name in table.fields.values() if name and name not in file.fields]
    if missing:
        raise file.refuse(
            f"there is no field {', '.join(missing)}", f"fields: {', '.join(file.fields) or 'none'}"
        )
    named = {ours[key].name: source for key, source in table.fields.items() if source}
    told = {ours[key].name for key in (*table.fields, *table.same)}
    for field in ours.values():
        same = [name for name in (field.given_as, field.name) if name in file.fields]
        if same and field.name not in told:
            named[field.name] = same[0]
    return named


def _refuse_foreign_keys(
    ours: Mapping[str, Field], layer: InputLayer, table: VectorInput, file: VectorFile
) -> None:
    for key, said in (
        ("fields", table.fields),
        ("same", table.same),
        ("units", table.units),
        ("words", table.words),
    ):
        unknown = [name for name in said if name not in ours]
        if unknown:
            raise file.refuse(
                f"inputs.{layer.name}.{key} names {', '.join(unknown)}, which is not a field of "
                f"{layer.name}",
                f"valid: {', '.join(ours)}",
            )
    unitless = [name for name in table.units if ours[name].dimension == "-"]
    if unitless:
        raise file.refuse(
            f"inputs.{layer.name}.units.{unitless[0]}: this field has no unit", "leave it out"
        )


def made_columns(
    frame: pd.DataFrame, layer: InputLayer, table: VectorInput, file: VectorFile
) -> Columns:
    """Make our columns, the id apart from the others.

    Parameters
    ----------
    frame : pandas.DataFrame
        Features of the file.
    layer : InputLayer
        What is wanted.
    table : VectorInput
        How the file says it.
    file : VectorFile
        For the messages.

    Returns
    -------
    Columns
        All columns of ``layer``; None or NaN where nothing is said.

    Raises
    ------
    InputRefused
        Unknown words (listed), ids that are missing or double, numbers that cannot be, dates
        that are none.
    """
    sources = sources_of(layer, table, file)
    ids, notes = _ids(frame, sources, table, file)
    made: dict[str, pd.Series] = {"id": ids}
    for field in layer.fields[1:]:
        raw = _raw(frame, field, sources, table)
        column, said = _READERS[field.type](raw, _Asked(field, ids, table, file))
        made[field.name] = column
        notes += said
    by_name = sorted(
        f"{source}" for name, source in sources.items() if source not in table.fields.values()
    )
    if by_name:
        notes.append(f"fields taken by their name: {', '.join(by_name)}")
    numbered = bool((ids == _numbers_of(frame)).all())
    return Columns(pd.DataFrame(made, index=frame.index), numbered, tuple(notes))


@dataclass(frozen=True)
class _Asked:
    field: Field
    ids: pd.Series
    table: VectorInput
    file: VectorFile

    def ids_where(self, mask: pd.Series) -> list[str]:
        return list(self.ids[mask])


def _ids(
    frame: pd.DataFrame, sources: Mapping[str, str], table: VectorInput, file: VectorFile
) -> tuple[pd.Series, list[str]]:
    numbers = _numbers_of(frame)
    if "id" not in sources:
        return numbers, []
    ids = frame[sources["id"]].map(as_text).astype(object)
    empty, double = ids == "", ids.duplicated(keep=False)
    if not (empty | double).any():
        return ids, []
    if not table.fields.get("id"):
        return numbers, [f"field {sources['id']} is empty or double; ids are feature numbers"]
    if empty.any():
        raise file.refuse(
            f"features without an id in {sources['id']}: numbers {', '.join(numbers[empty][:8])}",
            "give each its own id, or leave fields.id out",
        )
    raise file.refuse(
        f"the ids in {sources['id']} are not unique",
        "give each its own id, or leave fields.id out",
        sorted(set(ids[double])),
    )


def _numbers_of(frame: pd.DataFrame) -> pd.Series:
    return pd.Series([str(number) for number in frame.index], index=frame.index, dtype=object)


def _raw(
    frame: pd.DataFrame, field: Field, sources: Mapping[str, str], table: VectorInput
) -> pd.Series:
    if field.name in sources:
        return frame[sources[field.name]]
    value = table.same.get(field.given_as) if field.given_as else None
    return pd.Series([value] * len(frame), index=frame.index, dtype=object)


def _texts(raw: pd.Series, asked: _Asked) -> tuple[pd.Series, list[str]]:
    texts = raw.map(as_text).astype(object)
    field = asked.field
    words = dict(asked.table.words.get(field.given_as, {}))
    if field.given_as == "kind":
        words |= asked.table.kinds
    if field.choices:
        return _chosen(texts, words, asked)
    texts = texts.map(lambda text: words.get(text, text) or None)
    return texts.astype(object), []


def _chosen(
    texts: pd.Series, words: Mapping[str, str], asked: _Asked
) -> tuple[pd.Series, list[str]]:
    field, file = asked.field, asked.file
    choices = ", ".join(field.choices)
    wrong = sorted({word for word in words.values() if _ours(word, field) is None})
    if wrong:
        raise file.refuse(f"{', '.join(wrong)} is not a {field.given_as}", f"valid: {choices}")
    found = texts.map(lambda text: _ours(words.get(text, text), field)).astype(object)
    unknown = sorted(set(texts[found.isna() & (texts != "")]))
    if unknown:
        key = "kinds" if field.given_as == "kind" else f"words.{field.given_as}"
        raise file.refuse(
            f"unknown {field.given_as}: {', '.join(unknown[:8])}"
            + (f" and {len(unknown) - 8} more" if len(unknown) > 8 else ""),
            f'say which of ours each is in {key} = {{ "{unknown[0]}" = "..." }}: {choices}',
            asked.ids_where(found.isna() & (texts != "")),
        )
    found = found.where(found.notna(), None)
    if field.given_as == "kind" and "unknown" in field.choices and found.isna().any():
        ids = asked.ids_where(found.isna())
        found = found.where(found.notna(), "unknown")
        return found.astype(object), [f"kind unknown: {_named(ids)}"]
    return found.astype(object), []


def _ours(word: str, field: Field) -> str | None:
    if field.name == "quality_level":
        match = _QUALITY.fullmatch(word.strip().upper())
        word = f"QL-{match[1]}{match[2]}" if match else word
        return word if word in field.choices else None
    plain = word.strip().lower().replace(" ", "_").replace("-", "_")
    return plain if plain in field.choices else None


def _numbers(raw: pd.Series, asked: _Asked) -> tuple[pd.Series, list[str]]:
    field, file = asked.field, asked.file
    read = _number_reader(asked)
    values: list[float] = []
    faults: list[str] = []
    for ident, value in zip(asked.ids, raw, strict=True):
        try:
            values.append(read(value))
        except ValueError as fault:
            faults.append(ident)
            values.append(np.nan)
            told = str(fault)
    if faults:
        raise file.refuse(
            f"{field.given_as}: {told}", "write a number, or a number and its unit", faults
        )
    numbers = pd.Series(values, index=raw.index, dtype="float64")
    _refuse_impossible(numbers, asked)
    notes: list[str] = []
    zero = numbers == 0.0
    if field.name in _ZERO_IS_UNKNOWN and zero.any():
        notes.append(f"{field.given_as} 0 taken as unknown: {_named(asked.ids_where(zero))}")
        numbers = numbers.where(~zero)
    thin = numbers < _THINNEST_M
    if field.name == "diameter_m" and thin.any():
        ids = _named(asked.ids_where(thin))
        notes.append(f"diameter under {_THINNEST_M * 1000.0:g} mm, check its unit: {ids}")
    return numbers, notes


def _number_reader(asked: _Asked) -> Callable[[object], float]:
    field, no_data = asked.field, set(asked.table.no_data)
    factor = _factor(asked)

    def read(value: object) -> float:
        text = as_text(value)
        if not text:
            return np.nan
        if _NUMBER.fullmatch(text):
            number = float(text)
            return np.nan if number in no_data else number * factor
        if isinstance(value, str) and field.dimension == "length":
            return units.parse_length(text)
        if (volts := _VOLTAGE.fullmatch(text)) and field.dimension == "voltage":
            return float(volts[1]) * _VOLTS[volts[2].lower()]
        raise ValueError(f"{text!r} is not a number")

    return read


def _factor(asked: _Asked) -> float:
    field, unit = asked.field, asked.table.units.get(asked.field.given_as)
    if unit is None:
        return 1.0
    if field.dimension == "length":
        try:
            return units.unit_factor(unit, "length")
        except ValueError as fault:
            raise asked.file.refuse(
                f"units.{field.given_as}: {fault}", "as in, ft, m, mm"
            ) from None
    if unit.lower() in _VOLTS:
        return _VOLTS[unit.lower()]
    raise asked.file.refuse(f"units.{field.given_as} = {unit!r} is not known", "valid: V, kV")


def _refuse_impossible(numbers: pd.Series, asked: _Asked) -> None:
    field = asked.field
    most = _MOST.get(field.name, np.inf)
    low, high = numbers < 0.0, numbers > most
    for bad, remedy in (
        (low, "correct them, or say no_data = ... where the number stands for nothing"),
        (high, f"at most {most:g} is possible: say units where they are not SI"),
    ):
        if bad.any():
            worst = float(numbers.to_numpy()[np.abs(numbers.where(bad, 0.0)).argmax()])
            raise asked.file.refuse(
                f"{field.given_as} of {worst:g} {field.name.rpartition('_')[2]} is impossible",
                remedy,
                asked.ids_where(bad),
            )


def _truths(raw: pd.Series, asked: _Asked) -> tuple[pd.Series, list[str]]:
    texts = raw.map(as_text).str.lower().astype(object)
    truths = texts.map(lambda text: True if text in _TRUE else False if text in _FALSE else None)
    bad = truths.isna() & (texts != "")
    if bad.any():
        raise asked.file.refuse(
            f"{asked.field.given_as}: {texts[bad].iloc[0]!r} is neither true nor false",
            "write true or false",
            asked.ids_where(bad),
        )
    return truths.where(truths.notna(), None).astype(object), []


def _dates(raw: pd.Series, asked: _Asked) -> tuple[pd.Series, list[str]]:
    texts = raw.map(as_text).astype(object)
    dates = pd.Series([_date(text) for text in texts], index=raw.index, dtype=object)
    bad = dates.isna() & (texts != "")
    if bad.any():
        raise asked.file.refuse(
            f"{asked.field.given_as}: {texts[bad].iloc[0]!r} is not a day",
            "write it as 2026-11-30",
            asked.ids_where(bad),
        )
    return dates.where(dates.notna(), None).astype(object), []


def _date(text: str) -> datetime.date | None:
    try:
        found = datetime.date.fromisoformat(re.split(r"[T ]", text.replace("/", "-"))[0])
    except ValueError:
        return None
    return found if FIRST_YEAR <= found.year <= LAST_YEAR else None


def _named(ids: list[str]) -> str:
    return ", ".join(ids[:8]) + (f" and {len(ids) - 8} more" if len(ids) > 8 else "")


_READERS: Mapping[str, Callable[[pd.Series, _Asked], tuple[pd.Series, list[str]]]] = (
    MappingProxyType({"text": _texts, "number": _numbers, "truth": _truths, "date": _dates})
)
