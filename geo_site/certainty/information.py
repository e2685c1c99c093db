"""What one measurement on site would help: the expected value of information.

Question
    Which measurement, made first, changes most of what is known about which plan to build?
In
    Prospects: places with their worth and what must hold for each to work. Measurements.
Out
    For each measurement the expected gain, in plans that work.
Method
    One builds the prospect of greatest value, or nothing: a prospect of worth ``s`` that works with
    chance ``P`` has the value ``s P - c (1 - P)``, nothing has 0. What must hold are numbers with
    normal errors that must be above nought. A measurement with a normal error moves their means and
    takes from their spread, so before it is made the value of the best choice after it is an
    integral over one standard normal reading. Its mean less the value of the best choice now is the
    gain (preposterior analysis).
Reference
    Raiffa and Schlaifer (1961), Applied Statistical Decision Theory (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

__all__ = ["Decision", "Reading", "expected_gain"]

Floats = NDArray[np.float64]

_FAR = 8.0  # standard deviations: beyond lies less than 1e-14
_STEPS = 2000  # even: none falls on the middle, where a sure need would jump
_ROUNDING = 1e-12


@dataclass(frozen=True, kw_only=True, eq=False)
class Decision:
    """What may be built, and what must hold.

    Attributes
    ----------
    worth : ndarray, shape (prospects,)
        Of each prospect if it works, 0 to 1.
    spare : ndarray, shape (needs,)
        By how much each need holds as far as is known; it holds above 0.
    covariance : ndarray, shape (needs, needs)
        Of the needs' errors. Needs of one prospect are independent of each other.
    prospect : ndarray of int, shape (needs,)
        Whose need it is.
    cost_of_failing : float
        What a prospect costs that is begun and does not work.
    """

    worth: Floats
    spare: Floats
    covariance: Floats
    prospect: NDArray[np.int64]
    cost_of_failing: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Reading:
    """A measurement that may be made.

    Attributes
    ----------
    covariance : ndarray, shape (needs,)
        Of what is measured with each need.
    variance : float
        Of what is measured, as far as is known now.
    error : float
        Standard deviation of the instrument.
    """

    covariance: Floats
    variance: float
    error: float


def expected_gain(decision: Decision, reading: Reading) -> float:
    """Expected value of a measurement.

    `gain = E_z[max_k v_k(z)] - max_k v_k`, with `v_k = s_k P_k - c (1 - P_k)`, v of building
    nothing 0, and `P_k(z) = prod_i F((m_i + g_i z) / sqrt(s_i^2 - g_i^2))`,
    `g_i = cov_i / sqrt(variance + error^2)`, z standard normal, F the normal distribution.

    Parameters
    ----------
    decision : Decision
        Between what.
    reading : Reading
        What is measured.

    Returns
    -------
    float
        In plans that work; at least 0.

    Examples
    --------
    One prospect that works or fails with even chances, and a perfect measurement of its need:

    >>> import numpy as np
    >>> decision = Decision(
    ...     worth=np.ones(1), spare=np.zeros(1), covariance=np.ones((1, 1)),
    ...     prospect=np.zeros(1, int), cost_of_failing=1.0)
    >>> perfect = Reading(covariance=np.ones(1), variance=1.0, error=0.0)
    >>> round(expected_gain(decision, perfect), 3)
    0.5
    """
    spread = np.sqrt(reading.variance + reading.error**2)
    if spread == 0.0:
        return 0.0
    z = np.linspace(-_FAR, _FAR, _STEPS)
    share = np.exp(-0.5 * z**2)
    share /= share.sum()
    slope = reading.covariance / spread
    means = decision.spare + z[:, None] * slope
    left = np.sqrt(np.maximum(np.diag(decision.covariance) - slope**2, 0.0))
    after = _best(decision, _chances(means, left))
    now = _best(decision, _chances(decision.spare[None, :], np.sqrt(np.diag(decision.covariance))))
    gain = float(share @ after - now[0])
    return gain if gain > _ROUNDING else 0.0


def _chances(means: Floats, sigmas: Floats) -> Floats:
    """Chance that each need holds; certain where nothing is left to be unsure of."""
    sure = sigmas <= 0.0
    scaled = means / np.where(sure, 1.0, sigmas)
    return np.where(sure, (means >= 0.0).astype(np.float64), ndtr(scaled))


def _best(decision: Decision, chances: Floats) -> Floats:
    """Value of the best choice for each row of chances."""
    values = [np.zeros(len(chances))]
    for k, worth in enumerate(decision.worth):
        works = np.prod(chances[:, decision.prospect == k], axis=1)
        values.append(worth * works - decision.cost_of_failing * (1.0 - works))
    return np.asarray(np.max(values, axis=0))
