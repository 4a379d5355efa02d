"""How often the intervals of a prediction hold the truth: invented campaigns, seeds fixed.

`python -m tests.reference.prediction.coverage` from the root writes coverage.csv beside it (some minutes on two quiet
cores); the tests measure the first block of each case again and compare.
"""

from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from multiprocessing import get_context
from pathlib import Path

import numpy as np
import polars as pl
from scipy import stats

from analysis.effects.structure import ENOUGH_COFFEES
from analysis.prediction.answer import expected
from analysis.prediction.landing import chance_inside
from analysis.prediction.models import RecipeModels, fit_recipe_models, one
from analysis.prediction.request import PredictRequest, Window
from schemas.columns import COLUMNS
from schemas.dtypes import DTYPE_OF_KIND
from schemas.problem import ProblemError
from schemas.reports import FACT_COLUMNS

HERE = Path(__file__).parent
SEED = 20261126
"""Chosen before looking, and never changed."""
BLOCK, RUNS, EACH = 25, 1000, 10
FACTORS = ("grind_steps_finer", "water_temp_c", "beverage_ratio")
TRUTH = np.array([0.4, 0.1, 3.0])
COFFEE_SD, NOISE = 1.0, 0.6
ZERO = np.array([0.0, 93.0, 2.1])
RECIPE = np.array([1.0, 94.0, 2.2])
WINDOW = Window(19.5, 21.5, 9.2, 10.0)
DRAWS = 1000
SCHEMA = {
    "case": pl.String,
    "block": pl.Int64,
    "coffee": pl.String,
    "quantity": pl.String,
    "n": pl.Int64,
    "held": pl.Int64,
    "chance": pl.Float64,
}
"""`held`: intervals that held the truth, or (for "landed") brews that landed; `chance`: the sum of chances told."""


@dataclass(frozen=True)
class Case:
    """Coffees of ten brews, and standard deviations of their slopes (FACTORS' order)."""

    n_coffees: int
    slope_sd: tuple[float, float, float] = (0.0, 0.0, 0.0)


CASES = {
    f"{n} coffees{words}": Case(n, slope_sd)
    for n in (5, 6, 8, 12, 4, 2)
    for words, slope_sd in ((" alike", (0.0, 0.0, 0.0)), (", grind slopes vary", (0.2, 0.0, 0.0)))
}


def facts_of(given: dict[str, list[object]], n: int) -> pl.DataFrame:
    """Espresso brews on one grinder with the columns given."""
    usual: dict[str, list[object]] = {
        "brew_id": [f"b{k:03d}" for k in range(n)],
        "method": ["espresso"] * n,
        "balance_used": ["percolation"] * n,
        "grinder_id": ["g1"] * n,
        "is_void": [False] * n,
    }
    values = usual | given
    return pl.DataFrame(
        [
            pl.Series(name, values.get(name, [None] * n), dtype=DTYPE_OF_KIND[COLUMNS[name].kind])
            for name in FACT_COLUMNS
        ]
    )


def campaign(case: Case, rng: np.random.Generator) -> tuple[pl.DataFrame, np.ndarray]:
    """Ten brews of each coffee, strength by the mass balance; and the first coffee's true yield at the recipe."""
    n = case.n_coffees * EACH
    coffee = np.repeat(np.arange(case.n_coffees), EACH)
    columns = np.column_stack(
        [
            np.round(rng.normal(scale=1.2, size=n) * 2) / 2,
            np.round(rng.normal(93, 1.5, size=n), 1),
            np.round(rng.normal(2.1, 0.1, size=n), 2),
        ]
    )
    slopes = TRUTH + rng.normal(size=(case.n_coffees, 3)) * case.slope_sd
    level = 20 + COFFEE_SD * rng.normal(size=case.n_coffees)
    extracted = level[coffee] + np.sum((columns - ZERO) * slopes[coffee], axis=1) + NOISE * rng.normal(size=n)
    given = {name: list(columns[:, k]) for k, name in enumerate(FACTORS)}
    given |= {
        "coffee_id": [f"c{k:02d}" for k in coffee],
        "extraction_yield_pct": list(extracted),
        "cup_tds_pct": list(extracted / columns[:, 2]),
    }
    return facts_of(given, n), level[0] + (RECIPE - ZERO) @ slopes[0]


def measure(name: str, block: int) -> pl.DataFrame:
    """One block of campaigns of a case: how often each interval held its truth (SCHEMA)."""
    case, rng = CASES[name], np.random.default_rng([SEED, list(CASES).index(name), block])
    counts: dict[tuple[str, str], np.ndarray] = {}
    between = np.sqrt(COFFEE_SD**2 + np.sum(((RECIPE - ZERO) * case.slope_sd) ** 2))
    for _ in range(BLOCK):
        facts, known = campaign(case, rng)
        average = 20 + (RECIPE - ZERO) @ TRUTH
        another = average + between * rng.normal()
        noise = NOISE * rng.normal()
        told = {"known": (known, known, NOISE), "new": (another, average, float(np.hypot(between, NOISE)))}
        if case.n_coffees < ENOUGH_COFFEES:
            del told["new"]
        models = _fit(facts)
        for coffee, (mean, centre, sd) in told.items():
            found = _ask(models if coffee == "known" else replace(models, coffee=None), rng)
            for key, hit, chance in _hits(found, float(mean), float(mean + noise), float(centre), sd):
                counts[coffee, key] = counts.get((coffee, key), np.zeros(3)) + np.array([1, hit, chance])
    rows = [(name, block, *key, int(n), int(hits), float(chance)) for key, (n, hits, chance) in counts.items()]
    return pl.DataFrame(rows, schema=SCHEMA, orient="row")


def _fit(facts: pl.DataFrame) -> RecipeModels:
    try:
        return fit_recipe_models(facts, PredictRequest(factors=FACTORS, coffee="c00"))
    except ProblemError as problem:
        raise AssertionError(f"a campaign was refused: {problem}") from problem


def _ask(models: RecipeModels, rng: np.random.Generator) -> tuple[object, ...]:
    """Both responses and the chance, for the coffee of the models or a new one."""
    recipe = one(dict(zip(FACTORS, RECIPE, strict=True)))
    told = [expected(model, line) for model, line in zip(models.models, models.lines(recipe), strict=True)]
    return (*told, chance_inside(models.joint(recipe), WINDOW, rng=rng, draws=DRAWS))


def _hits(
    found: tuple[object, ...], mean: float, brew: float, centre: float, sd: float
) -> list[tuple[str, int, float]]:
    """Each interval by name, whether it held its truth, and (for the chance) what was told."""
    *told, chance = found
    hits = []
    for word, one_of, ratio in zip(("yield", "strength"), told, (1.0, RECIPE[2]), strict=True):
        hits.append((f"{word}, mean", int(one_of.low <= mean / ratio <= one_of.high), 0.0))
        hits.append((f"{word}, one brew", int(one_of.brew_low <= brew / ratio <= one_of.brew_high), 0.0))
    low = max(WINDOW.yield_low, WINDOW.strength_low * RECIPE[2])
    high = min(WINDOW.yield_high, WINDOW.strength_high * RECIPE[2])
    truth = stats.norm.cdf(high, centre, sd) - stats.norm.cdf(low, centre, sd)
    hits.append(("chance of landing", int(chance.low[0] <= truth <= chance.high[0]), 0.0))
    hits.append(("landed", int(low <= brew <= high), float(chance.value[0])))
    return hits


def main() -> None:
    """Measure every block of every case and write coverage.csv."""
    jobs = [(name, block) for name in CASES for block in range(RUNS // BLOCK)]
    # Polars holds threads, which a forked process would wait for in vain.
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        found = pl.concat(pool.map(measure, *zip(*jobs, strict=True), chunksize=4))
    found.with_columns(pl.col("chance").round(6)).write_csv(HERE / "coverage.csv")


if __name__ == "__main__":
    main()
