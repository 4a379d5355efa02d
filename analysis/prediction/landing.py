"""The chance that one brew lands in the window, and how sure that chance is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import special

from analysis.mixed.arrays import CONFIDENCE, Floats
from analysis.prediction.model import Linear, ResponseModel, Spread, around_mean, of_mean
from analysis.prediction.rectangle import normal_inside
from analysis.prediction.request import RESPONSES, Window
from analysis.prediction.tied import CLOSEST, Tied, brew_covariance, estimation_covariance

DRAWS = 4000
DRAWS_OF_MANY = 200
TINY = 1e-300


@dataclass(frozen=True)
class Joint:
    """Yield and strength together at m recipes.

    `value` (2, m) expected; `estimation` (2, 2, m) covariance of the errors of estimation, `scatter` (2, 2, m) that of
    one brew about what is estimated; `df_estimation`, `df_scatter` (m,) how well each of the two is known.
    """

    value: Floats
    estimation: Floats
    scatter: Floats
    df_estimation: Floats
    df_scatter: Floats

    def correlation(self) -> Floats:
        """Correlation (m,) of yield and strength of brews at one recipe."""
        return _correlation(self.scatter)


@dataclass(frozen=True)
class Chance:
    """Chance of landing at m recipes, and its 95 % interval; shares between 0 and 1, shape (m,)."""

    value: Floats
    low: Floats
    high: Floats


def join(models: tuple[ResponseModel, ResponseModel], lines: tuple[Linear, Linear], tied: Tied) -> Joint:
    """The two predictions at once; a new coffee's own difference counts as scatter, not as error of estimation."""
    estimates = [of_mean(model, line, fresh=False) for model, line in zip(models, lines, strict=True)]
    scatters = [around_mean(model, line) for model, line in zip(models, lines, strict=True)]
    return Joint(
        np.array([line.value for line in lines]),
        _matrix(estimates, estimation_covariance(*lines, tied)),
        _matrix(scatters, brew_covariance(*lines, tied)),
        np.minimum(estimates[0].df, estimates[1].df),
        np.minimum(scatters[0].df, scatters[1].df),
    )


def _matrix(spreads: list[Spread], both: Floats) -> Floats:
    first, second = (spread.variance for spread in spreads)
    most = CLOSEST * np.sqrt(first * second)
    both = np.clip(both, -most, most)
    return np.array([[first, both], [both, second]])


def chance_inside(joint: Joint, window: Window, *, rng: np.random.Generator, draws: int = DRAWS) -> Chance:
    """Chance that one brew lands in `window`, over `draws` of everything that was estimated.

    A draw takes the means from a bivariate t (error of estimation, its df) and the scatter's covariance from an
    inverse Wishart whose variances are df s^2 / chi-squared(df), as Satterthwaite's df say. The chance is the mean over
    draws, its interval the middle 95 % of them. All recipes share the draws, so that they are ranked alike.
    """
    normal = rng.standard_normal((2, draws, 1))
    heavy = rng.random((draws, 1))
    bent = rng.standard_normal((draws, 1))
    uniform = rng.random((2, draws, 1))
    means = _means(joint, normal, heavy)
    sd_x, sd_y, r = _scatters(joint, bent, uniform)
    inside = normal_inside(
        (means[0], means[1]), (sd_x, sd_y), r, (window.ends(RESPONSES[0]), window.ends(RESPONSES[1]))
    )
    tail = (1 - CONFIDENCE) / 2
    low, high = np.quantile(inside, [tail, 1 - tail], axis=0)
    return Chance(inside.mean(axis=0), low, high)


def _means(joint: Joint, normal: Floats, heavy: Floats) -> Floats:
    """Draws (2, draws, m) of the two means."""
    s = joint.estimation
    root = np.sqrt(np.maximum(s[0, 0], TINY))
    lean = s[0, 1] / root
    rest = np.sqrt(np.maximum(s[1, 1] - lean**2, 0.0))
    stretch = np.sqrt(joint.df_estimation / _chi_squared(heavy, joint.df_estimation))
    return np.stack(
        [
            joint.value[0] + stretch * root * normal[0],
            joint.value[1] + stretch * (lean * normal[0] + rest * normal[1]),
        ]
    )


def _scatters(joint: Joint, bent: Floats, uniform: Floats) -> tuple[Floats, Floats, Floats]:
    """Draws (draws, m) of both standard deviations and the correlation of the scatter.

    With S = A A', W ~ Wishart(df + 1, I) = T T' (Bartlett 1933), df A W^-1 A' is the inverse Wishart wanted.
    """
    df = joint.df_scatter
    t1 = np.sqrt(_chi_squared(uniform[0], df + 1))
    t2 = np.sqrt(_chi_squared(uniform[1], df))
    # Inverse of T' T with lower T = [[t1, 0], [bent, t2]]: columns of A T^-1' give the drawn covariance.
    s = joint.scatter
    a11 = np.sqrt(s[0, 0])
    a21 = s[0, 1] / a11
    a22 = np.sqrt(np.maximum(s[1, 1] - a21**2, TINY))
    i11, i12, i22 = 1 / t1, -bent / (t1 * t2), 1 / t2
    b11, b12 = a11 * i11, a11 * i12
    b21, b22 = a21 * i11, a21 * i12 + a22 * i22
    xx, yy, xy = df * (b11**2 + b12**2), df * (b21**2 + b22**2), df * (b11 * b21 + b12 * b22)
    sd_x, sd_y = np.sqrt(xx), np.sqrt(yy)
    return sd_x, sd_y, np.clip(xy / (sd_x * sd_y), -CLOSEST, CLOSEST)


def _chi_squared(uniform: Floats, df: Floats) -> Floats:
    """Chi-squared quantiles (draws, m) at one uniform a draw, so that recipes with one df share their draws."""
    return np.asarray(np.maximum(2 * special.gammaincinv(df / 2, uniform), TINY), dtype=np.float64)


def _correlation(matrix: Floats) -> Floats:
    return np.asarray(matrix[0, 1] / np.sqrt(matrix[0, 0] * matrix[1, 1]), dtype=np.float64)
