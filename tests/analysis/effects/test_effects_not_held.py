"""A setting that moved along with the one asked about and is left out: said, with its correlation."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import polars as pl
import pytest

from analysis.effects.estimate import estimate_effects
from analysis.effects.request import EffectsRequest

Make = Callable[..., pl.DataFrame]


def notes(facts: pl.DataFrame, *factors: str) -> list[str]:
    result = estimate_effects(facts, EffectsRequest("extraction_yield_pct", factors))
    return [note for note in result.notes if "moved along" in note]


def tied(make_trial: Make, *, coffees: int) -> pl.DataFrame:
    rng = np.random.default_rng(41)
    facts = make_trial(seed=41, n=60, coffees=coffees)
    ratio = 2.1 - 0.1 * facts["grind_steps_finer"].to_numpy() + rng.normal(0, 0.08, 60)
    return facts.with_columns(beverage_ratio=pl.Series(ratio))


def test_the_ratio_left_out_is_named_with_its_correlation(make_trial: Make) -> None:
    facts = tied(make_trial, coffees=1)
    (note,) = notes(facts, "grind_steps_finer")
    r = np.corrcoef(facts["grind_steps_finer"].to_numpy(), facts["beverage_ratio"].to_numpy())[0, 1]
    assert f"beverage_ratio moved along with grind_steps_finer (r = {r:.2f}, 60 brews) and is not held" in note
    assert "--factors grind_steps_finer,beverage_ratio" in note


def test_held_it_is_not_named(make_trial: Make) -> None:
    assert notes(tied(make_trial, coffees=1), "grind_steps_finer", "beverage_ratio") == []


def test_settings_that_moved_on_their_own_are_not_named(make_trial: Make) -> None:
    assert notes(make_trial(seed=42), "grind_steps_finer") == []


@pytest.mark.parametrize("known", [20, 0])
def test_a_setting_known_of_few_brews_is_not_judged(make_trial: Make, known: int) -> None:
    facts = tied(make_trial, coffees=1)
    few = facts.with_columns(beverage_ratio=pl.when(pl.int_range(pl.len()) < known).then("beverage_ratio"))
    assert notes(few, "grind_steps_finer") == []
