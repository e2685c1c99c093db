"""Probability: accuracy statements of lidar, and how sure a drop is."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from geo_site import probability


def test_vertical_accuracy_of_quality_level_2():
    """TER-30: USGS Lidar Base Specification, RMSEz 0.10 m is an NVA of 0.196 m."""
    assert probability.vertical_accuracy_95(0.10) == pytest.approx(0.196, abs=1e-4)


def test_drop_between_independent_points():
    """TER-31: two points of RMSEz 0.10 m; NSSDA factor 1.96 on the root of two."""
    sigma_m = probability.drop_sigma(0.10)
    fall = probability.interval_95(0.0, sigma_m)
    assert sigma_m == pytest.approx(0.14142, abs=1e-5)
    assert fall.high == -fall.low == pytest.approx(0.277, abs=5e-4)
    assert fall.high / 0.3048 == pytest.approx(0.909, abs=1e-3)
    assert fall.high != pytest.approx(0.196, abs=0.01), "the error of one point, not of a drop"


def test_drop_between_correlated_points():
    """TER-32: the same with a correlation of 0.8."""
    sigma_m = probability.drop_sigma(0.10, 0.8)
    assert sigma_m == pytest.approx(0.06325, abs=1e-5)
    assert probability.interval_95(0.0, sigma_m).high == pytest.approx(0.124, abs=1e-4)


def test_horizontal_accuracy():
    """TER-33: NSSDA (FGDC-STD-007.3-1998, from memory), RMSEr 0.50 m."""
    assert probability.horizontal_accuracy_95(0.50) == pytest.approx(0.8654, abs=1e-4)


def test_horizontal_factor_is_that_of_two_equal_errors():
    """TER-33: 95 % radius of a round normal error, over its radial RMSE."""
    assert math.sqrt(stats.chi2.ppf(0.95, 2) / 2) == pytest.approx(
        probability.HORIZONTAL_95, abs=1e-4
    )


@pytest.mark.parametrize("correlation", [-0.5, 0.0, 0.8])
def test_sigma_is_what_simulated_errors_show(correlation):
    generator = np.random.default_rng(20261125)
    covariance = 0.01 * np.array([[1.0, correlation], [correlation, 1.0]])
    errors = generator.multivariate_normal([0.0, 0.0], covariance, 200_000)
    simulated = np.std(errors[:, 0] - errors[:, 1])
    assert probability.drop_sigma(0.10, correlation) == pytest.approx(simulated, rel=0.01)


@given(st.floats(-3, 3), st.floats(-3, 3), st.floats(0.01, 2))
def test_chance_agrees_with_an_independent_library(wanted, value, sigma):
    chance = probability.chance_of_at_least(wanted, value, sigma)
    assert chance == pytest.approx(stats.norm.sf(wanted, loc=value, scale=sigma), abs=1e-12)


def test_lidar_cannot_assert_a_fall_of_a_foot():
    """TER-31: a drop of 0.25 m from lidar of quality level 2 may be none at all."""
    sigma_m = probability.drop_sigma(probability.QL2_RMSE_Z_M)
    assert probability.interval_95(0.25, sigma_m).low < 0.0
    assert probability.interval_95(0.30, sigma_m).low > 0.0


def test_a_certain_value_has_chance_none_or_all():
    assert probability.chance_of_at_least(1.0, 1.0, 0.0) == 1.0
    assert probability.chance_of_at_least(1.0, 0.9, 0.0) == 0.0
    assert math.isnan(probability.chance_of_at_least(math.nan, 0.9, 0.0))
    assert math.isnan(probability.chance_of_at_least(1.0, math.nan, 0.1))


def test_correlation_falls_with_distance():
    assert probability.error_correlation(0.0, 20.0) == 1.0
    assert probability.error_correlation(20.0, 20.0) == pytest.approx(math.exp(-1))
    assert probability.error_correlation(5.0, 0.0) == 0.0
    assert probability.error_correlation(0.0, 0.0) == 1.0


@given(st.floats(0, 1e3), st.floats(0, 1e3), st.floats(0, 1e3))
def test_points_further_apart_are_never_surer(one, other, length):
    near, far = sorted((one, other))
    sigma = [
        probability.drop_sigma(0.1, probability.error_correlation(distance, length))
        for distance in (near, far)
    ]
    assert 0.0 <= sigma[0] <= sigma[1] <= 0.1 * math.sqrt(2) + 1e-12


@pytest.mark.parametrize(
    ("rmse", "correlation"), [(-0.1, 0.0), (math.nan, 0.0), (0.1, 1.1), (0.1, math.nan)]
)
def test_absurd_errors_are_refused(rmse, correlation):
    with pytest.raises(ValueError, match=r"RMSE|correlation"):
        probability.drop_sigma(rmse, correlation)


def test_negative_distances_are_refused():
    with pytest.raises(ValueError, match="at least 0"):
        probability.error_correlation(-1.0, 10.0)
