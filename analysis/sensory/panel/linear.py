"""Least squares on groups: what a division of the rows explains, where some cells are empty."""

from __future__ import annotations

import numpy as np
from scipy import stats

from analysis.mixed.arrays import Floats, Ints
from analysis.mixed.fit import FTest


def indicators(*codes: Ints) -> Floats:
    """A column (n, k) per level that occurs in each of the divisions (n,)."""
    return np.column_stack([np.equal.outer(own, np.unique(own)) for own in codes]).astype(np.float64)


def left_after(y: Floats, columns: Floats) -> tuple[float, int]:
    """Residual sum of squares of `y` (n,) on `columns` (n, p), and the degrees of freedom that are left."""
    found, _, rank, _ = np.linalg.lstsq(columns, y, rcond=None)
    residual = y - columns @ found
    return float(residual @ residual), int(y.size - rank)


def f_of(y: Floats, asked: Ints, *, beside: Floats) -> FTest | None:
    """Whether the levels of `asked` (n,) differ, `beside` (n, p) the columns of everything else; None where unanswered.

    Partial F of least squares: levels that only other columns can tell apart do not count.
    """
    rss_less, df_less = left_after(y, beside)
    rss, df = left_after(y, np.column_stack([beside, indicators(asked)]))
    scale = float(y @ y)
    if df < 1 or df_less <= df or rss <= 1e-20 * scale:
        return None
    statistic = max(rss_less - rss, 0.0) / (df_less - df) / (rss / df)
    return FTest(statistic, df_less - df, float(df), float(stats.f.sf(statistic, df_less - df, df)))


def cell_means(y: Floats, *codes: Ints) -> tuple[Floats, list[Ints]]:
    """Means (m,) of `y` by every combination of codes that occurs, and those codes (m,)."""
    cells, inverse = np.unique(np.column_stack(codes), axis=0, return_inverse=True)
    inverse = inverse.reshape(-1)
    return np.bincount(inverse, y) / np.bincount(inverse), [cells[:, k] for k in range(cells.shape[1])]
