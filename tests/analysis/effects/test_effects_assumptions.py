"""Notes where scatter is unlike or settings stood still within sessions; the thresholds' cases are made by hand."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from analysis.effects.estimate import estimate_effects
from analysis.effects.request import EffectsRequest

YIELD = "extraction_yield_pct"


def _notes(facts: pl.DataFrame, *factors: str) -> str:
    return " ".join(estimate_effects(facts, EffectsRequest(YIELD, factors)).notes)


def _scattered(make_trial, *, times: float, coffees: int = 4) -> pl.DataFrame:
    """Channeled brews with that many times the scatter of the others."""
    facts = make_trial(seed=31, n=120, coffees=coffees, noise=1e-6)
    noise = np.random.default_rng(5).normal(scale=0.5, size=120)
    wide = pl.when("channeled").then(times).otherwise(1.0)
    return facts.with_columns((pl.col(YIELD) + wide * pl.Series(noise)).alias(YIELD))


def test_channeled_brews_that_scatter_twice_as_widely_are_said(make_trial):
    facts = _scattered(make_trial, times=2.0)
    noise = np.random.default_rng(5).normal(scale=0.5, size=120)
    yes = facts["channeled"].to_numpy()
    ratio = 2 * noise[yes].std(ddof=1) / noise[~yes].std(ddof=1)  # of the noise itself, before any model

    notes = _notes(facts, "grind_steps_finer", "water_temp_c", "beverage_ratio", "channeled")

    assert "With channeled, brews scatter more than without (standard deviation " in notes
    assert float(notes.partition("(standard deviation ")[2].split()[0]) == pytest.approx(ratio, abs=0.2)


def test_like_scatter_and_hc3_need_no_note(make_trial):
    assert "scatter" not in _notes(
        _scattered(make_trial, times=1.0), "beverage_ratio", "grind_steps_finer", "channeled"
    )
    assert "scatter" not in _notes(_scattered(make_trial, times=2.0, coffees=1), "grind_steps_finer", "channeled")


@pytest.mark.parametrize(("stir", "said"), [(0.0, True), (0.2, True), (2.0, False)])
def test_a_grind_set_once_a_session_is_said(make_facts, stir, said):
    """Five brews in each of ten sessions; grind -2, 0 or 2 by session, plus `stir` times -1, 0, 1, 0, 0 within.

    Squares between sessions: 5 * (28 - 10 * 0.2^2) = 138. Within: 20 stir^2, or 0, 0.8 and 80: shares 0, 0.006, 0.37.
    """
    session = np.repeat(np.arange(10), 5)
    grind = np.array([-2.0, 0.0, 2.0])[session % 3] + stir * np.tile([-1, 0, 1, 0, 0], 10)
    noise = np.random.default_rng(3).normal(scale=0.3, size=50)
    facts = make_facts(
        50,
        session_id=[f"s{k}" for k in session],
        grind_steps_finer=grind,
        extraction_yield_pct=20 + 0.4 * grind + noise,
    )

    assert ("changed mostly from session to session" in _notes(facts, "grind_steps_finer")) is said
