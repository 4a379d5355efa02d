"""Known truths, recovered; a known null, rejected as often as it should be; a large lab, fitted in seconds."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.effects.estimate import estimate_effects
from analysis.effects.fit import Fit
from analysis.effects.random_fit import fit_random
from analysis.effects.request import EffectsRequest
from analysis.mixed.model import RandomPart

FOUR = ("grind_steps_finer", "water_temp_c", "beverage_ratio", "channeled")
TRUTH = np.array([0.4, 0.1, 0.3, -1.8])  # per step; the ratio's step is 0.1


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize(("coffees", "grinders"), [(1, 1), (6, 1), (6, 3)])
def test_truth_lies_within_four_standard_errors(make_trial, seed, coffees, grinders):
    facts = make_trial(seed=100 + seed, coffees=coffees, grinders=grinders)
    table = estimate_effects(facts, EffectsRequest("extraction_yield_pct", FOUR)).table.filter(term="grind_steps_finer")
    rest = estimate_effects(facts, EffectsRequest("extraction_yield_pct", FOUR)).table

    assert np.abs(table["estimate"].to_numpy() - TRUTH[0]).max() < 4 * table["std_error"].max()
    for name, truth in zip(FOUR[1:], TRUTH[1:], strict=True):
        row = rest.filter(term=name).row(0, named=True)
        assert abs(row["estimate"] - truth) < 4 * row["std_error"]


@pytest.mark.slow
def test_a_true_null_between_six_coffees_is_rejected_one_time_in_twenty():
    """A factor that differs only between coffees: t(4), near enough; z would reject 12 % and fall outside."""
    from scipy import stats

    rng = np.random.default_rng(20260403)
    runs, per_coffee = 400, 10
    codes = np.repeat(np.arange(6), per_coffee)
    dark = np.repeat([1.0, 0, 1, 0, 0, 1], per_coffee)
    within = rng.normal(size=codes.size)
    x = np.column_stack([dark - dark.mean(), within - within.mean(), np.ones(codes.size)])
    rejected = np.zeros(2)
    for _ in range(runs):
        y = 20 + rng.normal(size=6)[codes] + 0.6 * rng.normal(size=codes.size)
        fit = fit_random(y, x, [RandomPart("coffee", codes, np.ones(codes.size))], group="coffee")
        assert isinstance(fit, Fit)
        rejected += np.abs(fit.estimate[:2]) > stats.t.ppf(0.975, fit.df[:2]) * fit.std_error[:2]

    four_se = 4 * np.sqrt(0.05 * 0.95 / runs)
    assert rejected / runs == pytest.approx([0.05, 0.05], abs=four_se)


def test_many_brews_recover_the_truth_closely(make_trial):
    facts = make_trial(seed=8, n=20_000, coffees=12)
    result = estimate_effects(facts, EffectsRequest("extraction_yield_pct", FOUR))

    assert result.n_brews == 20_000
    # By hand: scatter 0.6 over sqrt(20,000) times the spread of each factor; a quarter of the shots channeled.
    std_error = 0.6 / np.sqrt(20_000) / np.array([1.2, 1.5, 2.0, np.sqrt(0.25 * 0.75)])
    assert np.all(np.abs(result.table["estimate"].to_numpy()[:4] - TRUTH) < 4 * std_error)
