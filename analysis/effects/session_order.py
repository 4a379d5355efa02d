"""The order in which brews were made within a session, where it is known."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl
from scipy import stats

from analysis.effects.divisions import codes_of
from analysis.mixed.arrays import Floats, Ints

ENOUGH_IN_ONE = 3
ENOUGH_BREWS = 20
"""Sessions of three brews and more must hold this many before a drift or a likeness is looked for."""


@dataclass(frozen=True)
class SessionOrder:
    """`session` (n,) codes, `place` (n,) whole-number place within it, `word` what it is called.

    `centred` (n,): the place less its session's mean, zero in sessions with fewer than three brews.
    """

    word: str
    session: Ints
    place: Ints
    centred: Floats


def find_order(brews: pl.DataFrame) -> SessionOrder | None:
    """The order within sessions, else within days; None where neither is known or too few brews follow each other.

    Rows are taken in the order of the facts, which is that of brewing; a `run_order` that numbers every brew of a
    session once counts, so that a brew left out leaves its gap.
    """
    known = [name for name in ("session_id", "brewed_on") if brews[name].null_count() == 0]
    if not known:
        return None
    session = codes_of(brews[known[0]])
    sizes = np.bincount(session)
    long = sizes[session] >= ENOUGH_IN_ONE
    if np.sum(long) < ENOUGH_BREWS:
        return None
    place = _places(brews, session)
    means = np.bincount(session, weights=place) / sizes
    word = "session" if known[0] == "session_id" else "day"
    return SessionOrder(word, session, place, np.where(long, place - means[session], 0.0))


def _places(brews: pl.DataFrame, session: Ints) -> Ints:
    frame = pl.DataFrame({"session": session, "run": brews["run_order"]})
    numbered = frame.select(
        once=~pl.struct("session", "run").is_duplicated().any() & (pl.col("run").null_count() == 0)
    ).item()
    place = frame["run"] if numbered else frame.select(pl.int_range(pl.len()).over("session")).to_series()
    return np.asarray(place.cast(pl.Int64).to_numpy(), dtype=np.int64)


@dataclass(frozen=True)
class Likeness:
    """Lag-one correlation of residuals within sessions, over `n_pairs` neighbours, with its two-sided p-value."""

    lag_one: float
    n_pairs: int
    p_value: float


def likeness(residual: Floats, order: SessionOrder) -> Likeness | None:
    """Do neighbours resemble each other beyond what any order of the same brews gives? None where nothing differs.

    Mean and variance of the sum of neighbours' products over all orders within sessions in closed form, hence the same
    answer every time; normal beyond. With a of sum 0, A = sum a^2 and Q = sum a^4 the mean is -A / n, the mean square
    (A^2 - Q) / n + (A^2 - 2 Q) / (n (n - 1)) (Wald and Wolfowitz 1943, for an open row; re-derived). It stands for the
    shuffles of `analysis.mixed.serial.session_serial`, which need a generator and more time.
    """
    ranked = np.lexsort((order.place, order.session))
    cuts = np.flatnonzero(np.diff(order.session[ranked])) + 1
    runs = [run - run.mean() for run in np.split(residual[ranked], cuts) if run.size >= ENOUGH_IN_ONE]
    squares = sum(float(run @ run) for run in runs)
    if squares == 0:
        return None
    found = sum(float(run[:-1] @ run[1:]) for run in runs)
    mean = variance = 0.0
    for run in runs:
        n, a, q = run.size, float(run @ run), float(np.sum(run**4))
        mean -= a / n
        variance += (a * a - q) / n + (a * a - 2 * q) / (n * (n - 1)) - (a / n) ** 2
    if variance <= 0:
        return None
    p_value = float(2 * stats.norm.sf(abs(found - mean) / np.sqrt(variance)))
    return Likeness(found / squares, sum(run.size - 1 for run in runs), p_value)
