"""Brews nobody looked at: how they differ, and what they could change."""

import numpy as np
import polars as pl
import pytest

from analysis.channeling.bounds import rate, unseen_bounds
from analysis.channeling.matched import MatchedEffect, matched_effect
from analysis.channeling.seen import NotShown
from analysis.channeling.unseen import (
    kind_gaps,
    measure_gaps,
    standardised_difference,
    standardised_share_difference,
)


def bounds_of(facts):
    return unseen_bounds(facts, method="espresso")


def test_the_rate_has_wilsons_interval():
    """Newcombe (1998), Statistics in Medicine 17:857, table I, method 3: 81 of 263 and 15 of 148."""
    first, second = rate(81, 263), rate(15, 148)

    assert (first.low_pct, first.high_pct) == pytest.approx((25.53, 36.62), abs=0.005)
    assert (second.low_pct, second.high_pct) == pytest.approx((6.24, 16.05), abs=0.005)


def test_the_standardised_difference_is_the_textbook_one():
    """Austin (2009): difference of means over the root of the mean of the variances, by hand."""
    first, second = np.array([1.0, 2, 3]), np.array([4.0, 6, 8, 10])

    assert standardised_difference(first, second) == pytest.approx((2 - 7) / np.sqrt((1 + 20 / 3) / 2))
    assert standardised_difference(first[:1], second) is None
    assert standardised_difference(np.ones(3), np.ones(3)) is None


def test_two_levels_give_the_standardised_difference_of_a_share():
    """Austin (2009): (p1 - p2) / sqrt((p1 q1 + p2 q2) / 2), here 0.2 against 0.5."""
    found = standardised_share_difference(np.array([2.0, 8.0]), np.array([10.0, 10.0]))

    assert found == pytest.approx(0.3 / np.sqrt((0.16 + 0.25) / 2))


def test_the_distance_of_shares_does_not_depend_on_their_order():
    first, second = np.array([2.0, 8.0, 5.0]), np.array([10.0, 10.0, 1.0])

    assert standardised_share_difference(first, second) == pytest.approx(
        standardised_share_difference(first[[2, 0, 1]], second[[2, 0, 1]])
    )


def test_nothing_is_bounded_where_every_brew_was_looked_at(make_log):
    assert bounds_of(make_log(seed=1)) is None


def test_everything_is_worked_out_again_with_the_rest_clean_and_channeled(make_log):
    facts = make_log(seed=5, unseen=0.25)
    bounds = bounds_of(facts)
    unseen, channeled = facts["channeled"].null_count(), int(facts["channeled"].sum())

    assert bounds.n_not_looked_at == unseen
    assert bounds.rate == rate(channeled, 60 - unseen)
    assert bounds.rate_if_clean == rate(channeled, 60)
    assert bounds.rate_if_channeled == rate(channeled + unseen, 60)
    assert bounds.effect == matched_effect(facts, method="espresso")
    for filled, effect in ((False, bounds.effect_if_clean), (True, bounds.effect_if_channeled)):
        again = facts.with_columns(pl.col("channeled").fill_null(value=filled))
        assert effect == matched_effect(again, method="espresso")


def strongly(make_facts, seen, yields):
    return make_facts(len(seen), recipe_id=["r1"] * len(seen), channeled=seen, extraction_yield_pct=yields)


WOBBLE = [0.1, -0.1, 0.2, -0.2, 0.0, 0.1, -0.1]


def test_a_strong_difference_holds_whatever_the_rest_were(make_facts):
    seen = [True] * 7 + [False] * 7 + [None]
    yields = [17 + w for w in WOBBLE] + [20 + w for w in WOBBLE] + [18.5]

    assert bounds_of(strongly(make_facts, seen, yields)).turn == "holds"


def test_many_brews_not_looked_at_could_turn_it(make_facts):
    seen = [True] * 7 + [False] * 7 + [None] * 14
    yields = [18 + w for w in WOBBLE] + [19 + w for w in WOBBLE] + [20.5 + 2 * w for w in WOBBLE * 2]

    assert bounds_of(strongly(make_facts, seen, yields)).turn == "could turn"


def test_an_unsettled_difference_cannot_be_turned(make_facts):
    seen = [True] * 7 + [False] * 7 + [None]
    yields = [19 + w for w in WOBBLE] + [19 - w for w in WOBBLE] + [19.0]

    assert bounds_of(strongly(make_facts, seen, yields)).turn == "not settled anyway"


def test_without_a_comparison_nothing_is_said_of_turning(make_facts):
    bounds = bounds_of(strongly(make_facts, [None] * 12, [19 + k / 10 for k in range(12)]))

    assert bounds.rate is None
    assert isinstance(bounds.effect, NotShown)
    assert isinstance(bounds.effect_if_clean, NotShown)
    assert bounds.turn == "cannot be told"


def test_brews_not_looked_at_are_set_beside_the_others(make_facts):
    n = 40
    unseen = np.arange(n) < 15
    rng = np.random.default_rng(1)
    facts = make_facts(
        n,
        channeled=[None if hidden else bool(k % 4 == 0) for k, hidden in enumerate(unseen)],
        extraction_yield_pct=np.where(unseen, 17.0, 20.0) + rng.normal(scale=0.5, size=n),
        dose_g=18 + rng.normal(scale=0.1, size=n),
        operator=["Bo" if hidden else ("Ada", "Bo")[k % 5 == 0] for k, hidden in enumerate(unseen)],
    )

    measures = {gap.name: gap for gap in measure_gaps(facts, method="espresso")}
    (operator,) = kind_gaps(facts, method="espresso")

    assert list(measures) == ["extraction_yield_pct", "dose_g"]
    assert measures["extraction_yield_pct"].beyond_chance
    assert measures["extraction_yield_pct"].standardised < -4
    assert not measures["dose_g"].beyond_chance
    assert (operator.level, operator.unlooked, operator.of_level) == ("Bo", 15, 20)
    assert operator.beyond_chance


def test_a_matched_effect_stands_in_every_bound(make_log):
    bounds = bounds_of(make_log(seed=9, n=120, unseen=0.1))

    assert all(
        isinstance(effect, MatchedEffect)
        for effect in (bounds.effect, bounds.effect_if_clean, bounds.effect_if_channeled)
    )
