"""What one measurement on site would help, for every measurement that may be made.

In: the places and what lines ask of them. Out: :class:`~geo_site.certainty.Worth` rows, the most
helpful first. Method: one of the places is built, or none; each needs its fall and its distance
from every line. Levels tell of the falls, a line laid bare tells of its distances. Reference:
``geo_site.certainty``.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from geo_site.certainty import (
    Decision,
    LineNeed,
    Reading,
    Sum,
    Worth,
    covariance_of,
    drop_sum,
    expected_gain,
    line_covariance,
    lowest,
)
from geo_site.plan.sure_desk import Desk, fall_to_be_had, needed_fall

__all__ = ["BARE", "DROP", "decision_of", "worth_of"]

Floats = NDArray[np.float64]

DROP, BARE = "drop from spillway to basin rim", "line laid bare"
_TIE = 9


def worth_of(desk: Desk, needs: Sequence[LineNeed]) -> tuple[Worth, ...]:
    """Work out the expected gain of every measurement.

    Parameters
    ----------
    desk : Desk
        Places and their falls.
    needs : sequence of LineNeed
        What lines ask of them.

    Returns
    -------
    tuple of Worth
        The greatest first: at each place its drop, and the level of either end against the
        terrain's datum; each line laid bare.
    """
    decision = decision_of(desk, needs)
    rows = [
        Worth(
            subject=subject,
            measurement=measurement,
            rank=desk.choice.ranked[number].rank,
            settles=expected_gain(decision, reading),
        )
        for subject, measurement, number, reading in (
            *_levels(desk, len(needs)),
            *_exposures(desk, needs),
        )
    ]
    return tuple(sorted(rows, key=lambda row: -round(row.settles, _TIE)))


def decision_of(desk: Desk, needs: Sequence[LineNeed]) -> Decision:
    """Put the decision: one of the places is built or none.

    Parameters
    ----------
    desk : Desk
        Places and their falls.
    needs : sequence of LineNeed
        What lines ask of them.

    Returns
    -------
    Decision
        Each place needs its fall and its distance from each line, in this order.
    """
    ranked = desk.choice.ranked
    falls = _covariances(desk.falls, desk.falls, desk)
    lines = line_covariance(needs, desk.parameters.line_range)
    count, size = len(falls), len(falls) + len(lines)
    both = np.zeros((size, size))
    both[:count, :count], both[count:, count:] = falls, lines
    spare = [fall_to_be_had(row.candidate) - needed_fall(desk.choice) for row in ranked]
    return Decision(
        worth=np.array([row.score for row in ranked]),
        spare=np.array([*spare, *(need.spare_m for need in needs)]),
        covariance=both,
        prospect=np.array([*range(count), *(need.place for need in needs)], dtype=np.int64),
        cost_of_failing=desk.parameters.cost_of_failing,
    )


def _covariances(one: Sequence[Sum], two: Sequence[Sum], desk: Desk) -> Floats:
    found = [[covariance_of(a, b, desk.model, desk.detail) for b in two] for a in one]
    return np.array(found).reshape(len(one), len(two))


def _levels(desk: Desk, lines: int) -> Iterable[tuple[str, str, int, Reading]]:
    """Levels at each place: the drop, or one of its two ends against the terrain's datum."""
    ground, error_m = desk.choice.job.terrain.ground, desk.parameters.level_error
    for number, spot in enumerate(desk.spots):
        rim = lowest(spot.outline, ground)
        told = (
            (DROP, drop_sum(spot.lip, rim)),
            ("level of the spillway, in the terrain's datum", (spot.lip, np.ones(1))),
            ("level of the basin rim, in the terrain's datum", (rim, np.ones(1))),
        )
        for measurement, weights in told:
            with_falls = _covariances([weights], desk.falls, desk)[0]
            yield (
                "terrain",
                measurement,
                number,
                Reading(
                    covariance=np.append(with_falls, np.zeros(lines)),
                    variance=covariance_of(weights, weights, desk.model, desk.detail),
                    error=error_m,
                ),
            )


def _exposures(desk: Desk, needs: Sequence[LineNeed]) -> Iterable[tuple[str, str, int, Reading]]:
    """Each line laid bare beside the place that has least to spare from it."""
    covariance = line_covariance(needs, desk.parameters.line_range)
    places = len(desk.spots)
    for line_id in dict.fromkeys(need.line_id for need in needs):
        own = [i for i, need in enumerate(needs) if need.line_id == line_id]
        at = min(own, key=lambda i: needs[i].spare_m)
        reading = Reading(
            covariance=np.append(np.zeros(places), covariance[at]),
            variance=float(covariance[at, at]),
            error=desk.parameters.exposed_error,
        )
        yield line_id, BARE, needs[at].place, reading
