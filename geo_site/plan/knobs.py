"""Rules that can be turned, one by one: which way is weaker, how fine, and who may weaken them.

In: settings. Out: the rules of :data:`KNOBS`, each with the values that it can take. Method: a
distance falls by centimetres to 0, a limit rises by its grain to a bound. To add a rule: one row
in :data:`KNOBS`. Reference: whose rule it is stands in the source of each setting.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from geo_site.plan.settings import Settings

__all__ = ["BINDING", "KNOBS", "Binding", "Knob", "share_of", "value_at", "with_values"]

_CM = 0.01


@dataclass(frozen=True, kw_only=True)
class Knob:
    """A rule that people may discuss.

    Attributes
    ----------
    key : str
        Setting.
    words : str
        What the setting is, for a sentence.
    grain : float
        Step in which it is turned, SI.
    bound : float
        Weakest value that is tried.
    falls : bool
        Whether less is weaker.
    reason : str
        Name of the constraint that it belongs to, with the kind of line after a colon; empty for
        a limit of basin or stream.
    not_below : str
        Setting that it may not fall below, or a site file would be refused; empty: none.
    """

    key: str
    words: str
    grain: float
    bound: float
    falls: bool = False
    reason: str = ""
    not_below: str = ""

    @property
    def is_of_layout(self) -> bool:
        """Whether it is a limit of the stream: it opens no ground, but may change the basin.

        A narrower or shorter stream holds less water, so that a smaller basin is looked for.
        """
        return self.key.startswith("layout.")

    def nests(self, *, beside_structures: bool) -> bool:
        """Whether every step leaves at least the room for the basin that the one before left.

        Zones round things are drawn at most 2 mm too large, less than a step. Not so the limits
        of the stream, which change the basin; the rise of the ground, which makes the pit deeper
        and so keeps it further off structures; and the room beside the units, for rise and edge
        of a smaller pit are taken at other points of the ground.

        Parameters
        ----------
        beside_structures : bool
            Whether structures ask for a distance.

        Returns
        -------
        bool
            True where the first step with room may be found by halving.
        """
        if self.key == "siting.greatest_rise":
            return not beside_structures
        return not self.is_of_layout and self.key != "siting.overdig"

    def steps(self, settings: Settings) -> int:
        """Give how many steps there are from the value in use to the weakest; 0: weaker already."""
        now = value_at(settings, self.key)
        bound = max(self.bound, value_at(settings, self.not_below) if self.not_below else -math.inf)
        room = now - bound if self.falls else bound - now
        return max(math.floor(room / self.grain + 1e-9), 0)

    def value(self, settings: Settings, step: int) -> float:
        """Give the value some steps weaker than the one in use."""
        now = value_at(settings, self.key)
        turned = now - step * self.grain if self.falls else now + step * self.grain
        return round(turned, 6) if step else now


@dataclass(frozen=True, kw_only=True)
class Binding:
    """Rules of law, of health, or of how well things are known: named, never offered.

    Attributes
    ----------
    words : str
        What they are.
    values : mapping of str to float
        Settings that would lift them, to see whether they stand against a place.
    """

    words: str
    values: Mapping[str, Any]


def _down(key: str, words: str, reason: str = "", bound: float = 0.0) -> Knob:
    return Knob(key=key, words=words, grain=_CM, bound=bound, falls=True, reason=reason)


KNOBS: tuple[Knob, ...] = (
    _down("constraints.boundary.basin", "the pit's distance to the parcel line", "boundary"),
    _down("constraints.boundary.stream", "the stream's distance to the parcel line", "boundary"),
    _down("constraints.structure.basin", "the pit's distance to structures", "structure"),
    _down("constraints.structure.stream", "the stream's distance to structures", "structure"),
    _down(
        "constraints.utility_buffer.electric",
        "the design distance to electric lines",
        "utility:electric",
    ),
    _down("constraints.utility_buffer.gas", "the design distance to gas lines", "utility:gas"),
    _down(
        "constraints.utility_buffer.communication",
        "the design distance to communication lines",
        "utility:communication",
    ),
    _down(
        "constraints.utility_buffer.potable_water",
        "the design distance to water lines",
        "utility:potable_water",
    ),
    _down(
        "constraints.utility_buffer.reclaimed_water",
        "the design distance to irrigation lines",
        "utility:reclaimed_water",
    ),
    _down(
        "constraints.utility_buffer.sewer",
        "the design distance to sewers and drains",
        "utility:sewer",
    ),
    _down("constraints.assumed_root_radius", "the root zone of trees of unknown size", "roots"),
    _down("constraints.water", "the distance to open water", "water_body"),
    _down(
        "constraints.concentrated_flow_buffer",
        "the distance to concentrated flow",
        "concentrated_flow",
    ),
    Knob(
        key="constraints.steepest",
        words="the steepest ground for the basin",
        grain=0.01,
        bound=1.0,
        reason="steep",
    ),
    Knob(
        key="constraints.concentrated_flow",
        words="the catchment from which water counts as concentrated",
        grain=10.0,
        bound=5000.0,
        reason="concentrated_flow",
    ),
    Knob(
        key="siting.greatest_rise",
        words="the rise of the ground under the pit",
        grain=_CM,
        bound=1.5,
    ),
    Knob(
        key="siting.most_elongated",
        words="how much longer than wide the basin may be",
        grain=0.1,
        bound=12.0,
    ),
    _down("siting.overdig", "the room beside the void units"),
    _down("layout.least_length", "the shortest stream", bound=2.0),
    Knob(key="layout.greatest_length", words="the longest stream", grain=0.05, bound=40.0),
    _down("layout.least_fall", "the least fall", bound=0.1),
    Knob(key="layout.berm_limit", words="the height of the berm", grain=_CM, bound=1.5),
    Knob(key="layout.cut_limit", words="the depth of the bed's cut", grain=_CM, bound=1.5),
    replace(
        _down("layout.bed_width", "the width of the bed", bound=0.4), not_below="layout.lip_width"
    ),
)
"""In the order in which they are tried."""

BINDING: tuple[Binding, ...] = (
    Binding(
        words="the tolerance zone of the one-call law",
        values={
            "constraints.tolerance_zone.width": 0.01,
            "constraints.tolerance_zone.source": "tried without",
            "constraints.tolerance_zone.widest_known": 0.01,
        },
    ),
    Binding(
        words="how well the buried lines are known",
        values={
            "constraints.assumed_uncertainty": 0.0,
            **{
                f"constraints.position_uncertainty.{level}": 0.0
                for level in ("ql_a", "ql_b", "ql_b1", "ql_b2", "ql_b3", "ql_b4", "ql_c", "ql_d")
            },
        },
    ),
    Binding(
        words="how well the parcel lines are known",
        values={"constraints.boundary.assumed_accuracy": 0.0},
    ),
    Binding(words="the distance to septic parts (health code)", values={"constraints.septic": 0.0}),
    Binding(words="the distance to wells (health code)", values={"constraints.well": 0.0}),
    Binding(words="the distance to overhead lines", values={"constraints.overhead": 0.0}),
    Binding(words="the zone round fixtures", values={"constraints.fixture_zone": 0.01}),
)
"""Each is lifted alone to see whether it stands against a place."""


def value_at(settings: Settings, key: str) -> float:
    """Give a setting's value by its dotted name."""
    found: Any = settings
    for name in key.split("."):
        found = getattr(found, name)
    return float(found)


def share_of(used: Settings, steps: tuple[tuple[Knob, int], ...]) -> float:
    """Give what turning some rules costs: the sum of the changes, each over the value in use.

    Parameters
    ----------
    used : Settings
        In use.
    steps : tuple of (Knob, int)
        Rules, and by how many steps each is turned.

    Returns
    -------
    float
        0 where nothing is turned; 1 for a rule whose value in use is 0.
    """
    total = 0.0
    for knob, step in steps:
        now = value_at(used, knob.key)
        total += abs(knob.value(used, step) - now) / abs(now) if now else float(step > 0)
    return total


def with_values(settings: Settings, values: Mapping[str, Any]) -> Settings:
    """Give settings with some values changed, which may be weaker than a site file may say."""
    changed = settings
    for key, value in values.items():
        changed = _changed(changed, key.split("."), value)
    return changed


def _changed(table: Any, path: list[str], value: Any) -> Any:
    name, *rest = path
    inner = _changed(getattr(table, name), rest, value) if rest else value
    return table.model_copy(update={name: inner})
