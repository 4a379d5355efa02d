"""How often the effects' intervals hold the truth: invented campaigns, seeds fixed.

`python -m tests.reference.effects_coverage.coverage` from the root writes coverage.csv beside it (ten minutes on two
quiet cores); the tests measure the first block of some cases again and compare.
"""

from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

import numpy as np
import polars as pl

from analysis.effects.model import Fitted, fit_chosen
from analysis.effects.request import EffectsRequest
from analysis.effects.rows import choose_rows
from schemas.columns import COLUMNS
from schemas.dtypes import DTYPE_OF_KIND
from schemas.problem import ProblemError
from schemas.reports import FACT_COLUMNS

HERE = Path(__file__).parent
SEED = 20261125
"""Chosen before looking, and never changed."""
BLOCK = 50
FIRST = 4000
N_BREWS = 60
YIELD = "extraction_yield_pct"
WITHIN = ("grind_steps_finer", "water_temp_c", "beverage_ratio", "channeled")
TRUTH = np.array([0.4, 0.1, 3.0, 0.0])
"""Points a step, a degree, a unit of ratio, and channeling, which does nothing here."""
GRIND_ONLY = (0.2, 0.0, 0.0, 0.0)
ALL_FOUR = (0.2, 0.05, 1.5, 0.3)
BETWEEN = "dose_g"
BETWEEN_TRUTH = 0.5
COFFEE_SD, NOISE = 1.0, 0.6
SCHEMA = {
    "case": pl.String,
    "block": pl.Int64,
    "term": pl.String,
    "speaks_for": pl.String,
    "n": pl.Int64,
    "covered": pl.Int64,
    "called_real": pl.Int64,
}


@dataclass(frozen=True)
class Case:
    """Coffees, standard deviations of their slopes (WITHIN's order), whether a factor differs between coffees only."""

    n_coffees: int
    slope_sd: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)
    between: bool = False
    runs: int = 1000


CASES = {
    "6 coffees alike": Case(6, runs=16_000),
    "6 coffees, grind slopes vary": Case(6, GRIND_ONLY, runs=16_000),
    "6 coffees, all slopes vary": Case(6, ALL_FOUR, runs=4000),
    "5 coffees alike": Case(5),
    "5 coffees, grind slopes vary": Case(5, GRIND_ONLY),
    "10 coffees, grind slopes vary": Case(10, GRIND_ONLY),
    "4 coffees alike": Case(4),
    "4 coffees, grind slopes vary": Case(4, GRIND_ONLY),
    "3 coffees alike": Case(3),
    "3 coffees, grind slopes vary": Case(3, GRIND_ONLY),
    "2 coffees alike": Case(2),
    "2 coffees, grind slopes vary": Case(2, GRIND_ONLY),
    "5 coffees, a factor between them": Case(5, between=True),
    "6 coffees, a factor between them": Case(6, between=True),
    "10 coffees, a factor between them": Case(10, between=True),
}
BASE = pl.DataFrame(
    [pl.Series(name, [None] * N_BREWS, dtype=DTYPE_OF_KIND[COLUMNS[name].kind]) for name in FACT_COLUMNS]
).with_columns(
    brew_id=pl.Series([f"b{k:02d}" for k in range(N_BREWS)]),
    method=pl.lit("espresso"),
    balance_used=pl.lit("percolation"),
    grinder_id=pl.lit("g1"),
    is_void=pl.lit(value=False),
)


def campaign(case: Case, rng: np.random.Generator) -> tuple[pl.DataFrame, dict[str, np.ndarray]]:
    """60 brews spread evenly over the coffees, and what is true of coffees like these and of these coffees."""
    coffee = np.repeat(np.arange(case.n_coffees), N_BREWS // case.n_coffees)
    columns = np.column_stack(
        [
            np.round(rng.normal(scale=1.2, size=N_BREWS) * 2) / 2,
            np.round(rng.normal(93, 1.5, size=N_BREWS), 1),
            np.round(rng.normal(2.1, 0.2, size=N_BREWS), 2),
            rng.random(N_BREWS) < 0.25,
        ]
    )
    slopes = TRUTH + rng.normal(size=(case.n_coffees, 4)) * case.slope_sd
    level = 20 + COFFEE_SD * rng.normal(size=case.n_coffees)
    zero = np.array([0.0, 93.0, 2.1, 0.0])
    extracted = level[coffee] + np.sum((columns - zero) * slopes[coffee], axis=1) + NOISE * rng.normal(size=N_BREWS)
    dose = np.arange(case.n_coffees) % 2
    if case.between:
        extracted += BETWEEN_TRUTH * dose[coffee]
    facts = BASE.with_columns(
        coffee_id=pl.Series([f"c{k:02d}" for k in coffee]),
        dose_g=pl.Series(18.0 + dose[coffee]),
        channeled=pl.Series(columns[:, 3] == 1),
        extraction_yield_pct=pl.Series(extracted),
        **{name: pl.Series(columns[:, k]) for k, name in enumerate(WITHIN[:3])},
    )
    mean = columns.mean(axis=0) - zero
    between = BETWEEN_TRUTH * float(dose[coffee].mean()) if case.between else 0.0
    like_these = np.append(TRUTH, 20 + mean @ TRUTH + between)
    these = np.append(slopes.mean(axis=0), level.mean() + mean @ slopes.mean(axis=0) + between)
    return facts, {"coffees like these": like_these, "these coffees": these}


def measure(name: str, block: int) -> pl.DataFrame:
    """One block of campaigns of a case: how often each term's interval held each truth, and left zero out (SCHEMA)."""
    case, rng = CASES[name], np.random.default_rng([SEED, list(CASES).index(name), block])
    factors = (*WITHIN, BETWEEN) if case.between else WITHIN
    request = EffectsRequest(YIELD, factors)
    counts: dict[tuple[str, str], np.ndarray] = {}
    for _ in range(BLOCK):
        facts, truths = campaign(case, rng)
        fitted = _fit(facts, request)
        for speaks_for, truth in truths.items():
            at = np.append(np.insert(truth[:-1], 4, BETWEEN_TRUTH), truth[-1]) if case.between else truth
            for k, term in enumerate((*factors, "intercept")):
                estimate, half = float(fitted.fit.estimate[k]), fitted.fit.half_width(k)
                found = np.array([1, abs(estimate - at[k]) <= half, abs(estimate) > half], dtype=int)
                counts[term, speaks_for] = counts.get((term, speaks_for), np.zeros(3, dtype=int)) + found
    rows = [(name, block, term, of, *(int(n) for n in found)) for (term, of), found in counts.items()]
    return pl.DataFrame(rows, schema=SCHEMA, orient="row")


def _fit(facts: pl.DataFrame, request: EffectsRequest) -> Fitted:
    try:
        return fit_chosen(choose_rows(facts, request), request)
    except ProblemError as problem:
        raise AssertionError(f"a campaign was refused: {problem}") from problem


def cumulated(blocks: pl.DataFrame) -> pl.DataFrame:
    """Counts over the first block, the first 4,000 campaigns and all campaigns of each case: `first` says how many."""
    parts = [
        blocks.filter(pl.col("block") < first // BLOCK).with_columns(first=pl.lit(first)) for first in (BLOCK, FIRST)
    ]
    all_runs = pl.col("case").replace_strict({name: case.runs for name, case in CASES.items()}, return_dtype=pl.Int32)
    parts.append(blocks.with_columns(first=all_runs))
    keys = ["case", "first", "term", "speaks_for"]
    sums = [part.group_by(keys, maintain_order=True).agg(pl.col("n", "covered", "called_real").sum()) for part in parts]
    return pl.concat(sums).filter(pl.col("n") == pl.col("first")).unique(keys, keep="first", maintain_order=True)


def main() -> None:
    """Measure every block of every case and write coverage.csv."""
    jobs = [(name, block) for name, case in CASES.items() for block in range(case.runs // BLOCK)]
    # Polars holds threads, which a forked process would wait for in vain.
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        found = pl.concat(pool.map(measure, *zip(*jobs, strict=True), chunksize=4))
    cumulated(found).write_csv(HERE / "coverage.csv")


if __name__ == "__main__":
    main()
