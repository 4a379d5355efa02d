"""How often 95 % intervals hold the truth: 4,000 made-up comparisons a case, seeds fixed before the first look.

Run from the top of the project as `python -m tests.reference.agreement.coverage`; it writes coverage.csv beside itself.
The test runs the same cases again and compares. Strengths in % TDS.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import polars as pl
from scipy import stats

from analysis.measurement.agreement_limits import FACTOR, Part, reach_of_limits
from analysis.measurement.deming import ErrorRatio, fit, fit_line, predict, quantile

RUNS = 4000
TABLE = Path(__file__).with_name("coverage.csv")


@dataclass(frozen=True)
class Case:
    """n brews read `m_a` and `m_b` times with scatter `sd_a` and `sd_b`; b moves by `sd_own` of its own per brew."""

    name: str
    n: int
    m_a: int = 1
    m_b: int = 1
    sd_a: float = 0.01
    sd_b: float = 0.01
    sd_own: float = 0.0
    step: float = 0.0
    spread: float = 0.1
    shape: str = "normal"
    slope: float = 1.0


LIMITS = (
    Case("5 brews, single readings", 5),
    Case("10 brews, single readings", 10),
    Case("30 brews, single readings", 30),
    Case("5 brews, 3 and 3 readings", 5, 3, 3),
    Case("10 brews, 3 and 3 readings, brews move b", 10, 3, 3, sd_own=0.01),
    Case("10 brews, 2 and 5 readings, b scatters twice", 10, 2, 5, sd_b=0.02),
    Case("20 brews, 3 and 3 readings, brews move b", 20, 3, 3, sd_own=0.005),
    Case("12 brews, 3 and 3 readings, step as wide as the scatter", 12, 3, 3, step=0.01),
)
SLOPES = (
    Case("5 brews, spread 14 times the error", 5, 2, 2, slope=1.05),
    Case("8 brews, spread 17 times the error", 8, 3, 3, slope=1.05),
    Case("10 brews, spread 9 times the error, b scatters twice", 10, 3, 3, sd_b=0.02, spread=0.05, slope=1.05),
    Case("20 brews, spread 3 times the error", 20, 3, 3, sd_a=0.0577, sd_b=0.0577, slope=1.05),
    Case("20 brews, spread twice the error", 20, 3, 3, sd_a=0.0866, sd_b=0.0866, slope=1.05),
    Case("12 brews, espresso and filter", 12, 2, 2, sd_a=0.03, sd_b=0.05, spread=4.0, shape="two", slope=0.97),
    Case("10 brews, a few strong ones", 10, 3, 3, shape="skew", slope=1.05),
    Case("15 brews, brews move b as much as a reading", 15, 3, 3, sd_own=0.01, slope=1.05),
    Case("12 brews, step as wide as the scatter", 12, 3, 3, step=0.01, slope=1.05),
)
FORETOLD = tuple(case.name for case in SLOPES if case.n in (5, 10, 15))


@dataclass(frozen=True)
class Drawn:
    """Means per brew, shape (runs, n), and variances of single readings pooled over brews, shape (runs,)."""

    x: np.ndarray
    y: np.ndarray
    var_a: np.ndarray
    var_b: np.ndarray


def strengths(case: Case, rng: np.random.Generator) -> np.ndarray:
    size = (RUNS, case.n)
    if case.shape == "two":
        return np.where(np.arange(case.n) % 2, 9.3, 1.3) + rng.normal(0, 0.1, size)
    if case.shape == "skew":
        return 1.2 + case.spread * rng.lognormal(0, 0.8, size)
    return 1.3 + rng.normal(0, case.spread, size)


def read(truth: np.ndarray, m: int, sd: float, step: float, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    readings = truth[..., None] + rng.normal(0, sd, (*truth.shape, m))
    if step:
        readings = np.round(readings / step) * step
    mean = readings.mean(axis=-1)
    squares = ((readings - mean[..., None]) ** 2).sum(axis=(-1, -2))
    return mean, squares / max(truth.shape[-1] * (m - 1), 1)


def draw(case: Case, rng: np.random.Generator) -> Drawn:
    truth = strengths(case, rng)
    of_b = 0.02 + case.slope * truth + rng.normal(0, case.sd_own, truth.shape)
    x, var_a = read(truth, case.m_a, case.sd_a, case.step, rng)
    y, var_b = read(of_b, case.m_b, case.sd_b, case.step, rng)
    return Drawn(x, y, var_a, var_b)


def held(low: np.ndarray, high: np.ndarray, truth: float) -> float:
    return float(((low <= truth) & (truth <= high)).mean())


def limits_cover(case: Case, rng: np.random.Generator) -> Iterator[tuple[str, float]]:
    """Bias, both limits, and beside ours the approximate intervals of 1999 (t on n - 1) and MOVER (Zou 2013)."""
    drawn, n = draw(case, rng), case.n
    differences = drawn.y - drawn.x
    bias, variance = differences.mean(axis=1), differences.var(axis=1, ddof=1)
    repeats = ((drawn.var_a, case.m_a), (drawn.var_b, case.m_b))
    inside = [Part(value, n * (m - 1), 1 - 1 / m) for value, m in repeats if m > 1]
    reach = reach_of_limits(variance, n, inside)
    single = math.sqrt(case.sd_own**2 + case.sd_a**2 + case.sd_b**2 + case.step**2 / 6)
    upper, lower = 0.02 + FACTOR * single, 0.02 - FACTOR * single
    t = stats.t.ppf(0.975, n - 1)
    yield "bias", held(bias - t * np.sqrt(variance / n), bias + t * np.sqrt(variance / n), 0.02)
    yield "upper limit", held(bias + reach.inner, bias + reach.outer, upper)
    yield "lower limit", held(bias - reach.outer, bias - reach.inner, lower)
    at, total = bias + reach.estimate, reach.sd_single**2
    half = t * np.sqrt(variance / n + FACTOR**2 * total / (2 * reach.df))
    yield "(1999 approximation)", held(at - half, at + half, upper)
    terms = [(variance, n - 1), *((part.single * part.variance, part.df) for part in inside)]
    low = total - np.sqrt(sum((v * (1 - d / stats.chi2.ppf(0.975, d))) ** 2 for v, d in terms))
    high = total + np.sqrt(sum((v * (d / stats.chi2.ppf(0.025, d) - 1)) ** 2 for v, d in terms))
    mean_part = t**2 * variance / n
    down = np.sqrt(mean_part + FACTOR**2 * (reach.sd_single - np.sqrt(low)) ** 2)
    up = np.sqrt(mean_part + FACTOR**2 * (np.sqrt(high) - reach.sd_single) ** 2)
    yield "(MOVER)", held(at - down, at + up, upper)


def slopes_cover(case: Case, rng: np.random.Generator) -> Iterator[tuple[str, float]]:
    """Slope and intercept, the error ratio estimated from each run's own repeats; and single readings foretold."""
    drawn = draw(case, rng)
    var_x, var_y = (v / m + case.step**2 / 12 for v, m in ((drawn.var_a, case.m_a), (drawn.var_b, case.m_b)))
    found = fit(drawn.x, drawn.y, var_x, var_y)
    t = quantile(case.n)
    half_slope, half_intercept = t * np.sqrt(found.var_slope), t * np.sqrt(found.var_intercept)
    yield "slope", held(found.slope - half_slope, found.slope + half_slope, case.slope)
    yield "intercept", held(found.intercept - half_intercept, found.intercept + half_intercept, 0.02)
    if case.name in FORETOLD:
        yield "prediction", foretold(case, drawn, var_x, var_y, rng)


def foretold(case: Case, drawn: Drawn, var_x: np.ndarray, var_y: np.ndarray, rng: np.random.Generator) -> float:
    """Share of runs whose interval holds a single reading on b of one more brew, read once on a."""
    one = Case(case.name, 1, 1, 1, case.sd_a, case.sd_b, case.sd_own, case.step, case.spread, case.shape, case.slope)
    new = draw(one, rng)
    hits = 0
    for run in range(RUNS):
        line = fit_line(drawn.x[run], drawn.y[run], ErrorRatio(var_x[run], var_y[run], 1.0, 1.0, True, ""))
        of_a = (line.slope**2 * drawn.var_a[run] * (1 - 1 / case.m_a), case.n * (case.m_a - 1))
        of_b = (drawn.var_b[run] * (1 - 1 / case.m_b), case.n * (case.m_b - 1))
        found = predict(line, new.x[run, 0], added=(of_a, of_b))
        hits += found.low <= new.y[run, 0] <= found.high
    return hits / RUNS


def table() -> pl.DataFrame:
    rows = []
    for seed, case in enumerate(LIMITS, start=2026_06_01):
        rows += [("limits", case.name, of, share) for of, share in limits_cover(case, np.random.default_rng(seed))]
    for seed, case in enumerate(SLOPES, start=2026_07_01):
        rows += [("line", case.name, of, share) for of, share in slopes_cover(case, np.random.default_rng(seed))]
    return pl.DataFrame(rows, schema=["kind", "case", "interval_of", "coverage"], orient="row")


if __name__ == "__main__":
    table().write_csv(TABLE, float_precision=4)
