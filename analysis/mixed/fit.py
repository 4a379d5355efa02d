"""What a mixed model gives back: estimates, spreads, and t and F tests with Satterthwaite's degrees of freedom."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy import stats

from analysis.mixed.arrays import CONFIDENCE, Floats


@dataclass(frozen=True)
class FTest:
    """Several contrasts together: F with `df_num` and `df_den` degrees of freedom."""

    statistic: float
    df_num: int
    df_den: float
    p_value: float


@dataclass(frozen=True)
class MixedFit:
    """Fixed terms, variance components and residuals of n rows on p columns, in the units of the response.

    `estimate` (p,), `covariance` (p, p) of it. `fitted`, `residual`, `standardised` (n,): fitted includes predicted
    random effects; `standardised` is the residual, whitened where the fit was, over its own standard deviation,
    leverage counted.
    `sigma`: residual standard deviation. `components`: variance by part, only those kept (> 0); `dropped`: parts
    whose variance came out as zero. `levels`: predicted effect of each level (BLUP) by kept part, (k,).
    `criterion`: REML -2 log-likelihood on lme4's scale. `covariance_slope` (K, p, p): d covariance / d variance,
    the residual variance first, then `components` in order; `variance_covariance` (K, K): their covariance, from
    the inverse observed information.
    """

    estimate: Floats
    covariance: Floats
    fitted: Floats
    residual: Floats
    standardised: Floats
    sigma: float
    components: Mapping[str, float]
    dropped: tuple[str, ...]
    levels: Mapping[str, Floats]
    criterion: float
    covariance_slope: Floats
    variance_covariance: Floats

    def value(self, contrast: Floats) -> float:
        """The contrast (p,) of the fixed terms."""
        return float(contrast @ self.estimate)

    def standard_error(self, contrast: Floats) -> float:
        """Standard error of the contrast (p,)."""
        return float(np.sqrt(contrast @ self.covariance @ contrast))

    def df(self, contrast: Floats) -> float:
        """Satterthwaite's degrees of freedom of the contrast (p,): 2 v^2 / var(v), v its variance.

        var(v) by the delta method from the observed information of the absolute variances (Satterthwaite 1946;
        Giesbrecht and Burns 1985; as in lmerTest: Kuznetsova, Brockhoff and Christensen 2017, JSS 82(13)).
        """
        v = contrast @ self.covariance @ contrast
        gradient = np.einsum("p,kpr,r->k", contrast, self.covariance_slope, contrast)
        return float(2 * v**2 / (gradient @ self.variance_covariance @ gradient))

    def half_width(self, contrast: Floats) -> float:
        """Half the 95 % interval of the contrast (p,), from t with its own degrees of freedom."""
        return float(stats.t.ppf(0.5 + CONFIDENCE / 2, self.df(contrast))) * self.standard_error(contrast)

    def p_value(self, contrast: Floats) -> float:
        """Two-sided p-value of "the contrast (p,) is zero"."""
        t = abs(self.value(contrast)) / self.standard_error(contrast)
        return float(2 * stats.t.sf(t, self.df(contrast)))

    def f_test(self, contrasts: Floats) -> FTest:
        """All contrasts (r, p) zero at once; linearly dependent ones count once.

        The contrasts are turned until their estimates are uncorrelated; each squared t has its own degrees of
        freedom, and F takes the denominator whose mean is the mean of their sum (Fai and Cornelius 1996; as
        lmerTest's contestMD).
        """
        weights, axes = np.linalg.eigh(contrasts @ self.covariance @ contrasts.T)
        kept = weights > np.sqrt(np.finfo(float).eps) * weights.max()
        turned = axes.T[kept] @ contrasts
        squares = (turned @ self.estimate) ** 2 / weights[kept]
        df_num = int(kept.sum())
        df_den = _denominator(np.array([self.df(row) for row in turned]))
        statistic = float(squares.mean())
        return FTest(statistic, df_num, df_den, float(stats.f.sf(statistic, df_num, df_den)))


def _denominator(df: Floats) -> float:
    """Denominator of F from the df (r,) of r uncorrelated t: sum of E[t^2] = df / (df - 2) has F's mean, r d / (d - 2).

    Where a df is 2 or less that mean does not exist, and 2 is returned, as lmerTest does.
    """
    if np.ptp(df) < 1e-8:
        return float(df.mean())
    if df.min() <= 2:
        return 2.0
    total = float(np.sum(df / (df - 2)))
    return 2 * total / (total - df.size)
