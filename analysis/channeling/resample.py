"""How far odds and risks move when whole sessions are drawn again: brews of one session are not independent."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl
from scipy.special import expit

from analysis.channeling.firth import FirthFit, fit_firth
from analysis.channeling.risk_rows import Change
from analysis.channeling.seen import NotShown
from analysis.mixed.arrays import Floats, Ints

UNITS = (("session_id", "session"), ("brewed_on", "day"), ("coffee_id", "coffee"))
FEWEST_UNITS = 6
USABLE_SHARE = 0.9
ENDS = (2.5, 97.5)


@dataclass(frozen=True, slots=True)
class ResampledChange:
    """95 % percentile intervals of one change: of the odds ratio, and of the risk difference in percentage points."""

    odds_low: float
    odds_high: float
    points_low: float
    points_high: float


@dataclass(frozen=True, slots=True)
class Resampled:
    """One interval per change, from `n_used` resamples of the `n_units` sessions, days or coffees."""

    unit: str
    n_units: int
    n_resamples: int
    n_used: int
    changes: tuple[ResampledChange, ...]


def resample_risk(
    brews: pl.DataFrame,
    y: Floats,
    x: Floats,
    changes: Sequence[Change],
    *,
    rng: np.random.Generator,
    resamples: int,
) -> Resampled | NotShown:
    """Percentile intervals over resampled sessions, else days, else coffees (Efron and Tibshirani 1993, chapter 13)."""
    found = _units(brews)
    if found is None:
        return NotShown(
            f"Sessions were not resampled: it takes at least {FEWEST_UNITS} sessions, days or coffees, each brew with "
            "its own."
        )
    word, codes, count = found
    rows = [np.flatnonzero(codes == code) for code in range(count)]
    fits = []
    for _ in range(resamples):
        drawn = np.concatenate([rows[code] for code in rng.integers(count, size=count)])
        if 0 < y[drawn].sum() < drawn.size:
            fit = fit_firth(y[drawn], x[drawn])
            if isinstance(fit, FirthFit):
                fits.append(fit.estimate)
    if len(fits) < USABLE_SHARE * resamples:
        return NotShown(
            f"Resampling {count} {word}s gave an answer in only {len(fits)} of {resamples} draws (too few brews of one "
            "kind, or a factor that stood still), so it is not shown."
        )
    betas = np.array(fits)
    return Resampled(word, count, resamples, len(fits), tuple(_of_change(betas, change) for change in changes))


def _units(brews: pl.DataFrame) -> tuple[str, Ints, int] | None:
    """Word, code of each brew (n,), and how many: the first kind that every brew has and that is varied enough."""
    for name, word in UNITS:
        column = brews[name]
        if column.null_count() == 0 and column.n_unique() >= FEWEST_UNITS:
            codes = column.rank("dense").cast(pl.Int64).to_numpy() - 1
            return word, codes, column.n_unique()
    return None


def _of_change(betas: Floats, change: Change) -> ResampledChange:
    at, to = betas @ change.at, betas @ change.to
    odds = np.exp(np.percentile(to - at, ENDS))
    points = 100 * np.percentile(expit(to) - expit(at), ENDS)
    return ResampledChange(float(odds[0]), float(odds[1]), float(points[0]), float(points[1]))
