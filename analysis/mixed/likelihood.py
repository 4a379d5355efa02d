"""The likelihood of variances: its value, exact slope and observed curvature, at one place or along many rays.

V = theta_0 I + sum_k theta_k Z_k Z_k' is linear in theta, so every derivative is exact. With K_k = dV/dtheta_k and
P = V^-1 - V^-1 x (x'V^-1 x)^-1 x'V^-1 the REML log-likelihood has the slope -(tr P K_k - y'P K_k P y) / 2 and the
observed information y'P K_j P K_k P y - tr(P K_j P K_k) / 2; under ML, V^-1 stands in the traces
(Searle, Casella and McCulloch 1992, Variance Components, sections 6.2 and 6.6; textbook algebra, re-derived).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.mixed.arrays import Floats
from analysis.mixed.rotation import Directions, Rotated


@dataclass(frozen=True)
class Likelihood:
    """At `theta` (K,), residual variance first: `criterion` = -2 log-likelihood on lme4's scale.

    `slope` (K,), `information` (K, K) observed and `expected` (K, K) belong to the log-likelihood.
    `pull` (q,) = Z'P y, of which a level's prediction is its variance times.
    """

    theta: Floats
    criterion: float
    slope: Floats
    information: Floats
    expected: Floats
    pull: Floats


def level_variances(rotated: Rotated, theta: Floats) -> Floats:
    """The variance of each random level (q,)."""
    return np.asarray(theta[1:] @ rotated.part_of, dtype=np.float64)


def _covariance(directions: Directions, residual: float, levels: Floats) -> Floats:
    """V in the directions, (r, r)."""
    v: Floats = (directions.columns.T * levels) @ directions.columns
    v.flat[:: v.shape[0] + 1] += residual
    return v


def _log_det(directions: Directions, residual: float, v: Floats) -> float:
    """Logarithm of |V|, all directions; LinAlgError where V is not positive definite."""
    root = np.linalg.cholesky(v)
    return float(2 * np.log(root.diagonal()).sum() + directions.spare * np.log(residual))


def profile(rotated: Rotated, ratios: Floats) -> tuple[Floats, Floats]:
    """Lowest criterion over theta = s (1, ratios) for each row of `ratios` (m, K - 1), and the s where it is, (m,).

    Along a ray the criterion is constant + free log s + quadratic / s, lowest at s = quadratic / free.
    """
    levels = ratios @ rotated.part_of
    v = _rays(rotated.quadratic, levels)
    same = rotated.determinant is rotated.quadratic
    root = np.linalg.cholesky(v if same else _rays(rotated.determinant, levels))
    log_det = 2 * np.log(np.diagonal(root, axis1=1, axis2=2)).sum(axis=1)
    s = (np.linalg.solve(v, rotated.y[:, None])[:, :, 0] @ rotated.y + rotated.rest) / rotated.free
    return rotated.constant + log_det + rotated.free * (np.log(s) + 1), s


def _rays(directions: Directions, levels: Floats) -> Floats:
    """V over the residual variance in the directions, (m, r, r), for each row of `levels` (m, q)."""
    f = directions.columns
    return (f.T * levels[:, None, :]) @ f + np.eye(f.shape[1])


def evaluate(rotated: Rotated, theta: Floats) -> Likelihood | None:
    """Value and derivatives at `theta` (K,); None where V is not positive definite."""
    levels = level_variances(rotated, theta)
    part_of, f, residual = rotated.part_of, rotated.quadratic.columns, theta[0]
    v = _covariance(rotated.quadratic, residual, levels)
    apart = rotated.determinant is not rotated.quadratic
    try:
        weighed = _covariance(rotated.determinant, residual, levels) if apart else v
        log_det = _log_det(rotated.determinant, residual, weighed)
        m: Floats = np.linalg.inv(v).astype(np.float64, copy=False)
    except np.linalg.LinAlgError:
        return None
    f_m = f @ m
    b = f_m @ f.T
    h = m @ rotated.y
    u = f @ h
    first, second = _traces(part_of, b, f_m, m, residual, rotated.quadratic.spare)
    bent = np.empty_like(second)
    bent[0, 0] = h @ m @ h + rotated.rest / residual**3
    bent[0, 1:] = bent[1:, 0] = part_of @ (u * (f_m @ h))
    scaled = part_of * u
    bent[1:, 1:] = scaled @ b @ scaled.T
    pulled = np.concatenate([[h @ h + rotated.rest / residual**2], part_of @ (u * u)])
    if apart:
        first, second = _own_traces(rotated.determinant, part_of, weighed, residual)
    value = float(rotated.constant + log_det + rotated.y @ h + rotated.rest / residual)
    return Likelihood(theta, value, 0.5 * (pulled - first), bent - 0.5 * second, 0.5 * second, u)


def _traces(part_of: Floats, b: Floats, f_m: Floats, m: Floats, residual: float, spare: int) -> tuple[Floats, Floats]:
    """Traces of P K_k, (K,), and of P K_j P K_k, (K, K)."""
    size = part_of.shape[0] + 1
    first, second = np.empty(size), np.empty((size, size))
    first[0] = m.trace() + spare / residual
    first[1:] = part_of @ b.diagonal()
    second[0, 0] = np.sum(m * m) + spare / residual**2
    second[0, 1:] = second[1:, 0] = part_of @ np.sum(f_m * f_m, axis=1)
    second[1:, 1:] = part_of @ (b * b) @ part_of.T
    return first, second


def _own_traces(directions: Directions, part_of: Floats, v: Floats, residual: float) -> tuple[Floats, Floats]:
    """The traces where the determinant has directions of its own (ML)."""
    m: Floats = np.linalg.inv(v).astype(np.float64, copy=False)
    f_m = directions.columns @ m
    return _traces(part_of, f_m @ directions.columns.T, f_m, m, residual, directions.spare)


def overlap(rotated: Rotated) -> Floats:
    """Traces of S K_j S K_k (K, K), S taking the fixed columns out: how far the parts say the same, before any data."""
    f, part_of = rotated.quadratic.columns, rotated.part_of
    return _traces(part_of, f @ f.T, f, np.eye(f.shape[1], dtype=np.float64), 1.0, rotated.quadratic.spare)[1]
