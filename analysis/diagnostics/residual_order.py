"""Whether brews drift along a session, and whether a brew resembles the one before it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import stats

from analysis.diagnostics.case import basis, dummies, less
from analysis.diagnostics.least_squares import NO_SCATTER
from analysis.diagnostics.sittings import Sittings
from analysis.effects.fit import Floats

FEWEST_PAIRS = 8
"""Neighbouring brews needed before their resemblance is looked at."""
SHUFFLES = 999
"""Orders drawn at random within sessions: the smallest p-value that can come out is 0.001."""
TOLD = 0.1
"""Share of the order's own squares that the settings must leave over, or drift and settings cannot be told apart.

A tenth is a variance inflation of 10.
"""


@dataclass(frozen=True, slots=True)
class Drift:
    """Change of the response from one brew to the next within a session, settings held, with its 95 % interval.

    `told` is the share of the order's squares that the settings leave over.
    """

    estimate: float
    low: float
    high: float
    p_value: float
    df: int
    told: float


@dataclass(frozen=True, slots=True)
class Neighbours:
    """Lag-1 correlation of residuals within sessions, what shuffled orders give on average, and the p-value."""

    correlation: float
    usual: float
    p_value: float
    n_pairs: int


def along(place: Floats, sittings: Sittings) -> Floats:
    """Place within the session less its session's mean, shape (n,)."""
    means = np.bincount(sittings.codes, weights=place) / np.bincount(sittings.codes)
    return np.asarray(place - means[sittings.codes], dtype=np.float64)


def with_sessions(x: Floats, sittings: Sittings) -> Floats:
    """Orthonormal columns of the model and of a level for each session."""
    return basis(np.column_stack([x, dummies(sittings.codes)]))


def share_told(model: Floats, sittings: Sittings) -> float:
    """Share of the order's squares within sessions that the orthonormal `model` (n, p) leaves over; 0 without order."""
    order = along(sittings.place, sittings)
    total = float(order @ order)
    left = less(order, model)
    return float(left @ left) / total if total > 0 else 0.0


def drift(y: Floats, model: Floats, sittings: Sittings) -> Drift | None:
    """Trend of `y` (n,) along sessions beside the orthonormal `model` (n, p), a test of the added column.

    None where the settings leave under a tenth of the order over, or no brew is left to judge scatter by.
    """
    told = share_told(model, sittings)
    df = y.size - model.shape[1] - 1
    if told < TOLD or df < 1:
        return None
    order, left = less(along(sittings.place, sittings), model), less(y - y.mean(), model)
    size = float(order @ order)
    estimate = float(order @ left) / size
    rest = left - estimate * order
    squares = float(rest @ rest)
    if squares <= NO_SCATTER * float((y - y.mean()) @ (y - y.mean())):
        return None
    std_error = float(np.sqrt(squares / df / size))
    reach = float(stats.t.ppf(0.975, df)) * std_error
    p_value = float(2 * stats.t.sf(abs(estimate) / std_error, df))
    return Drift(estimate, estimate - reach, estimate + reach, p_value, df, told)


def neighbours(y: Floats, model: Floats, sittings: Sittings, *, rng: np.random.Generator) -> Neighbours | None:
    """Lag-1 correlation of what the orthonormal `model` (n, p) leaves of `y` (n,), its trend along sessions taken out.

    The p-value comes from residuals shuffled within sessions and fitted again (Freedman & Lane 1983, Journal of
    Business & Economic Statistics 1:292), two-sided about the mean of the shuffles. None with fewer than 8 pairs.
    """
    order = np.lexsort((sittings.place, sittings.codes))
    codes = sittings.codes[order]
    first = np.flatnonzero(codes[1:] == codes[:-1])
    trended = basis(np.column_stack([model, along(sittings.place, sittings)]))[order]
    residual = less((y - y.mean())[order], trended)
    if first.size < FEWEST_PAIRS or y.size <= trended.shape[1] or residual @ residual <= NO_SCATTER * (y @ y):
        return None
    shuffled = np.array([residual[_shuffle(codes, rng)] for _ in range(SHUFFLES)]).T
    drawn = _lag(less(shuffled, trended), first)
    seen = float(_lag(residual[:, None], first)[0])
    usual = float(drawn.mean())
    as_far = int(np.sum(np.abs(drawn - usual) >= abs(seen - usual) - 1e-12))
    return Neighbours(seen, usual, (1 + as_far) / (1 + SHUFFLES), int(first.size))


def _lag(residual: Floats, first: np.ndarray) -> Floats:
    """Products of neighbours over squares, by column."""
    squares = np.sum(residual**2, axis=0)
    products = np.sum(residual[first] * residual[first + 1], axis=0)
    return np.asarray(np.divide(products, squares, out=np.zeros(squares.size), where=squares > 0), dtype=np.float64)


def _shuffle(codes: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Row numbers with those of each session (rows of equal code, side by side) in a random order."""
    return np.lexsort((rng.random(codes.size), codes))
