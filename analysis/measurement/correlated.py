"""Propagation where inputs or results hang together: JCGM 100:2008, 5.2 and annex H.2, in matrices (JCGM 102, 6.2)."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from analysis.measurement.component import Budget
from schemas.problem import ProblemError

Matrix = npt.NDArray[np.float64]


def propagated_covariance(slopes: Matrix, covariance: Matrix) -> Matrix:
    """Covariance of m results, shape (m, m), from slopes (m, n) and the covariance of n inputs (n, n)."""
    if slopes.ndim != 2 or covariance.shape != (slopes.shape[1], slopes.shape[1]):
        raise ProblemError(
            f"Slopes of shape {slopes.shape} do not fit a covariance of shape {covariance.shape}: "
            "one row of slopes per result, one column per input."
        )
    found: Matrix = slopes @ covariance @ slopes.T
    return found


def covariance_of_means(observations: Matrix) -> Matrix:
    """Type A covariance of n means, shape (n, n), of inputs observed together, shape (times, n) (5.2.3)."""
    times = observations.shape[0]
    if times < 2:
        raise ProblemError("One set of observations has no scatter. Take at least two.")
    centred = observations - observations.mean(axis=0)
    found: Matrix = centred.T @ centred / (times * (times - 1))
    return found


def covariance_of_results(budgets: Sequence[Budget]) -> Matrix:
    """Covariance of several brews' results, shape (m, m): they hang together by the errors that they share."""
    sources: dict[tuple[str, ...], int] = {}
    entries: list[tuple[int, int, float]] = []
    for row, budget in enumerate(budgets):
        for position, part in enumerate(budget.components):
            key = (part.name, part.shared) if part.shared else (part.name, "", str(row), str(position))
            entries.append((row, sources.setdefault(key, len(sources)), part.contribution))
    contributions = np.zeros((len(budgets), len(sources)))
    for row, column, contribution in entries:
        contributions[row, column] += contribution
    return propagated_covariance(contributions, np.eye(len(sources)))
