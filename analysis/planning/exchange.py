"""Choosing the runs that tell most: D-optimal exchange over a list of candidates, runs already made kept.

Written here because `pydoe.optimal` starts every design from nothing, brews no candidate twice and knows full
polynomials only; where both apply they are compared in a test.
Exchange: Fedorov (1972), Theory of Optimal Experiments; Cook and Nachtsheim (1980), Technometrics 22:315-324. Runs
already made enter as their X'X (augmentation: Dykstra 1971, Technometrics 13:682-688).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.mixed.arrays import Floats, Ints
from schemas.problem import ProblemError

RIDGE = 1e-6
"""Share of the mean diagonal added while fewer runs than columns are chosen."""
SMALLEST_GAIN = 1e-9
MOST_SWAPS = 2000
STARTS = 12
SINGULAR = 1e-10


@dataclass(frozen=True)
class Chosen:
    """`rows` (n,) of the candidates, ascending; the same row may stand there twice. `log_det` of the whole X'X.

    `reached` counts the starts, of `starts`, that ended at the same determinant: many speak for a true best.
    """

    rows: Ints
    log_det: float
    reached: int
    starts: int


def choose_runs(
    candidates: Floats, n_runs: int, *, rng: np.random.Generator, fixed: Floats | None = None, starts: int = STARTS
) -> Chosen:
    """The `n_runs` rows of `candidates` (N, p), repeats allowed, that with `fixed` (m, p) make |X'X| largest.

    ProblemError where even all of it together cannot tell the columns apart.
    """
    kept = np.zeros((0, candidates.shape[1])) if fixed is None else fixed
    _check(candidates, n_runs, kept)
    scale = np.sqrt(np.mean(np.vstack([candidates, kept]) ** 2, axis=0))
    unit, base = candidates / scale, (kept / scale).T @ (kept / scale)
    ends = [_improve(unit, base, _start(unit, base, n_runs, rng)) for _ in range(starts)]
    log_dets = [_log_det(base + unit[rows].T @ unit[rows]) for rows in ends]
    best = int(np.argmax(log_dets))
    reached = sum(value > log_dets[best] - 1e-6 for value in log_dets)
    return Chosen(np.sort(ends[best]), log_dets[best] + 2 * float(np.log(scale).sum()), reached, starts)


def _check(candidates: Floats, n_runs: int, kept: Floats) -> None:
    n_columns = candidates.shape[1]
    if n_runs < 1:
        raise ProblemError("A plan needs one brew or more.")
    if not candidates.shape[0]:
        raise ProblemError("No setting is left to choose from: every one is called impossible.")
    everything = np.vstack([candidates, kept])
    size = np.sqrt(np.sum(everything**2, axis=0))
    if not size.all() or np.linalg.matrix_rank(everything / size, tol=1e-7) < n_columns:
        raise ProblemError(
            "The possible settings cannot tell all of this apart, however often they are brewed. Ask for fewer curves "
            "or products, or allow more settings."
        )
    kept_rank = int(np.linalg.matrix_rank(kept / size, tol=1e-7)) if len(kept) else 0
    if n_runs < n_columns - kept_rank:
        raise ProblemError(
            f"{n_runs} brews are too few: it takes {n_columns - kept_rank} to tell {n_columns} numbers apart (levels, "
            "slopes, curves, products), and some more to know the noise. Plan more brews, or ask for less."
        )


def _start(unit: Floats, base: Floats, n_runs: int, rng: np.random.Generator) -> Ints:
    """Runs picked one by one, each the best of a random handful of candidates."""
    inverse = np.linalg.inv(base + RIDGE * (1 + np.trace(base) / base.shape[0]) * np.eye(base.shape[0]))
    rows = []
    for _ in range(n_runs):
        handful = rng.integers(unit.shape[0], size=min(10, unit.shape[0]))
        spread = np.einsum("np,pq,nq->n", unit[handful], inverse, unit[handful])
        row = int(handful[np.argmax(spread)])
        rows.append(row)
        pulled = inverse @ unit[row]
        inverse = inverse - np.outer(pulled, pulled) / (1 + unit[row] @ pulled)
    return np.array(rows, dtype=np.int64)


def _improve(unit: Floats, base: Floats, rows: Ints) -> Ints:
    """Swap one run for one candidate, the best swap each time, until no swap raises the determinant.

    The determinant's factor when i leaves and j enters is (1 + d_j)(1 - d_i) + d_ij^2, d = x'(X'X)^-1 x (Fedorov).
    """
    rows = rows.copy()
    for _ in range(MOST_SWAPS):
        information = base + unit[rows].T @ unit[rows]
        if _log_det(information) == -np.inf:
            information = information + RIDGE * (1 + np.trace(base) / base.shape[0]) * np.eye(base.shape[0])
        inverse = np.linalg.inv(information)
        pulled = unit @ inverse
        gain = np.sum(pulled * unit, axis=1)
        both = pulled @ unit[rows].T
        factor = (1 + gain[:, None]) * (1 - gain[rows][None, :]) + both**2
        enters, leaves = np.unravel_index(int(np.argmax(factor)), factor.shape)
        if factor[enters, leaves] <= 1 + SMALLEST_GAIN:
            break
        rows[leaves] = enters
    return rows


def _log_det(information: Floats) -> float:
    """Log |X'X|; minus infinity where it is singular for all practical purposes."""
    values = np.linalg.eigvalsh(information)
    if values[0] <= SINGULAR * max(values[-1], 1.0):
        return -np.inf
    return float(np.log(values).sum())
