"""How far a line may lie from where it is drawn, and how well that is known.

In: a row of the lines and the settings. Out: a :class:`Position`. Method: what is stated for the
line, else the figure of its quality level (for QL-B1 and QL-B2 the share of its depth, if that is
more), else an assumption; to it comes the accuracy of the datum shift. Paint alone is no level.
Reference: PAS 128:2022 table 1 (a transcription); AS 5488 for QL-B (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from geo_site.constraints.rules import number, word
from geo_site.constraints.settings import ConstraintParameters, PositionUncertainty
from geo_site.locate_quality import QUALITY_LEVELS, Basis

__all__ = ["Position", "position_of"]

_BY_DEPTH = {"QL-B1": "depth_share_b1", "QL-B2": "depth_share_b2"}


@dataclass(frozen=True, kw_only=True)
class Position:
    """Position uncertainty of a line, taken as the half-width that holds it 95 times in 100.

    Attributes
    ----------
    uncertainty_m : float
        Horizontal, datum shift included.
    shift_m : float
        Of that, the datum shift.
    basis : {"published", "from memory", "assumed", "stated"}
        What the figure rests on.
    source : str
        Where it was found.
    notes : tuple of str
        What a row says of it, in sentences.
    """

    uncertainty_m: float
    shift_m: float
    basis: Basis
    source: str
    notes: tuple[str, ...]


def position_of(line: Any, parameters: ConstraintParameters) -> Position:
    """Give a line's position uncertainty.

    Parameters
    ----------
    line : row of ``Site.utilities``
        With ``uncertainty_m, quality_level, depth_m, shift_accuracy_m``.
    parameters : ConstraintParameters
        The figures in use.

    Returns
    -------
    Position
        Never nothing: what is not known is assumed, and says so.
    """
    shift_m = number(line.shift_accuracy_m) or 0.0
    shifted = (f"Datum shift: {shift_m:.2f} m added.",) if shift_m > 0.0 else ()
    own_m, basis, source, notes = _before_shift(line, parameters)
    return Position(
        uncertainty_m=own_m + shift_m,
        shift_m=shift_m,
        basis=basis,
        source=source,
        notes=(*notes, *shifted),
    )


def _before_shift(
    line: Any, parameters: ConstraintParameters
) -> tuple[float, Basis, str, tuple[str, ...]]:
    stated_m = number(line.uncertainty_m)
    if stated_m is not None:
        told = f"Position as stated: {stated_m:.2f} m."
        return stated_m, "stated", "the user's file", (told,)
    level, depth_m = word(line.quality_level), number(line.depth_m)
    figures = parameters.position_uncertainty
    found_m = figures.of(level, parameters.assumed_depth if depth_m is None else depth_m)
    if found_m is None:
        assumed_m = parameters.assumed_uncertainty
        told = f"No quality level: position assumed within {assumed_m:.2f} m."
        return assumed_m, "assumed", "our assumption; paint alone is no quality level", (told,)
    basis, source = _basis(level, figures)
    notes = (f"{level}: position within {found_m:.2f} m.",)
    if depth_m is None and level in _BY_DEPTH:
        share, deep_m = float(getattr(figures, _BY_DEPTH[level])), parameters.assumed_depth
        told = f"Depth not told: position by {share:.0%} of {deep_m:.2f} m, if that is more."
        return found_m, "assumed", source, (*notes, told)
    return found_m, basis, source, notes


def _basis(level: str, figures: PositionUncertainty) -> tuple[Basis, str]:
    name = level.lower().replace("-", "_")
    field = type(figures).model_fields[name]
    if float(getattr(figures, name)) != field.default:
        return "stated", "the site file's settings"
    extra = field.json_schema_extra
    source = str(extra["source"]) if isinstance(extra, dict) else ""
    return QUALITY_LEVELS[level].basis, source
