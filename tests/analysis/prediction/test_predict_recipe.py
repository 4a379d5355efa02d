"""Properties of a prediction, its words, and everything that is refused."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import polars as pl
import pytest

from analysis.prediction.answer import predict_recipe
from analysis.prediction.model import of_brew, of_mean
from analysis.prediction.models import fit_recipe_models, one
from analysis.prediction.region import inside
from analysis.prediction.request import PredictRequest, Window
from analysis.prediction.result import Prediction
from analysis.prediction.words import prediction_sentences
from schemas.problem import ProblemError

FACTORS = ("grind_steps_finer", "water_temp_c", "beverage_ratio")
MIDDLE = {"grind_steps_finer": 0.0, "water_temp_c": 93.0, "beverage_ratio": 2.1}
WINDOW = Window(19.0, 21.0, 9.0, 10.0)


def _predict(facts: pl.DataFrame, **asked: object) -> Prediction:
    return predict_recipe(facts, PredictRequest(**asked), rng=np.random.default_rng(1))  # type: ignore[arg-type]


@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_intervals_widen_away_from_the_mean_one_brew_is_wider_and_a_new_coffee_wider_still(make_recipes, seed) -> None:
    facts = make_recipes(seed=seed)
    grid = {name: np.full(3, value) for name, value in MIDDLE.items()}
    centre = float(facts["grind_steps_finer"].to_numpy().mean())
    grid["grind_steps_finer"] = centre + np.array([0.0, 1.0, 2.0])
    widths = {}
    for whom in ("c0", None):
        models = fit_recipe_models(facts, PredictRequest(coffee=whom, new_coffee=whom is None, factors=FACTORS))
        for model, line in zip(models.models, models.lines(grid), strict=True):
            mean, brew = of_mean(model, line), of_brew(model, line)
            assert np.all(np.diff(mean.variance) > 0)
            assert np.all(brew.variance > mean.variance)
            widths[whom, model.response] = mean.variance
    for response in ("extraction_yield_pct", "cup_tds_pct"):
        assert np.all(widths[None, response] > widths["c0", response])


def test_a_factor_left_out_is_held_at_its_mean_and_said(recipes) -> None:
    found = _predict(recipes, settings={"grind_steps_finer": 1}, factors=FACTORS, coffee="c1")

    assert found.held == ("water_temp_c", "beverage_ratio")
    assert found.settings["water_temp_c"] == pytest.approx(recipes["water_temp_c"].mean())
    assert sum("(held at its mean)" in said for said in prediction_sentences(found)) == 1


def test_the_truth_of_quiet_brews_comes_back(make_recipes) -> None:
    """Noise of 0.02 points: 20 + level + 0.4 x 1 + 0.1 x 0.5 + 3 x 0.05, the level of c0 from the same draws."""
    facts = make_recipes(noise=0.02)
    own = facts.filter(pl.col("coffee_id") == "c0")
    level = (
        own["extraction_yield_pct"]
        - 20
        - 0.4 * own["grind_steps_finer"]
        - 0.1 * (own["water_temp_c"] - 93)
        - 3 * (own["beverage_ratio"] - 2.1)
    ).mean()
    settings = {"grind_steps_finer": 1.0, "water_temp_c": 93.5, "beverage_ratio": 2.15}

    found = _predict(facts, settings=settings, coffee="c0")

    assert found.expected[0].value == pytest.approx(20.6 + level, abs=0.02)
    assert found.expected[1].value == pytest.approx((20.6 + level) / 2.15, rel=0.01)


def test_every_sentence_has_its_n_interval_and_scope_and_promises_nothing(recipes) -> None:
    for whom, scope in (({"coffee": "c1"}, "for this coffee"), ({"new_coffee": True}, "for a new coffee like these")):
        said = prediction_sentences(_predict(recipes, settings=MIDDLE, window=WINDOW, **whom))
        text = " ".join(said)
        assert "from 60 espresso brews of 6 coffees" in text
        assert text.count("95 % interval") == 3
        assert text.count(scope) == 3
        assert not re.search(r"\bwill\b|\bcaused?\b|no effect|guarantee", text)


def test_few_coffees_are_said_to_say_little_of_a_new_one(make_recipes) -> None:
    few = _predict(make_recipes(), settings=MIDDLE, new_coffee=True)
    many = _predict(make_recipes(n=120, coffees=12), settings=MIDDLE, new_coffee=True)

    assert any(note.startswith("6 coffees say little") for note in few.notes)
    assert not any("say little" in note for note in many.notes)


def test_coffees_too_few_for_slopes_of_their_own_are_said_to_be_taken_alike(make_recipes) -> None:
    few = _predict(make_recipes(coffees=4), settings=MIDDLE, coffee="c1")
    alone = _predict(make_recipes(coffees=1), settings=MIDDLE)

    assert any(note.startswith("4 coffees are taken to answer a change alike") for note in few.notes)
    assert not any("simulated campaigns" in note for note in alone.notes)


def test_the_chance_is_higher_in_the_middle_of_the_window_than_at_its_edge(recipes) -> None:
    expected = _predict(recipes, settings=MIDDLE, coffee="c1").expected
    y, s = expected[0].value, expected[1].value
    chances = []
    for shift in (0.0, 1.0, 4.0):
        window = Window(y - 1 + shift, y + 1 + shift, s - 0.5, s + 0.5)
        landing = _predict(recipes, settings=MIDDLE, coffee="c1", window=window).landing
        assert landing is not None
        assert landing.low <= landing.chance <= landing.high
        chances.append(landing.chance)
    assert chances[0] > 0.85
    assert 0.3 < chances[1] < 0.6
    assert chances[2] < 0.01


def test_found_settings_lie_inside_the_region_hold_what_was_held_and_are_told_best_first(recipes) -> None:
    held = {"water_temp_c": 93.0}
    found = _predict(recipes, settings=held, coffee="c1", window=WINDOW, find=True, least_chance=0.3)

    assert found.found is not None
    best = found.found.best
    models = fit_recipe_models(recipes, PredictRequest(settings=held, coffee="c1"))
    assert inside(models.region, {name: best[name].to_numpy() for name in models.region.factors}).all()
    assert set(best["water_temp_c"]) == {93.0}
    assert best["chance"].is_sorted(descending=True)
    assert found.settings == {name: best[name][0] for name in found.settings}
    for row in best.iter_rows(named=True):
        again = _predict(
            recipes, settings={name: row[name] for name in found.settings}, coffee="c1", window=WINDOW
        ).landing
        assert again is not None
        assert again.chance == pytest.approx(row["chance"], abs=0.02)


def test_where_nothing_lands_it_says_so_and_shows_the_best(recipes) -> None:
    found = _predict(recipes, coffee="c1", window=Window(26, 27, 11, 12), find=True)

    assert found.found is not None
    assert found.found.n_land == 0
    assert re.match(r"None of [\d,]+ settings inside the region brewed lands", prediction_sentences(found)[0])


REFUSED = [
    ({"coffee": "c11"}, r"'c11' is not a coffee of these brews that can be used; did you mean c1\?"),
    ({}, "These brews are of 6 coffees, .*: say which with --coffee, or --new-coffee"),
    ({"coffee": "c1", "new_coffee": True}, "choose --coffee or --new-coffee"),
    ({"coffee": "c1", "settings": {"dose_g": 18.0}, "factors": FACTORS}, "dose_g is not in the model"),
    ({"coffee": "c1", "settings": {"grind_step_finer": 1.0}}, "did you mean grind_steps_finer"),
    ({"coffee": "c1", "settings": {"channeled": 0.5}}, "channeled is yes or no, not 0.5"),
    ({"coffee": "c1", "settings": {"water_temp_c": float("nan")}}, "water_temp_c must be a number"),
    ({"coffee": "c1", "settings": {"water_temp_c": 120.0}}, "outside the region brewed: water temperature was brewed"),
    (
        {"coffee": "c1", "window": Window(22.0, 18.0)},
        "window for yield goes from 22 to 18 %: its low end must be under",
    ),
    ({"coffee": "c1", "window": Window(strength_low=2, strength_high=1)}, "window for strength goes from 2 to 1 %"),
    ({"coffee": "c1", "find": True}, "Where should a brew land"),
    ({"coffee": "c1", "find": True, "window": WINDOW, "least_chance": 1.5}, "between 0 and 100 %"),
    ({"coffee": "c1", "find": True, "window": WINDOW, "settings": MIDDLE}, "nothing to search"),
    ({"coffee": "c1", "grinder": "g1", "factors": FACTORS[1:]}, "leave --grinder out"),
    ({"coffee": "c1", "factors": ("cup_tds_pct",)}, "is not a factor that can be used"),
]


@pytest.mark.parametrize(("asked", "said"), REFUSED)
def test_what_cannot_be_answered_is_refused_with_the_reason(recipes, asked, said) -> None:
    with pytest.raises(ProblemError, match=said):
        _predict(recipes, **asked)


def test_brews_that_cannot_answer_are_refused(make_recipes) -> None:
    facts = make_recipes()
    nothing = pl.lit(None, pl.Float64)
    with pytest.raises(ProblemError, match="cup_tds_pct is missing from all of 60 complete brews"):
        _predict(facts.with_columns(cup_tds_pct=nothing), coffee="c1")
    with pytest.raises(ProblemError, match="Too few brews"):
        _predict(facts.head(5), coffee="c1", factors=FACTORS)
    with pytest.raises(ProblemError, match="cup_tds_pct does not vary"):
        _predict(facts.with_columns(cup_tds_pct=9.5), coffee="c1")
    with pytest.raises(ProblemError, match="There are no brews yet"):
        _predict(facts.clear(), coffee="c1", factors=FACTORS)
    with pytest.raises(ProblemError, match="4 coffees cannot tell how far another one would differ: at least 5"):
        _predict(make_recipes(coffees=4), new_coffee=True)
    with pytest.raises(ProblemError, match="1 coffee cannot tell"):
        _predict(make_recipes(coffees=1), new_coffee=True)


def test_one_coffee_needs_no_name(make_recipes) -> None:
    assert _predict(make_recipes(coffees=1), settings=MIDDLE).coffee == "c0"


def test_a_dial_on_two_grinders_needs_the_grinder(make_recipes) -> None:
    facts = make_recipes(grinder_id=["flat"] * 30 + ["cone"] * 30)
    with pytest.raises(ProblemError, match=r"cone and flat each have a slope of their own.* say which with --grinder"):
        _predict(facts, settings=MIDDLE, coffee="c1")
    with pytest.raises(ProblemError, match="did you mean cone"):
        _predict(facts, settings=MIDDLE, coffee="c1", grinder="con")

    found = [_predict(facts, settings=MIDDLE, coffee="c1", grinder=name) for name in ("flat", "cone")]

    assert found[0].expected[0].value != found[1].expected[0].value
    own = facts.filter(pl.col("coffee_id") == "c1")["extraction_yield_pct"].mean()
    assert all(one.expected[0].value == pytest.approx(own, abs=1) for one in found)


def test_a_coffee_never_brewed_on_that_grinder_is_said_and_brew_ranges_stay_the_wider(make_recipes) -> None:
    """c1 was brewed on flat alone: on cone its level rests on two other coffees, and df are few."""
    facts = make_recipes(grinder_id=["flat", "flat", "cone"] * 20)
    found = _predict(facts, settings=MIDDLE, coffee="c1", grinder="cone")

    assert any("Coffee c1 was never brewed on cone" in note for note in found.notes)
    for one_of in found.expected:
        assert one_of.brew_low <= one_of.low < one_of.high <= one_of.brew_high


def test_a_coffee_not_brewed_there_itself_is_said(make_recipes) -> None:
    facts = make_recipes().filter((pl.col("coffee_id") != "c1") | (pl.col("grind_steps_finer") < 0.5))
    settings = MIDDLE | {"grind_steps_finer": 1.0}

    assert any("Coffee c1 itself was not brewed at that grind" in note for note in _predict(
        facts, settings=settings, coffee="c1").notes)  # fmt: skip
    assert not any("itself" in note for note in _predict(facts, settings=settings, coffee="c2").notes)


def test_models_that_disagree_with_the_mass_balance_are_named(make_recipes) -> None:
    """Ratios from 1.2 to 3.2: strength bends as 1 / ratio, and a line cannot follow."""
    wide = list(np.random.default_rng(2).uniform(1.2, 3.2, size=60).round(2))
    facts = make_recipes(noise=0.1)
    made = facts["extraction_yield_pct"] - 3 * (facts["beverage_ratio"] - 2.1) + 1.0 * (pl.Series(wide) - 2.1)
    facts = facts.with_columns(
        beverage_ratio=pl.Series(wide), extraction_yield_pct=made, cup_tds_pct=made / pl.Series(wide)
    )
    straight = _predict(facts, settings=MIDDLE, coffee="c1")
    bent = _predict(facts, settings=MIDDLE, coffee="c1", curves=("beverage_ratio",))

    assert any("--curve beverage_ratio" in note for note in straight.notes)
    gaps = [abs(found.expected[1].value * 2.1 - found.expected[0].value) for found in (straight, bent)]
    assert gaps[1] < gaps[0] / 3


def test_the_same_question_gets_the_same_answer(recipes) -> None:
    request = PredictRequest(settings=MIDDLE, coffee="c1", window=WINDOW)
    first, second = (predict_recipe(recipes, request, rng=np.random.default_rng(1)) for _ in range(2))

    assert replace(first, found=None) == replace(second, found=None)
    assert set(one(MIDDLE)) == set(FACTORS)
