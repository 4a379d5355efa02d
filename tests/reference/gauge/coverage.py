"""How often the intervals of a gauge study hold the truth: invented studies, 4,000 of each case, seeds fixed.

`python -m tests.reference.gauge.coverage` from the root writes coverage.csv beside it; the tests measure again.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import polars as pl
from scipy import stats

from analysis.effects.fit import Floats, Ints
from analysis.measurement.gauge import POOL_ABOVE
from analysis.measurement.gauge_intervals import mls_bounds, share_bounds
from analysis.measurement.gauge_squares import MeanSquares, indicators, mean_squares, with_sums
from analysis.measurement.gauge_table import GaugeTable

HERE = Path(__file__).parent
RUNS = 4000
SEED = 20261103
"""Chosen before looking."""


def holes(brews: int, readers: int, repeats: int, *, lost: int, empty: int) -> Ints:
    """Readings per brew and reader: one lost in each of `lost` cells, all lost in the first `empty` of them."""
    counts = np.full(brews * readers, repeats)
    cells = np.random.default_rng(SEED).permutation(counts.size)[:lost]
    counts[cells] -= 1
    counts[cells[:empty]] = 0
    return counts.reshape(brews, readers)


DESIGNS = {
    "10 x 3 x 3": np.full((10, 3), 3),
    "6 x 3 x 2": np.full((6, 3), 2),
    "5 x 2 x 3": np.full((5, 2), 3),
    "8 x 4 x 2, 9 readings missing": holes(8, 4, 2, lost=9, empty=0),
    "6 x 3 x 3, 12 readings missing, 3 cells empty": holes(6, 3, 3, lost=6, empty=3),
}
TRUTHS = {  # standard deviations in % TDS: brew, reader, interaction, repeat
    "all differ": (0.06, 0.010, 0.006, 0.010),
    "readers alike": (0.06, 0.0, 0.0, 0.010),
    "small reader, no interaction": (0.04, 0.006, 0.0, 0.010),
    "brews hardly differ": (0.010, 0.015, 0.010, 0.010),
}


def table_of(counts: Ints) -> GaugeTable:
    """An empty table with these counts."""
    brew, reader = np.indices(counts.shape)
    repeat = counts.ravel()
    return GaugeTable(
        np.zeros(repeat.sum()),
        np.repeat(brew.ravel(), repeat),
        np.repeat(reader.ravel(), repeat),
        tuple(f"b{k}" for k in range(counts.shape[0])),
        tuple(f"r{k}" for k in range(counts.shape[1])),
    )


def draw(table: GaugeTable, sd: tuple[float, ...], runs: int, rng: np.random.Generator) -> Floats:
    """Readings of `runs` studies, shape (n, runs)."""
    y = 1.35 + rng.normal(0, sd[3], (table.tds_pct.size, runs))
    for columns, spread in zip(indicators(table).values(), sd[:3], strict=True):
        y += columns @ rng.normal(0, spread, (columns.shape[1], runs))
    return y


def holds(found: MeanSquares, truth: dict[str, float]) -> dict[str, np.ndarray]:
    """Whether each interval holds the truth, by quantity and run."""
    weights = found.weights()
    inside = {}
    for name, w in weights.items():
        bounds = mls_bounds(w, found)
        inside[name] = (bounds.low <= truth[name] * (1 + 1e-12)) & (truth[name] <= bounds.high)
    share = share_bounds(weights["gauge"], weights["total"], found)
    true_share = truth["gauge"] / truth["total"]
    inside["gauge_share"] = (share.low <= true_share) & (true_share <= share.high)
    return inside


def coverage(design: str, case: str, *, runs: int = RUNS) -> dict[tuple[str, str], float]:
    """Share of runs whose interval holds the truth, by rule and quantity.

    "with" keeps the interaction in every study, "auto" pools it by the declared rule.
    """
    table = table_of(DESIGNS[design])
    sd = TRUTHS[case]
    rng = np.random.default_rng([SEED, list(DESIGNS).index(design), list(TRUTHS).index(case)])
    y = draw(table, sd, runs, rng)
    truth = with_sums({term: s**2 for term, s in zip(("brew", "reader", "interaction", "repeat"), sd, strict=True)})
    found = mean_squares(table, y, with_interaction=True)
    pool = stats.f.sf(found.mean[2] / found.mean[3], found.df[2], found.df[3]) > POOL_ABOVE
    kept = holds(found, truth)
    pooled = holds(mean_squares(table, y[:, pool], with_interaction=False), truth)
    rates = {("with", name): float(inside.mean()) for name, inside in kept.items()}
    for name, inside in pooled.items():
        rates["auto", name] = float((kept[name][~pool].sum() + inside.sum()) / runs)
    return rates


def measure() -> pl.DataFrame:
    """Every design, truth, rule and quantity."""
    rows = [
        {"design": design, "truth": case, "rule": rule, "quantity": name, "runs": RUNS, "coverage": round(rate, 4)}
        for design in DESIGNS
        for case in TRUTHS
        for (rule, name), rate in coverage(design, case).items()
    ]
    return pl.DataFrame(rows)


if __name__ == "__main__":
    measure().write_csv(HERE / "coverage.csv")
