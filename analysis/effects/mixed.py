"""A mixed model with one intercept per group: statsmodels starts it, Newton steps finish it, t with Satterthwaite."""

from __future__ import annotations

import warnings
from typing import Any

import numpy as np

from analysis.effects.blocks import make_blocks
from analysis.effects.fit import Fit, Floats, Ints, NoFit
from analysis.effects.ols import fit_ols
from analysis.effects.reml import Reml, best_on_ray, climb, satterthwaite_df

ONE = np.ones((1, 1, 1))
RATIOS = np.concatenate([[0.0], 10.0 ** np.arange(-8.0, 8.5, 0.5)])
"""Variance between groups over variance within: where the likelihood is looked at before and after the fit.

Below 1e-8 (a ratio of standard deviations of 1e-4) lme4 too calls a fit singular.
"""


def fit_mixed(y: Floats, x: Floats, codes: Ints) -> Fit | NoFit:
    """`y` (n,) on `x` (n, p) with a random intercept for each value of `codes` (n,), by REML.

    A group variance of zero is a boundary fit: the component is dropped and classical least squares is returned,
    kind "classical", which is what a singular REML fit is. No standard error comes out of a fit that did not converge.
    """
    width = np.sqrt(np.sum(x * x, axis=0) / x.shape[0])
    height = fit_ols(y, x, errors="classical").sigma
    scaled_y, scaled_x = y / height, x / width
    blocks = make_blocks(scaled_y, scaled_x, np.ones((y.size, 1)), codes)
    profile = [best_on_ray(blocks, ONE, np.array([ratio])) for ratio in RATIOS]
    seen = [np.inf if at is None else at[0] for at in profile]
    best = int(np.argmin(seen))
    if seen[0] - seen[best] <= max(1e-8, 1e-13 * abs(seen[0])):
        return fit_ols(y, x, errors="classical")
    nearest = profile[best]
    if best == len(RATIOS) - 1 or nearest is None:
        return NoFit("the brews of a group repeat each other exactly, so nothing is left to judge an effect by")
    for start in (_statsmodels(scaled_y, scaled_x, codes, ratio=float(RATIOS[best])), nearest[1]):
        top = None if start is None else climb(blocks, ONE, start)
        if top is not None and top.theta[1] > 0 and top.criterion <= seen[best] + 1e-6:
            return _as_fit(top, y, x, codes, width=width, height=height)
    return NoFit("the mixed model did not converge, so its standard errors cannot be trusted")


def _statsmodels(y: Floats, x: Floats, codes: Ints, *, ratio: float) -> Floats | None:
    """Residual and group variance by statsmodels: its default optimiser, then powell; None if neither converges."""
    from statsmodels.regression.mixed_linear_model import MixedLM

    begin = np.array([np.sqrt(ratio)])  # statsmodels searches over the Cholesky factor of group over residual
    for method in (None, "powell"):
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # whether it converged is looked at here and again on the polished fit
            try:
                result: Any = MixedLM(y, x, groups=codes).fit(start_params=begin, reml=True, method=method)
            except np.linalg.LinAlgError:
                continue
        if result.converged:
            return np.array([float(result.scale), float(np.asarray(result.cov_re)[0, 0])])
    return None


def _as_fit(top: Reml, y: Floats, x: Floats, codes: Ints, *, width: Floats, height: float) -> Fit:
    """The polished fit in the units of `y` and `x`; each group's intercept is shrunk towards the mean (BLUP)."""
    residual_var, group_var = top.theta * height**2
    estimate = top.beta * height / width
    rest = y - x @ estimate
    _, index, counts = np.unique(codes, return_inverse=True, return_counts=True)
    total = np.bincount(index, weights=rest)
    level = group_var * total / (residual_var + counts * group_var)
    residual = rest - level[index]
    sigma = float(np.sqrt(residual_var))
    return Fit(
        kind="mixed",
        estimate=estimate,
        std_error=np.sqrt(np.diag(top.covariance)) * height / width,
        df=satterthwaite_df(top),
        fitted=y - residual,
        residual=residual,
        standardised=residual / sigma,
        sigma=sigma,
        group_sd=float(np.sqrt(group_var)),
    )
