"""Restricted likelihood of variance components: its value, slope and observed curvature, and the way to its top.

The covariance of a group's rows is V = theta_0 I + sum_k theta_k z M_k z': linear in theta, so every derivative is
exact. With P = V^-1 - V^-1 x (x'V^-1 x)^-1 x'V^-1 and K_k = dV/dtheta_k, the log-likelihood has the slope
-(tr P K_k - y'P K_k P y) / 2 and the observed information y'P K_j P K_k P y - tr(P K_j P K_k) / 2
(Searle, Casella and McCulloch 1992, Variance Components, section 6.6; textbook algebra, re-derived).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.effects.blocks import Blocks
from analysis.effects.fit import Floats

MAX_STEPS = 60
MAX_HALVINGS = 30


@dataclass(frozen=True)
class Reml:
    """The restricted likelihood at one theta of K components, for p fixed columns.

    `criterion` = -2 log-likelihood, on lme4's and statsmodels' scale.
    `slope` (K,) and `information` (K, K) belong to the log-likelihood. `beta` (p,), `covariance` (p, p) of beta,
    `covariance_slope` (K, p, p) = d covariance / d theta.
    """

    theta: Floats
    criterion: float
    slope: Floats
    information: Floats
    beta: Floats
    covariance: Floats
    covariance_slope: Floats


@dataclass(frozen=True)
class _Solved:
    """Generalised least squares at one theta: what the value and every derivative are made of."""

    kernels: list[Floats]
    vi: Floats
    vix: Floats
    covariance: Floats
    beta: Floats
    e: Floats
    criterion: float
    quadratic: float


def _solve(blocks: Blocks, components: Floats, theta: Floats) -> _Solved | None:
    """The value at `theta` (K,), `components` (K - 1, q, q); None where V is not positive definite."""
    if theta[0] <= 0:
        return None
    eye = np.broadcast_to(np.eye(blocks.y.shape[1]), (*blocks.y.shape, blocks.y.shape[1]))
    kernels = [eye, *(blocks.z @ m @ blocks.z.transpose(0, 2, 1) for m in components)]
    v = sum(part * kernel for part, kernel in zip(theta, kernels, strict=True))
    try:
        root = np.linalg.cholesky(v)
    except np.linalg.LinAlgError:
        return None
    vi = np.linalg.inv(v)
    vix = vi @ blocks.x
    a = np.einsum("gmp,gmr->pr", blocks.x, vix)
    covariance = np.linalg.inv(a)
    beta = covariance @ np.einsum("gmp,gm->p", vix, blocks.y)
    rest = blocks.y - blocks.x @ beta
    e = np.einsum("gmk,gk->gm", vi, rest)
    log_det_v = 2 * np.log(np.diagonal(root, axis1=1, axis2=2)).sum() + blocks.spare.sum() * np.log(theta[0])
    quadratic = float(np.sum(rest * e))
    constant = blocks.free * np.log(2 * np.pi)
    criterion = float(constant + log_det_v + np.linalg.slogdet(a)[1] + quadratic)
    return _Solved(kernels, vi, vix, covariance, beta, e, criterion, quadratic)


def evaluate(blocks: Blocks, components: Floats, theta: Floats) -> Reml | None:
    """The likelihood at `theta` (K,), `components` (K - 1, q, q); None where V is not positive definite."""
    at = _solve(blocks, components, theta)
    if at is None:
        return None
    slope, information, covariance_slope = _derivatives(blocks, at, theta[0])
    return Reml(theta, at.criterion, slope, information, at.beta, at.covariance, covariance_slope)


def best_on_ray(blocks: Blocks, components: Floats, ratios: Floats) -> tuple[float, Floats] | None:
    """Lowest criterion over theta = s (1, ratios), and that theta; `ratios` (K - 1,) are variances over residual.

    Along the ray the criterion is constant + free log s + quadratic / s, lowest at s = quadratic / free.
    """
    unit = _solve(blocks, components, np.concatenate([[1.0], ratios]))
    if unit is None or unit.quadratic <= 0:
        return None
    s = unit.quadratic / blocks.free
    criterion = unit.criterion - unit.quadratic + blocks.free * (np.log(s) + 1)
    return float(criterion), s * np.concatenate([[1.0], ratios])


def _derivatives(blocks: Blocks, at: _Solved, residual: float) -> tuple[Floats, Floats, Floats]:
    """Slope and observed information of the log-likelihood, and the slope of the covariance of beta."""
    kernels, vi, vix, c, e = at.kernels, at.vi, at.vix, at.covariance, at.e
    size = len(kernels)
    k_vi = [kernel @ vi for kernel in kernels]
    k_vix = [kernel @ vix for kernel in kernels]
    k_e = [np.einsum("gmk,gk->gm", kernel, e) for kernel in kernels]
    x_k_x = [np.einsum("gmp,gmr->pr", vix, part) for part in k_vix]
    x_k_e = [np.einsum("gmp,gm->p", vix, part) for part in k_e]
    slope, information = np.zeros(size), np.zeros((size, size))
    for j in range(size):
        trace = np.einsum("gmm->", k_vi[j]) + (blocks.spare.sum() / residual if j == 0 else 0.0)
        slope[j] = -0.5 * (trace - np.sum(c * x_k_x[j]) - np.sum(e * k_e[j]))
        for k in range(j + 1):
            pair = np.einsum("gmk,gkm->", k_vi[j], k_vi[k])
            pair += blocks.spare.sum() / residual**2 if j == k == 0 else 0.0
            middle = np.einsum("gmp,gmn,gnr->pr", k_vix[j], vi, k_vix[k], optimize=True)
            pair += -2 * np.sum(c * middle.T) + np.sum((c @ x_k_x[j]) * (c @ x_k_x[k]).T)
            square = np.einsum("gm,gmn,gn->", k_e[j], vi, k_e[k], optimize=True) - x_k_e[j] @ c @ x_k_e[k]
            information[j, k] = information[k, j] = square - 0.5 * pair
    return slope, information, np.stack([c @ part @ c for part in x_k_x])


def climb(blocks: Blocks, components: Floats, theta: Floats) -> Reml | None:
    """Newton steps from `theta` to the top of the likelihood, unconstrained; None if they do not arrive.

    Arrived means: the information is positive definite and the next step would gain less than 1e-14.
    """
    here = evaluate(blocks, components, theta)
    for _ in range(MAX_STEPS):
        if here is None:
            return None
        weights, axes = np.linalg.eigh(here.information)
        along = axes.T @ here.slope
        if weights.min() > 0 and along @ (along / weights) < 1e-14:
            return here
        step = axes @ (along / np.maximum(np.abs(weights), 1e-12 * np.abs(weights).max()))
        here = _shorten(blocks, components, here, step)
    return None


def _shorten(blocks: Blocks, components: Floats, here: Reml, step: Floats) -> Reml | None:
    """The first of step, step / 2, step / 4, ... that does not lose likelihood."""
    slack = 1e-12 * abs(here.criterion)
    for halving in range(MAX_HALVINGS):
        there = evaluate(blocks, components, here.theta + step / 2**halving)
        if there is not None and there.criterion <= here.criterion + slack:
            return there
    return None


def satterthwaite_df(top: Reml) -> Floats:
    """Degrees of freedom of each coefficient, shape (p,): 2 v^2 / var(v), v its variance.

    var(v) by the delta method from the inverse observed information of the absolute variances (Satterthwaite 1946;
    the general form is Giesbrecht and Burns 1985).
    """
    v = np.diag(top.covariance)
    gradient = np.diagonal(top.covariance_slope, axis1=1, axis2=2)
    spread = np.einsum("kp,kp->p", gradient, np.linalg.solve(top.information, gradient))
    return np.asarray(2 * v**2 / spread, dtype=np.float64)
