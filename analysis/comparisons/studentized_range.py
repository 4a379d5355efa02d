"""The studentized range of Tukey's comparisons, by quadrature: scipy's takes a tenth of a second and more a value."""

from __future__ import annotations

from functools import cache

import numpy as np
from scipy import optimize, special, stats

from analysis.mixed.arrays import Floats

NODES = 96
EDGE = 9.0
"""Standard deviations beyond which a normal density adds nothing a double can hold."""
TAIL = 1e-15


def upper_tail(q: float, n_means: int, df: float) -> float:
    """Chance that the range of `n_means` independent normal means over an estimated sd of `df` exceeds `q`.

    1 - E over s of [n E over z of (Phi(z) - Phi(z - q s))^(n - 1)], s^2 chi-squared over df (Tukey 1953; Copenhaver
    and Holland 1988, equation 1). Gauss-Legendre in both; exact to about 1e-12.
    """
    if q <= 0:
        return 1.0
    weights, s = _scale_nodes(df)
    node, own = _nodes()
    z, own = EDGE * node, EDGE * own
    density = np.exp(-(z**2) / 2) / np.sqrt(2 * np.pi)
    between = special.ndtr(z) - special.ndtr(z - q * s[:, None])
    within = n_means * (between ** (n_means - 1)) @ (own * density)
    return float(np.clip(1 - weights @ within, 0.0, 1.0))


@cache
def critical(n_means: int, df: float, confidence: float) -> float:
    """The q that a share `confidence` of studentized ranges stays under."""
    high = float(np.sqrt(2) * stats.t.isf((1 - confidence) / n_means**2, df)) + 1
    return float(
        optimize.brentq(lambda q: upper_tail(q, n_means, df) - (1 - confidence), 1e-6, high, xtol=1e-10, rtol=1e-12)
    )


@cache
def _nodes() -> tuple[Floats, Floats]:
    node, own = np.polynomial.legendre.leggauss(NODES)
    return node, own


def _scale_nodes(df: float) -> tuple[Floats, Floats]:
    """Weights and places (NODES,) of s = sqrt(chi-squared / df): one place for endless degrees of freedom."""
    if not np.isfinite(df):
        return np.ones(1), np.ones(1)
    low, high = np.sqrt(stats.chi2.ppf(TAIL, df) / df), np.sqrt(stats.chi2.isf(TAIL, df) / df)
    node, own = _nodes()
    s = (low + high) / 2 + (high - low) / 2 * node
    weights = own * (high - low) / 2 * 2 * df * s * stats.chi2.pdf(df * s**2, df)
    return np.asarray(weights / weights.sum(), dtype=np.float64), np.asarray(s, dtype=np.float64)
