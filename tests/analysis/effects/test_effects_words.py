"""Numbers and sentences as a person reads them."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.effects.design import Term
from analysis.effects.factors import FACTORS, difference_unit, plural
from analysis.effects.request import EffectsRequest
from analysis.effects.words import decimals, model_words, plain, sentence, signed
from schemas.columns import COLUMNS

YIELD = "extraction_yield_pct"


def _say(factors: tuple[str, ...], estimate: float, low: float, high: float, **more) -> str:
    name = more.pop("name", ":".join(factors))
    per = more.pop("per", "")
    term = Term(name, factors, more.pop("grinder", None), 1.0, per, np.ones(1, dtype=bool))
    request = EffectsRequest(YIELD, factors, steps=more.pop("steps", {}))
    return sentence(
        term,
        request,
        estimate=estimate,
        low=low,
        high=high,
        unit="points",
        n_brews=88,
        of="6 coffees",
        scope="for coffees like these",
        **more,
    )


def test_the_example_sentence():
    assert _say(("grind_steps_finer",), 0.42, 0.30, 0.54) == (
        "one step finer: +0.42 points, 95 % interval 0.30 to 0.54, 88 brews of 6 coffees, for coffees like these"
    )


def test_channeled_and_an_interval_with_zero_in_it():
    assert _say(("channeled",), -1.9, -2.4, -1.4) == (
        "channeled against clean: -1.9 points, 95 % interval -2.4 to -1.4, "
        "88 brews of 6 coffees, for coffees like these"
    )
    assert _say(("water_temp_c",), 0.1, -0.05, 0.25) == (
        "1 C hotter: +0.10 points, 95 % interval -0.05 to 0.25, 88 brews of 6 coffees, for coffees like these; "
        "the interval includes zero, so these brews do not settle the direction"
    )


def test_curves_crosses_and_grinders():
    square = {"name": "grind_steps_finer^2", "per": "(1 step) squared on g2", "grinder": "g2"}

    assert _say(("grind_steps_finer",) * 2, -0.05, -0.08, -0.02, **square) == (
        "curve of grind on g2: -0.050 points per (1 step) squared, 95 % interval -0.080 to -0.020, "
        "88 brews of 6 coffees, for coffees like these; the line bends down"
    )
    assert _say(("grind_steps_finer",) * 2, 0.01, -0.02, 0.04, **square).endswith(
        "; the interval includes zero, so these brews do not settle whether it bends"
    )
    assert _say(("grind_steps_finer", "water_temp_c"), 0.03, 0.01, 0.05, steps={"water_temp_c": 2.0}) == (
        "one step finer and 2 C hotter together: +0.030 points beyond what each adds alone, "
        "95 % interval 0.010 to 0.050, 88 brews of 6 coffees, for coffees like these"
    )


@pytest.mark.parametrize(
    ("low", "high", "places"),
    [(0.30, 0.54, 2), (-2.4, -1.4, 1), (0.003, 0.54, 3), (-0.0004, 0.5, 4), (18.7, 19.1, 2), (-30, 400, 0), (5, 5, 2)],
)
def test_decimals_follow_the_interval(low, high, places):
    assert decimals(low, high) == places


def test_signs():
    assert [signed(value, 1) for value in (0.42, -0.42, 0.01, -0.01)] == ["+0.4", "-0.4", "0.0", "0.0"]
    assert plain(-0.0001, 2) == "0.00"


def test_every_factor_has_words_and_a_unit():
    for name, factor in FACTORS.items():
        assert COLUMNS[name].kind in ("number", "integer", "boolean")
        assert factor.change_words(2.0)
        assert factor.is_yes_no or factor.per(2.0) != "2 "
        assert "{" not in factor.change_words(1.0)


def test_plurals_and_units():
    assert [plural("coffee", 1), plural("study", 2), plural("brew", 0)] == ["1 coffee", "2 studies", "0 brews"]
    assert [difference_unit(name) for name in (YIELD, "brew_time_s", "beverage_ratio")] == ["points", "s", "g/g"]


def test_shared_weights_and_common_errors_stand_beside_the_number():
    assert _say(("beverage_ratio",), 0.3, 0.2, 0.4, shared=("beverage_g",)).endswith(
        "88 brews of 6 coffees, for coffees like these; both sides share weights, so part of it may be weighing noise"
    )
    assert _say((), 19.7, 19.4, 20.0) == (
        "at the factors' means: 19.70 points, 95 % interval 19.40 to 20.00, "
        "88 brews of 6 coffees, for coffees like these; "
        "an error common to all readings is not in it"
    )
    time = EffectsRequest("brew_time_s", ("water_temp_c",))
    level = Term("intercept", (), None, None, "", np.ones(1, dtype=bool))

    assert sentence(
        level, time, estimate=28, low=27, high=29, unit="s", n_brews=9, of="1 coffee", scope="for this coffee"
    ) == ("at the factors' means: 28.0 s, 95 % interval 27.0 to 29.0, 9 brews of 1 coffee, for this coffee")


def test_a_model_whose_levels_all_came_out_as_zero_names_what_is_left():
    from types import SimpleNamespace

    fit = SimpleNamespace(kind="mixed", components={}, dropped=("coffee",))
    groups = SimpleNamespace(kind="mixed", count=4)
    words = model_words(
        fit,
        groups,
        EffectsRequest("extraction_yield_pct", ("dose_g",)),
        group="coffee",
        method="espresso",
        several=False,
    )
    assert "mixed model, likeness of neighbouring brews (REML)" in words
