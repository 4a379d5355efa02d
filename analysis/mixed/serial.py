"""Whether neighbouring brews of a session resemble each other, and the effects once that is taken out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import optimize, stats

from analysis.mixed.arrays import Floats, Ints, NoFit
from analysis.mixed.fit import MixedFit
from analysis.mixed.model import fit_mixed_model
from analysis.mixed.scaled import RandomPart
from analysis.mixed.whitening import Whitening

__all__ = ["Serial", "SerialFit", "Whitening", "fit_serial", "session_serial"]

SHORTEST = 3
"""Brews a session needs to say anything: two always differ from their mean by the same amount."""
FEWEST_PAIRS = 15
"""Neighbouring pairs under which the correlation's standard error, about 1 / sqrt(pairs), exceeds a quarter."""
SHUFFLES = 1999
LARGEST_RHO = 0.95


@dataclass(frozen=True)
class Serial:
    """Lag-one correlation of residuals within sessions, in brewing order.

    `lag_one` is the correlation; `expected` what shuffled sessions give on average, which is below zero because each
    session's own mean was taken out; `p_value` two-sided, from shuffles within sessions.
    """

    lag_one: float
    expected: float
    p_value: float
    n_pairs: int
    n_sessions: int


@dataclass(frozen=True)
class SerialFit:
    """A mixed model with AR(1) residuals: `rho` at the top of the profiled REML likelihood, and the fit there.

    `statistic` is the drop in -2 log-likelihood from rho = 0, `p_value` its two-sided chi-squared (1) p-value.
    """

    rho: float
    fit: MixedFit
    statistic: float
    p_value: float


def session_serial(
    residual: Floats, session: Ints, order: Ints, *, rng: np.random.Generator, shuffles: int = SHUFFLES
) -> Serial | NoFit:
    """Test `residual` (n,) for resemblance of neighbours, by `session` (n,) codes and place in it, `order` (n,).

    Residuals are centred by session. Under "order does not matter" every order within a session is as likely, so the
    p-value is the share of shuffles, the data's own order counted in, at least as far from the expected value
    (Wald and Wolfowitz 1943, serial correlation by permutation). Sessions of fewer than 3 brews are left out.
    """
    runs = _runs(residual, session, order)
    pairs = sum(run.size - 1 for run in runs)
    if pairs < FEWEST_PAIRS:
        return NoFit(
            f"there are {pairs} pairs of neighbouring brews in sessions of 3 or more, and {FEWEST_PAIRS} needed"
        )
    squares = sum(float(run @ run) for run in runs)
    if squares == 0:
        return NoFit("the brews of a session do not differ, so there is no order to see")
    expected = -sum(float(run @ run) / run.size for run in runs) / squares
    lag_one = sum(float(run[:-1] @ run[1:]) for run in runs) / squares
    shuffled = np.zeros(shuffles)
    for run in runs:
        mixed = rng.permuted(np.tile(run, (shuffles, 1)), axis=1)
        shuffled += np.sum(mixed[:, :-1] * mixed[:, 1:], axis=1) / squares
    as_far = np.sum(np.abs(shuffled - expected) >= abs(lag_one - expected) - 1e-12)
    return Serial(lag_one, expected, float((1 + as_far) / (1 + shuffles)), pairs, len(runs))


def _runs(residual: Floats, session: Ints, order: Ints) -> list[Floats]:
    """Each session's residuals in order, less their mean; only sessions long enough."""
    ranked = np.lexsort((order, session))
    cuts = np.flatnonzero(np.diff(session[ranked])) + 1
    runs = np.split(residual[ranked], cuts)
    return [run - run.mean() for run in runs if run.size >= SHORTEST]


def fit_serial(y: Floats, x: Floats, parts: Sequence[RandomPart], *, session: Ints, order: Ints) -> SerialFit | NoFit:
    """The mixed model of `fit_mixed_model` with AR(1) residuals within session, rho by profiled REML likelihood.

    Standard errors and degrees of freedom take rho as known, so they are a little too sure.
    """

    def at(rho: float) -> MixedFit | NoFit:
        return fit_mixed_model(y, x, parts, whitening=Whitening(session, order, rho))

    def height(rho: float) -> float:
        fit = at(rho)
        return np.inf if isinstance(fit, NoFit) else fit.criterion

    plain = at(0.0)
    if isinstance(plain, NoFit):
        return plain
    grid = np.linspace(-LARGEST_RHO, LARGEST_RHO, 13)
    seen = [height(float(rho)) for rho in grid]
    best = int(np.argmin(seen))
    if best in (0, grid.size - 1) or not np.isfinite(seen[best - 1 : best + 2]).all():
        return NoFit("neighbouring brews resemble each other so much that their correlation has no best value")
    bracket = (float(grid[best - 1]), float(grid[best + 1]))
    found = optimize.minimize_scalar(height, bounds=bracket, method="bounded", options={"xatol": 1e-7})
    fit = at(float(found.x))
    if isinstance(fit, NoFit):
        return fit
    drop = max(plain.criterion - fit.criterion, 0.0)
    return SerialFit(float(found.x), fit, drop, float(stats.chi2.sf(drop, 1)))
