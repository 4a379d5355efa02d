"""Sources of spread against the closed form of a balanced log, and their intervals against known spreads."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from analysis.mixed.arrays import NoFit
from analysis.mixed.fit import MixedFit
from analysis.mixed.model import RandomPart, fit_mixed_model
from analysis.spread.measured import MeasuredSpread
from analysis.spread.sources import BREW, MEASUREMENT, SpreadSources, spread_sources
from analysis.spread.words import spread_sentences

COFFEES, BREWS = 8, 12


def measured(variance: float, *, level_u: float = 0.2) -> MeasuredSpread:
    return MeasuredSpread(variance, 0.0, 0.0, level_u, COFFEES * BREWS, ("lens-1",))


def fitted(y: np.ndarray, *, coffees: int = COFFEES, brews: int = BREWS) -> MixedFit:
    codes = np.repeat(np.arange(coffees), brews)
    part = RandomPart("coffee", codes, np.ones(y.size))
    fit = fit_mixed_model(y, np.ones((y.size, 1)), [part])
    assert not isinstance(fit, NoFit)
    return fit


def drawn(rng: np.random.Generator, *, coffee_sd: float, brew_sd: float) -> np.ndarray:
    return 20 + np.repeat(rng.normal(0, coffee_sd, COFFEES), BREWS) + rng.normal(0, brew_sd, COFFEES * BREWS)


def split(y: np.ndarray, variance: float) -> SpreadSources:
    return spread_sources(fitted(y), measured(variance), slopes=frozenset(), rng=np.random.default_rng(1))


def test_a_balanced_log_gives_the_mean_squares() -> None:
    y = drawn(np.random.default_rng(5), coffee_sd=1.0, brew_sd=0.5)
    by_coffee = y.reshape(COFFEES, BREWS)
    inside = by_coffee.var(axis=1, ddof=1).mean()
    between = by_coffee.mean(axis=1).var(ddof=1) - inside / BREWS
    found = split(y, 0.04)
    # One-way analysis of variance, closed form: (MSB - MSW) / n and MSW.
    assert found.source("coffee").variance == pytest.approx(between, rel=1e-6)
    assert found.source(BREW).variance == pytest.approx(inside - 0.04, rel=1e-6)
    assert found.source(MEASUREMENT).variance == 0.04
    assert found.total_sd == pytest.approx(np.sqrt(between + inside), rel=1e-6)
    assert sum(source.share for source in found.sources) == pytest.approx(1.0)
    assert found.measurement_of_brew == pytest.approx(0.04 / inside, rel=1e-6)


def test_intervals_of_shares_hold_the_truth_about_as_often_as_they_say() -> None:
    rng, runs = np.random.default_rng(20264), 400
    coffee, brew, measuring = 1.0, 0.5, 0.1
    truth = {"coffee": coffee, BREW: brew, MEASUREMENT: measuring}
    total = sum(truth.values())
    held = dict.fromkeys(truth, 0)
    for _ in range(runs):
        y = drawn(rng, coffee_sd=np.sqrt(coffee), brew_sd=np.sqrt(brew + measuring))
        found = split(y, measuring)
        for name, variance in truth.items():
            source = found.source(name)
            held[name] += source.low is not None and source.low <= variance / total <= (source.high or 0)
    # 400 runs at 95 %: three binomial standard errors are 3.3 points.
    assert all(held[name] / runs >= 0.917 for name in truth), held


def test_a_source_of_zero_has_no_interval_and_is_not_called_none() -> None:
    rng = np.random.default_rng(1)
    y = drawn(rng, coffee_sd=0.0, brew_sd=1.0)
    y = y - np.repeat(y.reshape(COFFEES, BREWS).mean(axis=1) - y.mean(), BREWS)
    found = split(y, 0.02)
    assert found.source("coffee").variance == 0.0
    assert found.source("coffee").low is None
    said = " ".join(spread_sentences(found, method="espresso", coffees=COFFEES))
    assert "not proof of none" in said
    assert "more brews will help, more readings will not" in said
    assert "0.20 points" in said


def test_measuring_that_claims_more_than_there_is_says_so() -> None:
    found = split(drawn(np.random.default_rng(2), coffee_sd=1.0, brew_sd=0.3), 4.0)
    assert found.source(BREW).variance == 0.0
    said = " ".join(spread_sentences(found, method="pour_over", coffees=COFFEES))
    assert "claim more spread than the brews show" in said
    assert "a better instrument, will help" in said


def test_slopes_by_coffee_stay_out() -> None:
    rng = np.random.default_rng(3)
    codes, grind = np.repeat(np.arange(COFFEES), BREWS), np.tile(np.linspace(-3, 3, BREWS), COFFEES)
    slope = rng.normal(0, 0.5, COFFEES)
    y = drawn(rng, coffee_sd=1.0, brew_sd=0.5) + slope[codes] * grind
    parts = [RandomPart("coffee", codes, np.ones(y.size)), RandomPart("grind by coffee", codes, grind)]
    fit = fit_mixed_model(y, np.column_stack([np.ones(y.size), grind]), parts)
    assert not isinstance(fit, NoFit)
    found = spread_sources(fit, measured(0.01), slopes=frozenset({"grind by coffee"}), rng=np.random.default_rng(1))
    assert [source.name for source in found.sources] == ["coffee", BREW, MEASUREMENT]


def test_a_small_share_has_the_classical_interval() -> None:
    """The intraclass correlation of a balanced log: (F / F_q - 1) / (F / F_q - 1 + n), Searle (1971), section 9.9.

    A between-coffee variance near zero, where a scaled inverse chi-square of the variance itself runs off to 1.
    """
    rng = np.random.default_rng(4)
    for ratio in (1.2, 2.0, 12.0):
        y = drawn(rng, coffee_sd=1.0, brew_sd=1.0).reshape(COFFEES, BREWS)
        inside, means = y - y.mean(axis=1, keepdims=True), y.mean(axis=1) - y.mean()
        within = np.sum(inside**2) / (COFFEES * (BREWS - 1))
        means *= np.sqrt(ratio * within / BREWS / np.var(means, ddof=1))
        found = split((20 + means[:, None] + inside).ravel(), 1e-6).source("coffee")
        df = COFFEES - 1, COFFEES * (BREWS - 1)
        ends = [max(ratio / stats.f.ppf(q, *df) - 1, 0.0) for q in (0.975, 0.025)]
        low, high = (end / (end + BREWS) for end in ends)
        # 4,000 draws: a quantile at 2.5 % moves by about 0.02 of the width here.
        assert (found.low, found.high) == pytest.approx((low, high), abs=0.02), ratio
