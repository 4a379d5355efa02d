"""Total and direct effects against brews simulated with a known path, and against the algebra of least squares."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from analysis.effects.request import EffectsRequest
from analysis.outcomes.mediators import outcomes_of, total_and_direct
from schemas.columns import COLUMNS
from schemas.dtypes import frame_schema
from schemas.problem import ProblemError
from schemas.reports import FACT_COLUMNS

REQUEST = EffectsRequest("extraction_yield_pct", ("grind_steps_finer",), method="espresso")


def shots(n: int, *, coffees: int, seed: int) -> pl.DataFrame:
    """A finer step adds 0.3 points directly and 4 s of brew time; each second adds 0.05 points: 0.5 in total."""
    rng = np.random.default_rng(seed)
    grind = rng.integers(-3, 4, n).astype(float)
    time = 28 + 4 * grind + rng.normal(0, 2, n)
    coffee = rng.integers(0, coffees, n)
    made = 19 + 0.3 * grind + 0.05 * time + 0.5 * coffee + rng.normal(0, 0.3, n)
    known = pl.DataFrame(
        {
            "brew_id": [f"b-{k}" for k in range(n)],
            "coffee_id": [f"c-{k}" for k in coffee],
            "method": "espresso",
            "balance_used": "percolation",
            "grinder_id": "g-1",
            "is_void": False,
            "grind_steps_finer": grind,
            "brew_time_s": time,
            "channeled": rng.random(n) < 0.3,
            "extraction_yield_pct": made,
        }
    )
    empty = pl.DataFrame(schema=frame_schema([COLUMNS[name] for name in FACT_COLUMNS]))
    return pl.concat([empty, known], how="diagonal_relaxed")


def test_the_difference_is_the_product_of_the_two_paths() -> None:
    brews = shots(80, coffees=1, seed=11)
    found = total_and_direct(brews, REQUEST, ["brew_time_s"], rng=np.random.default_rng(1)).rows[0]
    # Least squares: total - direct = (time on grind) * (yield on time given grind), exactly (Frisch-Waugh-Lovell).
    grind, time = (brews[name].to_numpy() for name in ("grind_steps_finer", "brew_time_s"))
    ones, made = np.ones(80), brews["extraction_yield_pct"].to_numpy()
    time_on_grind = np.linalg.lstsq(np.column_stack([ones, grind]), time, rcond=None)[0][1]
    on_time = np.linalg.lstsq(np.column_stack([ones, grind, time]), made, rcond=None)[0][2]
    assert found.through == pytest.approx(time_on_grind * on_time, rel=1e-9)


def test_a_known_path_is_found() -> None:
    report = total_and_direct(shots(400, coffees=4, seed=12), REQUEST, ["brew_time_s"], rng=np.random.default_rng(1))
    row = report.rows[0]
    assert row.total_low < 0.5 < row.total_high
    assert row.direct_low < 0.3 < row.direct_high
    assert row.through_low < 0.2 < row.through_high
    assert row.through_low > 0
    assert "goes with them" in row.sentence()
    assert "caus" not in row.sentence() + report.question
    assert report.basis() == "400 brews of 4 coffees with all of these known"


def test_outcomes_are_offered_where_enough_is_known_of_them() -> None:
    brews = shots(60, coffees=2, seed=13)
    assert outcomes_of(brews, "espresso", ["grind_steps_finer"]) == ("brew_time_s", "channeled")
    assert outcomes_of(brews, "immersion", ["grind_steps_finer"]) == ("channeled",)
    never = brews.with_columns(channeled=pl.lit(False))
    assert outcomes_of(never, "espresso", ["grind_steps_finer"]) == ("brew_time_s",)


def test_too_few_brews_are_refused_with_their_number() -> None:
    with pytest.raises(ProblemError, match="12 brews have grind_steps_finer and brew_time_s all known"):
        total_and_direct(shots(12, coffees=1, seed=14), REQUEST, ["brew_time_s"], rng=np.random.default_rng(1))
    with pytest.raises(ProblemError, match="No outcome is named"):
        total_and_direct(shots(30, coffees=1, seed=14), REQUEST, [], rng=np.random.default_rng(1))
