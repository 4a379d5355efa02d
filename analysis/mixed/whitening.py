"""Neighbouring brews of a session that resemble each other: lag-one correlation, and the way to take it out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.mixed.arrays import Floats, Ints


@dataclass(frozen=True)
class Whitening:
    """AR(1) within session: rows of one session at places a and b correlate rho^|a - b|; sessions are apart.

    `session` (n,) codes; `order` (n,) whole-number place in the session, no place twice; -1 < rho < 1.
    """

    session: Ints
    order: Ints
    rho: float

    def __post_init__(self) -> None:
        if not -1 < self.rho < 1:
            raise ValueError(f"rho must lie between -1 and 1, got {self.rho}")
        _, again = np.unique(np.column_stack([self.session, self.order]), axis=0, return_counts=True)
        if np.any(again > 1):
            raise ValueError("two rows have the same place in the same session")

    def apply(self, rows: Floats) -> Floats:
        """`rows` (n, ...) turned so that uncorrelated, equal residuals remain: each less its share of the one before.

        A row k places after the one before keeps (row - rho^k before) / sqrt(1 - rho^2k); a session's first row stays.
        """
        before, share = self._before()
        tall = (-1,) + (1,) * (rows.ndim - 1)
        white = (rows - share.reshape(tall) * rows[before]) / np.sqrt(1 - share**2).reshape(tall)
        return np.asarray(white, dtype=np.float64)

    def log_det(self) -> float:
        """Log determinant of the correlation matrix, (n, n)."""
        _, share = self._before()
        return float(np.sum(np.log1p(-(share**2))))

    def _before(self) -> tuple[Ints, Floats]:
        """Row before each row in its session, and rho^places between; a first row points at itself with share 0."""
        ranked = np.lexsort((self.order, self.session))
        before = np.arange(ranked.size)
        follows = np.diff(self.session[ranked]) == 0
        before[ranked[1:][follows]] = ranked[:-1][follows]
        gap = self.order - self.order[before]
        share = np.where(gap > 0, np.power(self.rho, gap), 0.0)
        return before, share
