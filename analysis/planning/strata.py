"""Where an effect's uncertainty comes from in a plan with blocks and whole plots: standard errors and their freedom."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

from analysis.mixed.arrays import CONFIDENCE, Floats, Ints
from analysis.planning.noise import Noise

RANK_TOLERANCE = 1e-8


@dataclass(frozen=True)
class Layout:
    """Columns of the terms `x` (n, p) and the level numbers (n,) of what keeps its own level.

    `coffees` and `sessions` get a level of their own in the fit; `whole_plots` share the error of one setting-up.
    """

    x: Floats
    coffees: Ints
    sessions: Ints
    whole_plots: Ints | None = None


@dataclass(frozen=True)
class Precision:
    """What the terms would be known to. `covariance` (p, p) in squared units of the response; `df` (p,)."""

    covariance: Floats
    df: Floats

    @property
    def std_error(self) -> Floats:
        """Standard error of each term (p,)."""
        return np.asarray(np.sqrt(np.diag(self.covariance)), dtype=np.float64)

    def half_width(self) -> Floats:
        """Half the 95 % interval of each term (p,), from t; infinite where no degree of freedom is left."""
        t = [stats.t.ppf(0.5 + CONFIDENCE / 2, df) if df > 0 else np.inf for df in self.df]
        return np.asarray(self.std_error * np.array(t), dtype=np.float64)


def precision(layout: Layout, noise: Noise) -> Precision | None:
    """Standard errors at the lab's own noise by generalised least squares, coffees and sessions with fixed levels.

    V = brew^2 I + slope^2-terms by coffee + whole-plot^2 within whole plots. Degrees of freedom as in the analysis of
    variance of a split plot (Montgomery, Design and Analysis of Experiments, ch. 14; from memory): a term that stays
    the same within every whole plot is judged by what is left between whole plots, the others by what is left between
    brews, and a slope that differs between coffees by their number less one. None where the terms cannot be told apart.
    """
    levels = np.column_stack([_indicator(layout.coffees), _indicator(layout.sessions)])
    x = layout.x - levels @ np.linalg.pinv(levels) @ layout.x
    size = np.sqrt(np.sum(x**2, axis=0))
    if not np.all(size > RANK_TOLERANCE) or np.linalg.matrix_rank(x / size, tol=1e-7) < x.shape[1]:
        return None
    v = _covariance(layout, noise)
    whole = np.column_stack([layout.x, _basis(levels)])
    information = whole.T @ np.linalg.solve(v, whole)
    p = layout.x.shape[1]
    covariance = np.linalg.inv(information)[:p, :p]
    df = _freedom(layout, levels)
    differs = np.zeros(p, dtype=bool)
    differs[: len(noise.slope_sds)] = np.array(noise.slope_sds) > 0
    return Precision(covariance, np.where(differs, np.minimum(df, len(np.unique(layout.coffees)) - 1), df))


def _covariance(layout: Layout, noise: Noise) -> Floats:
    n, p = layout.x.shape
    v = noise.brew_sd**2 * np.eye(n)
    if layout.whole_plots is not None and noise.whole_plot_sd:
        plots = _indicator(layout.whole_plots)
        v += noise.whole_plot_sd**2 * plots @ plots.T
    same = _indicator(layout.coffees) @ _indicator(layout.coffees).T
    for place in range(min(p, len(noise.slope_sds))):
        v += noise.slope_sds[place] ** 2 * same * np.outer(layout.x[:, place], layout.x[:, place])
    return v


def _freedom(layout: Layout, levels: Floats) -> Floats:
    """Degrees of freedom (p,) of each term's own stratum."""
    n, p = layout.x.shape
    if layout.whole_plots is None:
        return np.full(p, float(n - _rank(np.column_stack([layout.x, levels]))))
    plots = _indicator(layout.whole_plots)
    within = layout.x - plots @ np.linalg.pinv(plots) @ layout.x
    still = np.sqrt(np.sum(within**2, axis=0)) < RANK_TOLERANCE * np.sqrt(n)
    means = np.asarray(np.linalg.pinv(plots) @ np.column_stack([layout.x[:, still], levels]), dtype=np.float64)
    between = plots.shape[1] - _rank(means)
    inside = n - _rank(np.column_stack([layout.x[:, ~still], plots, levels]))
    return np.where(still, float(between), float(inside))


def correlations(layout: Layout) -> Floats:
    """Correlations (p, p) of the terms within coffees and sessions; not a number where a term does not vary there."""
    levels = np.column_stack([_indicator(layout.coffees), _indicator(layout.sessions)])
    x = layout.x - levels @ np.linalg.pinv(levels) @ layout.x
    size = np.sqrt(np.sum(x**2, axis=0))
    size = np.where(size > RANK_TOLERANCE, size, np.nan)
    return np.asarray((x / size).T @ (x / size), dtype=np.float64)


def inflation(layout: Layout) -> Floats:
    """Variance inflation (p,) of the terms within coffees and sessions; infinite where others fix a term."""
    r = correlations(layout)
    if not np.all(np.isfinite(r)) or np.linalg.eigvalsh(r)[0] < RANK_TOLERANCE:
        return np.array([_inflation_of(r, j) for j in range(r.shape[0])])
    return np.asarray(np.diag(np.linalg.inv(r)), dtype=np.float64)


def _inflation_of(r: Floats, place: int) -> float:
    """1 / (1 - R^2) of one term on the others, by least squares on their correlations."""
    if not np.isfinite(r[place, place]):
        return np.inf
    others = [j for j in range(r.shape[0]) if j != place and np.isfinite(r[j, j])]
    explained = r[place, others] @ np.linalg.pinv(r[np.ix_(others, others)]) @ r[others, place] if others else 0.0
    return float(1 / (1 - explained)) if explained < 1 - RANK_TOLERANCE else np.inf


def _indicator(codes: Ints) -> Floats:
    return np.asarray((codes[:, None] == np.unique(codes)[None, :]).astype(np.float64))


def _basis(levels: Floats) -> Floats:
    """Orthonormal columns that span the levels: coffees and sessions overlap."""
    u, s, _ = np.linalg.svd(levels, full_matrices=False)
    return np.asarray(u[:, s > RANK_TOLERANCE * s[0]], dtype=np.float64)


def _rank(x: Floats) -> int:
    size = np.sqrt(np.sum(x**2, axis=0))
    return int(np.linalg.matrix_rank(x[:, size > 0] / size[size > 0], tol=1e-7)) if np.any(size > 0) else 0


def codes_of(values: Sequence[object]) -> Ints:
    """Level numbers (n,) in order of appearance."""
    levels = {value: place for place, value in enumerate(dict.fromkeys(values))}
    return np.array([levels[value] for value in values], dtype=np.int64)
