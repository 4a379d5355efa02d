"""Errors of measuring a factor: said where they bias its slope, and the slope not stated where they make it."""

from __future__ import annotations

import re
from collections.abc import Callable

import numpy as np
import polars as pl
import pytest

from analysis.effects.estimate import estimate_effects
from analysis.effects.request import EffectsRequest
from analysis.outcomes.of_effects import Measuring
from schemas.lab import LabSettings

Make = Callable[..., pl.DataFrame]
SCALES = pl.DataFrame({"instrument_id": ["s-1"], "resolution": [0.1]})
REQUEST = EffectsRequest("extraction_yield_pct", ("grind_steps_finer", "beverage_ratio"))


def weighed(make_trial: Make, *, spread: float, error_g: float) -> pl.DataFrame:
    """Brews whose yield does not depend on the ratio, weighed with an error that counts into both."""
    facts = make_trial(seed=21, coffees=1, n=80)
    rng = np.random.default_rng(22)
    beverage = 18 * (2.1 + rng.normal(0, spread, 80))
    strength = 0.1905 * 18 / beverage  # 19.05 % of the dose whatever the beverage
    read = beverage + rng.normal(0, error_g, 80)
    return facts.with_columns(
        beverage_ratio=pl.Series(read / 18), extraction_yield_pct=pl.Series(100 * strength * read / 18)
    )


def said(facts: pl.DataFrame, **default_u: float) -> str:
    measuring = Measuring(SCALES, LabSettings(default_u=default_u))
    result = estimate_effects(facts, REQUEST, measuring=measuring)
    return next(text for text in result.sentences if "beverage per dose" in text)


def test_a_slope_that_weighing_made_is_not_stated(make_trial: Make) -> None:
    text = said(weighed(make_trial, spread=0.02, error_g=1.0), beverage_g=1.0)
    assert "not stated" in text
    assert "more than half of the effect" in text or "hardly varied" in text
    assert "95 %" not in text


def test_a_small_bias_is_said_with_its_size(make_trial: Make) -> None:
    facts = make_trial(seed=21, coffees=1, n=80)
    text = said(facts, beverage_g=1.5)
    assert "95 % interval" in text
    assert "without them it would be about" in text
    # An error of 1.5 g in 18 g is 0.083 g/g; the ratio's variance is what grind leaves of it, on 78 degrees of freedom.
    grind, ratio = (facts[name].to_numpy() for name in ("grind_steps_finer", "beverage_ratio"))
    line = np.polyfit(grind, ratio, 1)
    left = float(np.sum((ratio - np.polyval(line, grind)) ** 2)) / 78
    told = re.search(r"(\d+) % of the spread", text)
    assert told is not None
    assert int(told[1]) == pytest.approx(100 * (1.5 / 18) ** 2 / left, abs=1)  # printed as a whole number


def test_nothing_is_said_where_the_error_is_too_small_to_matter(make_trial: Make) -> None:
    text = said(make_trial(seed=21, coffees=1, n=80), beverage_g=0.05)
    assert "Errors of measuring" not in text
    assert "weighing noise" not in text


def test_a_badly_read_temperature_answers_too_small(make_trial: Make) -> None:
    request = EffectsRequest("extraction_yield_pct", ("water_temp_c",))
    facts = make_trial(seed=23, coffees=1, n=80)
    measuring = Measuring(SCALES, LabSettings(default_u={"water_temp_c": 0.75}))
    text = estimate_effects(facts, request, measuring=measuring).sentences[0]
    # Spread of the temperature 1.5 C, error 0.75 C: a quarter of its variance, so the slope is about a quarter small.
    spread = float(facts["water_temp_c"].var())  # type: ignore[arg-type]
    assert f"{100 * 0.75**2 / spread:.0f} % of the spread" in text


@pytest.mark.parametrize("factors", [("grind_steps_finer",), ("channeled",)])
def test_what_is_not_measured_has_no_error_of_measuring(make_trial: Make, factors: tuple[str, ...]) -> None:
    measuring = Measuring(SCALES, LabSettings(default_u={"beverage_g": 1.0}))
    request = EffectsRequest("extraction_yield_pct", factors)
    facts = make_trial(seed=24)
    with_it = estimate_effects(facts, request, measuring=measuring).sentences
    assert with_it == estimate_effects(facts, request).sentences


def test_a_slope_not_stated_is_not_stated_coffee_by_coffee_either(make_trial: Make) -> None:
    """Yield and ratio share an error of 1 g: both coffees' slopes are that error's, as the common one is."""
    facts = weighed(make_trial, spread=0.02, error_g=1.0)
    facts = facts.with_columns(coffee_id=pl.Series(["c1", "c2"] * 40))
    measuring = Measuring(SCALES, LabSettings(default_u={"beverage_g": 1.0}))
    result = estimate_effects(facts, REQUEST, measuring=measuring)

    assert not any("beverage per dose" in text for text in result.coffee_sentences)
    assert any("finer" in text for text in result.coffee_sentences)
