"""Least squares by statsmodels, with HC3 or classical standard errors and t(n - p) behind every interval."""

from __future__ import annotations

from typing import Any, Literal

import numpy as np

from analysis.effects.fit import Fit, Floats

LEVERAGE_TOLERANCE = 1e-8


def leverages(x: Floats) -> Floats:
    """Diagonal of the hat matrix of a full-rank design, shape (n,)."""
    q, _ = np.linalg.qr(x)
    return np.asarray(np.sum(q * q, axis=1), dtype=np.float64)


def pinned_rows(x: Floats) -> list[int]:
    """Rows with a leverage of 1: the fit goes through them whatever they read, so HC3 is undefined."""
    return [int(row) for row in np.flatnonzero(leverages(x) > 1 - LEVERAGE_TOLERANCE)]


def fit_ols(y: Floats, x: Floats, *, errors: Literal["HC3", "classical"] = "HC3") -> Fit:
    """Least squares of `y` (n,) on the full-rank design `x` (n, p), as given: no column is added.

    HC3 is MacKinnon and White (1985): squared residuals over (1 - leverage)^2; it needs `pinned_rows` to be empty.
    statsmodels answers robust covariances with z; the degrees of freedom here are n - p whichever errors are asked.
    Columns are brought to unit length first, so that their units do not cost digits.
    """
    from statsmodels.regression.linear_model import OLS

    length = np.sqrt(np.sum(x * x, axis=0))
    model: Any = OLS(y, x / length)
    result: Any = model.fit()
    spare = x.shape[0] - x.shape[1]
    leverage = leverages(x)
    residual = np.asarray(result.resid, dtype=np.float64)
    sigma = float(np.sqrt(residual @ residual / spare))
    variance = result.cov_HC3 if errors == "HC3" else result.cov_params()
    covariance = np.asarray(variance, dtype=np.float64) / np.outer(length, length)
    room = np.sqrt(np.clip(1 - leverage, LEVERAGE_TOLERANCE, None))
    return Fit(
        kind="robust" if errors == "HC3" else "classical",
        estimate=np.asarray(result.params, dtype=np.float64) / length,
        std_error=np.sqrt(np.diag(covariance)),
        df=np.full(x.shape[1], float(spare)),
        covariance=covariance,
        fitted=y - residual,
        residual=residual,
        standardised=residual / (sigma * room) if sigma > 0 else residual,
        sigma=sigma,
        leverage=leverage,
    )
