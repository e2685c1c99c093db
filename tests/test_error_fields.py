"""Correlated errors: the fields have the covariance of the model, exactly and in the mean."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import fft

from geo_site.error_fields import (
    ErrorModel,
    cell_model,
    correlation,
    covariance,
    covariance_of_sums,
    draw_pair,
    embed,
)

SHAPE, WIDTH_M, HEIGHT_M = (5, 7), 1.0, 1.5


def model(**more) -> ErrorModel:
    return ErrorModel(**{"rmse_m": 0.1, "range_m": 6.0, **more})


def points_of(shape=SHAPE):
    rows, columns = np.meshgrid(*(np.arange(n) for n in shape), indexing="ij")
    return np.column_stack([columns.ravel() * WIDTH_M, rows.ravel() * HEIGHT_M])


def dense(one: ErrorModel, shape=SHAPE):
    """Covariance of every cell with every other, written out from the definition."""
    p = points_of(shape)
    h = np.sqrt(((p[:, None] - p[None]) ** 2).sum(axis=2))
    power = 1 if one.shape == "exponential" else 2
    smooth = np.exp(-3.0 * (h / one.range_m) ** power)
    share = 1.0 - one.nugget_share - one.bias_share
    return one.rmse_m**2 * (one.bias_share + share * smooth + one.nugget_share * np.eye(len(p)))


MODELS = [
    model(),
    model(shape="gaussian"),
    model(nugget_share=0.3),
    model(shape="gaussian", nugget_share=0.1, bias_share=0.4),
    model(range_m=30.0),
    model(range_m=15.0, shape="gaussian"),
]


@pytest.mark.parametrize("one", MODELS)
def test_err_01_the_embedding_holds_the_covariance_of_every_pair_of_cells(one):
    """ERR-01: the larger grid that wraps round has the model's covariance at every lag."""
    grid = embed(SHAPE, WIDTH_M, HEIGHT_M, one)
    wrapped = fft.ifft2(grid.roots**2 * grid.roots.size).real
    smooth = dense(model(range_m=one.range_m, shape=one.shape)) / 0.01
    rows, columns = np.divmod(np.arange(SHAPE[0] * SHAPE[1]), SHAPE[1])
    lag = wrapped[rows[:, None] - rows[None], columns[:, None] - columns[None]]
    assert lag == pytest.approx(smooth, abs=1e-9)


@pytest.mark.parametrize("shape", ["exponential", "gaussian"])
@pytest.mark.parametrize("range_m", [0.0, 0.4, 1.0, 2.0])
def test_err_01_a_range_that_is_short_beside_the_grid_takes_a_smaller_one(shape, range_m):
    """ERR-01: 30 x 23 cells, at every lag; errors that reach nowhere near twice the grid."""
    one, size = model(range_m=range_m, shape=shape), (30, 23)
    grid = embed(size, WIDTH_M, HEIGHT_M, one)
    wrapped = fft.ifft2(grid.roots**2 * grid.roots.size).real[: size[0], : size[1]]
    rows, columns = np.indices(size)
    apart_m = np.hypot(rows * HEIGHT_M, columns * WIDTH_M)
    assert wrapped == pytest.approx(
        covariance(apart_m, model(range_m=range_m, shape=shape)) / 0.01, abs=1e-9
    )
    assert grid.roots.size < 58 * 44
    assert draw_pair(grid, np.random.default_rng(1)).shape == (2, *size)


@pytest.mark.parametrize("size", [(1, 1), (1, 7), (7, 1), (2, 2), (1, 40)])
def test_err_01_a_grid_of_one_row_or_column(size):
    """ERR-01: as on any other; where errors reach far, only the longer side grows."""
    for one in (model(range_m=0.0), model(range_m=6.0), model(range_m=40.0)):
        grid = embed(size, WIDTH_M, HEIGHT_M, one, most_cells=2_000_000)
        wrapped = fft.ifft2(grid.roots**2 * grid.roots.size).real[: size[0], : size[1]]
        rows, columns = np.indices(size)
        apart_m = np.hypot(rows * HEIGHT_M, columns * WIDTH_M)
        assert wrapped == pytest.approx(covariance(apart_m, one) / 0.01, abs=1e-9)
        assert draw_pair(grid, np.random.default_rng(1)).shape == (2, *size)


@pytest.mark.parametrize("one", MODELS)
def test_err_02_drawn_fields_have_the_covariance_within_its_standard_error(one):
    """ERR-02: the standard error of a sample covariance is sqrt((C_ii C_jj + C_ij^2) / n)."""
    grid = embed(SHAPE, WIDTH_M, HEIGHT_M, one)
    generator = np.random.default_rng(20261125)
    drawn = np.concatenate([draw_pair(grid, generator) for _ in range(1500)])
    flat = drawn.reshape(len(drawn), -1)
    expected = dense(one)
    found = flat.T @ flat / len(flat)  # the mean is known to be nought
    size = np.diag(expected)
    error = np.sqrt((np.outer(size, size) + expected**2) / len(flat))
    assert (np.abs(found - expected) < 4.5 * error).all()
    assert (np.abs(found - expected) < 1.5 * error).mean() > 0.6


def test_the_two_fields_of_a_pair_know_nothing_of_each_other():
    grid = embed(SHAPE, WIDTH_M, HEIGHT_M, model(bias_share=0.3, nugget_share=0.2))
    generator = np.random.default_rng(3)
    one, two = np.stack([draw_pair(grid, generator) for _ in range(2000)], axis=1)
    shared = np.einsum("nij,nij->ij", one, two) / len(one)
    assert np.abs(shared).max() < 4.5 * 0.01 / math.sqrt(len(one))


def test_the_wrong_shape_would_be_seen():
    """The test of the covariance can fail: another shape is three times as far off."""
    apart = np.abs(dense(model()) - dense(model(shape="gaussian")))
    assert apart.max() > 3 * 4.5 * 0.01 * math.sqrt(2.0 / 3000)


def test_the_same_seed_gives_the_same_fields():
    grid = embed(SHAPE, WIDTH_M, HEIGHT_M, model(nugget_share=0.1))
    one, two = (draw_pair(grid, np.random.default_rng(5)) for _ in range(2))
    assert one.tobytes() == two.tobytes()
    assert one.tobytes() != draw_pair(grid, np.random.default_rng(6)).tobytes()


def test_no_error_gives_no_field():
    grid = embed(SHAPE, WIDTH_M, HEIGHT_M, model(rmse_m=0.0))
    assert not draw_pair(grid, np.random.default_rng(1)).any()


def test_a_bias_moves_the_whole_field_and_nothing_else():
    grid = embed(SHAPE, WIDTH_M, HEIGHT_M, model(bias_share=1.0))
    for field in draw_pair(grid, np.random.default_rng(1)):
        assert np.ptp(field) == pytest.approx(0.0, abs=1e-15)
        assert field[0, 0] != 0.0


def test_a_grid_that_is_too_large_is_not_begun():
    assert embed((4, 4), 1.0, 1.0, model(range_m=300.0, shape="gaussian"), most_cells=500) is None


def test_ter_32_the_drop_of_two_points_whose_errors_are_alike():
    """TER-32: correlation 0.8, sigma 0.06325 m, 0.124 m at 95 %."""
    distance_m = -6.0 / 3.0 * math.log(0.8)
    drop = np.array([[0.0, 0.0], [distance_m, 0.0]]), np.array([1.0, -1.0])
    sigma_m = math.sqrt(covariance_of_sums(drop, drop, model()))
    assert sigma_m == pytest.approx(0.06325, abs=1e-5)
    assert 1.959964 * sigma_m == pytest.approx(0.124, abs=1e-4)


def test_ter_31_the_drop_of_independent_points():
    """TER-31: no range at all, sigma 0.14142 m."""
    drop = np.array([[0.0, 0.0], [3.0, 0.0]]), np.array([1.0, -1.0])
    found = covariance_of_sums(drop, drop, model(range_m=0.0))
    assert math.sqrt(found) == pytest.approx(0.14142, abs=1e-5)


@pytest.mark.parametrize("one", MODELS)
def test_sums_over_many_cells_are_those_of_the_dense_matrix(one):
    generator = np.random.default_rng(8)
    points = points_of()
    u, v = generator.normal(size=(2, len(points)))
    found = covariance_of_sums((points, u), (points, v), one)
    assert found == pytest.approx(u @ dense(one) @ v, rel=1e-9)


@settings(max_examples=50, deadline=None)
@given(
    st.lists(st.tuples(st.floats(0, 50), st.floats(0, 50)), min_size=1, max_size=12, unique=True),
    st.sampled_from(MODELS),
    st.integers(0, 99),
)
def test_no_sum_has_a_negative_variance(points, one, seed):
    xy = np.array(points)
    weights = np.random.default_rng(seed).normal(size=len(xy))
    found = covariance_of_sums((xy, weights), (xy, weights), one)
    assert found >= -1e-12


@given(st.floats(0, 200), st.floats(0, 200), st.sampled_from(MODELS))
def test_errors_are_less_alike_the_farther_apart(near_m, more_m, one):
    near, far = correlation([near_m, near_m + more_m], one)
    assert 0.0 <= far <= near <= 1.0
    assert covariance(near_m, one) == pytest.approx(0.01 * near)


def test_the_practical_range_is_where_five_percent_are_left():
    for shape in ("exponential", "gaussian"):
        assert float(correlation(6.0, model(shape=shape))) == pytest.approx(0.0498, abs=1e-4)


@pytest.mark.parametrize("one", MODELS)
def test_err_03_ground_between_the_centres_has_the_error_that_is_stated(one):
    """ERR-03: mean square of bilinear errors at random points of a cell, from the dense matrix."""
    cells = cell_model(one, WIDTH_M, HEIGHT_M)
    matrix = dense(cells, (2, 2))
    u, v = np.random.default_rng(4).uniform(size=(2, 40_000))
    weights = np.column_stack([(1 - v) * (1 - u), (1 - v) * u, v * (1 - u), v * u])
    mean_square = np.einsum("ni,ij,nj->n", weights, matrix, weights).mean()
    assert math.sqrt(mean_square) == pytest.approx(0.1, rel=2e-3)
    assert cells.rmse_m > 0.1 - 1e-12


@pytest.mark.parametrize(
    "wrong",
    [
        {"rmse_m": -0.1},
        {"rmse_m": math.nan},
        {"range_m": -1.0},
        {"nugget_share": 0.7, "bias_share": 0.4},
        {"nugget_share": -0.1},
        {"shape": "spherical"},
    ],
)
def test_what_cannot_be_is_refused(wrong):
    with pytest.raises(ValueError, match=r"at least 0|shares|no such shape"):
        model(**wrong)
    with pytest.raises(ValueError, match="at least 0"):
        correlation([-1.0], model())
