"""Least squares with standard errors that survive whatever the brews of one coffee share: CR2, few clusters."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import stats

from analysis.mixed.arrays import CONFIDENCE, Floats, Ints, NoFit
from analysis.mixed.checks import check_columns

LEAST_DF = 4
"""Under 4 degrees of freedom Satterthwaite's approximation is not to be trusted (Tipton 2015; Pustejovsky and Tipton
2018, section 3.2): the size of a test may be far from its name."""
NO_LENGTH = 1e-12
"""Eigenvalues of I - H within a cluster at most this are zero, as in clubSandwich."""


@dataclass(frozen=True)
class ClusterRobust:
    """Least squares estimates (p,), their CR2 `covariance` (p, p) and `std_error` (p,), Satterthwaite `df` (p,)."""

    estimate: Floats
    covariance: Floats
    std_error: Floats
    df: Floats
    n_clusters: int

    def refused(self, k: int) -> bool:
        """Whether term `k` has too few degrees of freedom for an interval or a p-value."""
        return not (self.df[k] >= LEAST_DF and self.std_error[k] > 0)

    def half_width(self, k: int) -> float | None:
        """Half the 95 % interval of term `k`; None where it is refused."""
        if self.refused(k):
            return None
        return float(stats.t.ppf(0.5 + CONFIDENCE / 2, self.df[k]) * self.std_error[k])

    def p_value(self, k: int) -> float | None:
        """Two-sided p-value of term `k`; None where it is refused."""
        if self.refused(k):
            return None
        return float(2 * stats.t.sf(abs(self.estimate[k]) / self.std_error[k], self.df[k]))


def cluster_robust(y: Floats, x: Floats, clusters: Ints) -> ClusterRobust | NoFit:
    """`y` (n,) on `x` (n, p) by least squares, errors alike within `clusters` (n,) in any way, independent between.

    CR2 (Bell and McCaffrey 2002) with the identity as working model: each cluster's residuals are multiplied by the
    symmetric root of the inverse of its block of I - H, a generalised inverse where the block is singular, so that
    the covariance is unbiased for equal independent errors; Satterthwaite df under the same model
    (Pustejovsky and Tipton 2018, JBES 36(4); as clubSandwich computes them). A column that names one cluster, such as
    a coffee's own intercept, is met exactly by it: its standard error here means nothing, the other terms' do.
    """
    names = np.unique(clusters)
    refusal = check_columns(y, x)
    if refusal is not None:
        return refusal
    if names.size < 2:
        return NoFit("there is only one cluster, so what its brews share cannot be seen")
    width = np.sqrt(np.mean(x * x, axis=0))
    basis, corner = np.linalg.qr(x / width)
    turn = np.linalg.inv(corner) / width[:, None]
    residual = y - basis @ (basis.T @ y)
    rows = [np.flatnonzero(clusters == name) for name in names]
    reached = [_adjusted(basis[own]) @ turn.T for own in rows]
    scores = np.stack([reach.T @ residual[own] for reach, own in zip(reached, rows, strict=True)])
    covariance = scores.T @ scores
    inner = np.stack([basis[own].T @ reach for reach, own in zip(reached, rows, strict=True)])
    own_part = np.stack([np.sum(reach * reach, axis=0) for reach in reached])
    return ClusterRobust(
        estimate=turn @ (basis.T @ y),
        covariance=covariance,
        std_error=np.sqrt(covariance.diagonal()),
        df=np.array([_df(own_part[:, k], inner[:, :, k]) for k in range(x.shape[1])]),
        n_clusters=names.size,
    )


def _adjusted(own: Floats) -> Floats:
    """A X of one cluster (m, p) in the orthonormal design: A the symmetric root of the inverse of I - H."""
    weights, axes = np.linalg.eigh(np.eye(own.shape[0]) - own @ own.T)
    root = np.where(weights > NO_LENGTH, 1 / np.sqrt(np.where(weights > NO_LENGTH, weights, 1.0)), 0.0)
    return np.asarray(axes * root @ axes.T @ own, dtype=np.float64)


def _df(own: Floats, inner: Floats) -> float:
    """Satterthwaite's df of one term: (trace)^2 / trace of the square of the quadratic form's G x G matrix.

    Its entry (g, h) is the covariance of two clusters' scores: `own` (G,) on the diagonal less `inner` (G, p) products.
    """
    matrix = np.diag(own) - inner @ inner.T
    square = float(np.sum(matrix * matrix))
    return float(matrix.trace() ** 2 / square) if square > 0 else 0.0
