"""Errors of a surface that are alike at near points: covariances and drawn fields.

Question
    How do the errors of two points, of a sum over many points, of a whole grid hang together?
In
    A root-mean-square error, the distance at which errors have nothing in common any more, and
    how much of the error is the same everywhere or each point's own.
Out
    Covariances, variances of weighted sums, and fields drawn from a generator.
Method
    Errors are normal, without bias that is known, and alike in every direction. Fields are drawn by
    circulant embedding: the covariance of a grid is put into one of a larger grid that wraps
    round, whose Fourier transform gives its eigenvalues; the field is then exact, not smoothed
    noise. It is larger by no more than errors reach, and grows until no eigenvalue is negative.
Reference
    Dietrich and Newsam (1997), SIAM Journal on Scientific Computing 18(4), and Wood and Chan
    (1994), Journal of Computational and Graphical Statistics 3(4) (both from memory); Oksanen and
    Sarjakoski (2005), Computers & Geosciences 31(8) (abstract, a transcription).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import fft

__all__ = [
    "Embedding",
    "ErrorModel",
    "cell_model",
    "correlation",
    "covariance",
    "covariance_of_sums",
    "draw_pair",
    "embed",
]

Floats = NDArray[np.float64]

_DECAY = 3.0  # at the practical range the correlation is exp(-3), 5 %
_NOTHING = 1e-14  # a correlation that is taken for none
_ROUNDING = 1e-10  # of the greatest eigenvalue: below it a negative one is rounding


@dataclass(frozen=True, slots=True, kw_only=True)
class ErrorModel:
    """How the error of a surface behaves from point to point.

    Attributes
    ----------
    rmse_m : float
        Root-mean-square error of any one point, m: all parts together.
    range_m : float
        Practical range, m: where the correlation of the smooth part has fallen to 5 %; 0: every
        point has an error of its own.
    shape : {"exponential", "gaussian"}
        How the correlation falls with distance.
    nugget_share : float
        Of the variance, what is each point's own.
    bias_share : float
        Of the variance, what all points share.

    Raises
    ------
    ValueError
        A negative or unknown number, shares of more than 1, or an unknown shape.
    """

    rmse_m: float
    range_m: float
    shape: Literal["exponential", "gaussian"] = "exponential"
    nugget_share: float = 0.0
    bias_share: float = 0.0

    def __post_init__(self) -> None:
        if not (self.rmse_m >= 0.0 and self.range_m >= 0.0):
            raise ValueError("an error and its range are at least 0")
        if not (self.nugget_share >= 0.0 and self.bias_share >= 0.0 and self.smooth_share >= 0.0):
            raise ValueError("shares of the variance lie between 0 and 1, together too")
        if self.shape not in {"exponential", "gaussian"}:
            raise ValueError(f"no such shape: {self.shape}")

    @property
    def smooth_share(self) -> float:
        """Of the variance, what near points share."""
        rest = 1.0 - self.nugget_share - self.bias_share
        return 0.0 if abs(rest) < _ROUNDING else rest


def correlation(distance_m: ArrayLike, model: ErrorModel) -> Floats:
    """Correlation of the errors of two points.

    `rho(h) = b + (1 - b - n) r(h)` for h > 0, and 1 at h = 0, with b the share of bias, n that
    of the nugget, and `r(h) = exp(-3 h / a)` (exponential) or `exp(-3 (h / a)^2)` (gaussian), a
    the practical range.

    Parameters
    ----------
    distance_m : array_like
        Distances of the points, m.
    model : ErrorModel
        The error.

    Returns
    -------
    ndarray, shape of the distances
        Correlations, 0 to 1.

    Raises
    ------
    ValueError
        A distance is negative or NaN.

    References
    ----------
    Oksanen and Sarjakoski (2005): exponential and gaussian models with practical ranges of 0, 30,
    60 and 120 m were looked at; the shape mattered less than range and sill (abstract).

    Examples
    --------
    >>> model = ErrorModel(rmse_m=0.1, range_m=30.0)
    >>> correlation([0.0, 10.0, 30.0], model).round(4).tolist()
    [1.0, 0.3679, 0.0498]
    """
    distance = np.asarray(distance_m, dtype=np.float64)
    if not np.all(distance >= 0.0):
        raise ValueError("distances must be at least 0")
    same = distance == 0.0
    if model.range_m == 0.0:
        smooth = same.astype(np.float64)
    else:
        ratio = distance / model.range_m
        smooth = np.exp(-_DECAY * (ratio if model.shape == "exponential" else ratio**2))
    rho = model.bias_share + model.smooth_share * smooth
    return np.asarray(np.where(same, 1.0, rho), dtype=np.float64)


def covariance(distance_m: ArrayLike, model: ErrorModel) -> Floats:
    """Covariance of the errors of two points, m2: the correlation times the variance.

    Parameters
    ----------
    distance_m : array_like
        Distances of the points, m.
    model : ErrorModel
        The error.

    Returns
    -------
    ndarray, shape of the distances
        Covariances, m2.

    Examples
    --------
    >>> float(covariance(0.0, ErrorModel(rmse_m=0.1, range_m=30.0)).round(4))
    0.01
    """
    return np.asarray(model.rmse_m**2 * correlation(distance_m, model))


def covariance_of_sums(
    one: tuple[Floats, Floats], two: tuple[Floats, Floats], model: ErrorModel
) -> float:
    """Covariance of two weighted sums of errors.

    `cov = sum_i sum_j u_i v_j C(|p_i - q_j|)`. A drop is the sum with weights 1 and -1: its
    variance is `2 s^2 (1 - rho)`. A mean over an area has equal weights that add up to 1,
    a volume has weights in m2.

    Parameters
    ----------
    one, two : tuple of ndarray of shape (n, 2) and ndarray of shape (n,)
        Points, m, and their weights. The same points and weights give a variance.
    model : ErrorModel
        The error.

    Returns
    -------
    float
        m2, times the units of the two weights.

    Examples
    --------
    >>> import math
    >>> import numpy as np
    >>> model = ErrorModel(rmse_m=0.1, range_m=30.0)
    >>> drop = np.array([[0.0, 0.0], [10.0, 0.0]]), np.array([1.0, -1.0])
    >>> round(covariance_of_sums(drop, drop, model), 6), round(0.02 * (1 - math.exp(-1)), 6)
    (0.012642, 0.012642)
    """
    (p, u), (q, v) = one, two
    distance_m = np.hypot(p[:, None, 0] - q[None, :, 0], p[:, None, 1] - q[None, :, 1])
    return float(u @ covariance(distance_m, model) @ v)


def cell_model(model: ErrorModel, cell_width_m: float, cell_height_m: float) -> ErrorModel:
    """Error of the cells of a grid whose ground between the centres has a stated error.

    An accuracy is found by comparing the ground interpolated at check points. Bilinear ground takes
    the mean of up to four cells, so its error is smaller than theirs; the cells get the error that
    gives the stated one in the mean over a cell: `s_cell^2 = s^2 / sum_ij E[w_i w_j] rho_ij`, with
    `E[w_i w_j]` in each direction 1/3 for the same cell and 1/6 for its neighbour.

    Parameters
    ----------
    model : ErrorModel
        Of the ground between the centres.
    cell_width_m, cell_height_m : float
        Size of a cell, m.

    Returns
    -------
    ErrorModel
        Of the cells: the same but for its size.

    References
    ----------
    FGDC-STD-007.3-1998 (NSSDA; from memory): check points against the data set interpolated there.

    Examples
    --------
    Errors that are all the cells' own: four ninths of the variance are left.

    >>> round(cell_model(ErrorModel(rmse_m=0.1, range_m=0.0), 1.0, 1.0).rmse_m, 4)
    0.15
    """
    apart_m = np.array([0.0, cell_width_m, cell_height_m, math.hypot(cell_width_m, cell_height_m)])
    mean_weights = np.array([4.0, 2.0, 2.0, 1.0]) / 9.0
    left = float(mean_weights @ correlation(apart_m, model))
    return replace(model, rmse_m=model.rmse_m / math.sqrt(left))


@dataclass(frozen=True, eq=False)
class Embedding:
    """A grid made ready for drawing fields.

    Attributes
    ----------
    shape : tuple of int
        Rows and columns of the grid.
    roots : ndarray
        Square roots of the eigenvalues of the larger grid that wraps round, over its size.
    model : ErrorModel
        The error.
    """

    shape: tuple[int, int]
    roots: Floats
    model: ErrorModel


def embed(
    shape: tuple[int, int],
    cell_width_m: float,
    cell_height_m: float,
    model: ErrorModel,
    *,
    most_cells: int = 1 << 25,
) -> Embedding | None:
    """Make a grid ready for drawing fields.

    Parameters
    ----------
    shape : tuple of int
        Rows and columns.
    cell_width_m, cell_height_m : float
        Size of a cell, m.
    model : ErrorModel
        The error.
    most_cells : int
        Of the larger grid.

    Returns
    -------
    Embedding or None
        Exact to rounding: the fields' covariance is the model's between any two cells. None where
        that takes more cells: the grid is too large, or the range too long beside it.
    """
    cells = cell_width_m, cell_height_m
    reach_m = _reach_m(model)
    height, width = (
        _wide_enough(n, math.ceil(reach_m / cell_m))
        for n, cell_m in zip(shape, cells[::-1], strict=True)
    )
    while width * height <= most_cells:
        values = _eigenvalues((height, width), cells, model)
        least, greatest = float(values.min()), float(values.max())
        if least >= -_ROUNDING * max(greatest, np.finfo(float).tiny):
            roots = np.sqrt(np.maximum(values, 0.0) / values.size)
            return Embedding(shape=shape, roots=roots, model=model)
        width, height = (
            size if count == 1 else fft.next_fast_len(math.ceil(1.5 * size))
            for size, count in zip((width, height), shape[::-1], strict=True)
        )
    return None


def _reach_m(model: ErrorModel) -> float:
    """Distance beyond which the smooth part is alike by less than rounding."""
    ratio = -math.log(_NOTHING) / _DECAY
    return model.range_m * (ratio if model.shape == "exponential" else math.sqrt(ratio))


def _wide_enough(count: int, reach: int) -> int:
    """A size, quick to transform, in which each lag of so many cells keeps its covariance.

    A lag and what is left of the size beyond it are one lag on a grid that wraps round; so either
    both directions must fit in, or beyond the last lag there must be as much as errors reach.
    """
    if count == 1:  # there is no lag
        return 1
    return int(fft.next_fast_len(count - 1 + min(count - 1, max(reach, 1))))


def _eigenvalues(padded: tuple[int, int], cells: tuple[float, float], model: ErrorModel) -> Floats:
    """Eigenvalues of the smooth part on a grid that wraps round, of unit share."""
    rows, columns = padded
    row, column = np.arange(rows), np.arange(columns)
    north_m = np.minimum(row, rows - row) * cells[1]
    east_m = np.minimum(column, columns - column) * cells[0]
    smooth = ErrorModel(rmse_m=1.0, range_m=model.range_m, shape=model.shape)
    wrapped = correlation(np.hypot(north_m[:, None], east_m[None, :]), smooth)
    return np.asarray(fft.fft2(wrapped).real, dtype=np.float64)


def draw_pair(embedding: Embedding, generator: np.random.Generator) -> Floats:
    """Draw two fields that know nothing of each other.

    Parameters
    ----------
    embedding : Embedding
        The grid.
    generator : numpy.random.Generator
        Seeded by the caller; the same state gives the same fields.

    Returns
    -------
    ndarray, shape (2, rows, cols)
        Errors, m.

    Examples
    --------
    >>> import numpy as np
    >>> grid = embed((3, 4), 1.0, 1.0, ErrorModel(rmse_m=0.1, range_m=5.0))
    >>> draw_pair(grid, np.random.default_rng(1)).shape
    (2, 3, 4)
    """
    model, (rows, columns) = embedding.model, embedding.shape
    noise = generator.standard_normal((*embedding.roots.shape, 2)).view(np.complex128)[..., 0]
    waves = fft.fft2(embedding.roots * noise, overwrite_x=True)[:rows, :columns]
    fields = np.stack([waves.real, waves.imag]) * math.sqrt(model.smooth_share)
    if model.nugget_share > 0.0:
        fields += math.sqrt(model.nugget_share) * generator.standard_normal(fields.shape)
    if model.bias_share > 0.0:
        fields += math.sqrt(model.bias_share) * generator.standard_normal((2, 1, 1))
    fields *= model.rmse_m
    return fields
