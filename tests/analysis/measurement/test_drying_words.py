"""Strength by drying in sentences: with n, unit and interval, or refused with an upper bound."""

from __future__ import annotations

import pytest

from analysis.measurement.drying import dried_strengths
from analysis.measurement.drying_words import (
    OVEN_CAUTION,
    common_notes,
    dried_sentences,
    drying_sentences,
    own_notes,
    refusal_sentence,
)
from schemas.lab import DryingSettings, LabSettings
from tests.analysis.measurement.made_up_dryings import brews, dish, instruments, worksheet


def dried(*dishes, loss=1.0):
    frame = worksheet(*dishes)
    known = brews(**dict.fromkeys(frame["brew_id"].drop_nulls().unique(), "pour_over"))
    settings = LabSettings(drying=DryingSettings(volatile_loss_u_pct=loss))
    return dried_strengths(frame, instruments(), known, settings=settings)


def refusal(*dishes):
    (refused,) = dried(*dishes).refused
    return refusal_sentence(refused)


def test_a_strength_is_told_with_interval_dishes_oven_and_criterion():
    blank = dish(None, 1, 29.0, None, 29.0, is_blank=True)
    (brew,) = dried(dish("a", 1, 30.0, 35.0, 30.065, 30.065), dish("a", 2, 30.0, 35.0, 30.065, 30.065), blank).brews
    value, shares = dried_sentences(brew)
    # u: volatile 0.013, residue bias 20 * 0.0002 = 0.004, blank 20 * 0.0001 / sqrt(3) = 0.00115, display 0.00081,
    # sample bias 0.26 * 0.0002: 0.0137 together, times 1.96 = 0.0268.
    assert value == (
        "Brew a: 1.300 % dissolved solids by drying (95 % interval 1.273 to 1.327 %, coverage factor 1.96; 2 dishes "
        "dried in oven-1 at 105 C)."
    )
    assert shares == "Its uncertainty comes from volatile loss 90 %, weighing 9 %, blank dish 1 %."


def test_what_holds_for_several_brews_is_said_once():
    rows = [dish(brew, n, 30.0, 35.0, 30.065, 30.065) for brew in ("a", "b", "c") for n in (1, 2)]
    brews = dried(*rows, loss=None).brews
    alone = own_notes(brews)
    assert not any("what the oven drove off" in text for brew in brews for text in dried_sentences(brew, notes=alone))
    (said,) = [text for text in common_notes(brews) if "what the oven drove off" in text]
    assert said.startswith("All 3 brews: ")
    (one,) = dried(*rows[:2], loss=None).brews
    assert common_notes([one]) == ()
    assert dried_sentences(one, notes=own_notes([one])) == dried_sentences(one)


@pytest.mark.parametrize(
    ("dishes", "words"),
    [
        ([dish("a", 1, 30.0, 35.0, 30.07)], "its dish was weighed only once, so nothing shows that it was dry"),
        ([dish("a", 1, 30.0, 35.0, 30.08, 30.07)], "its dish was still losing mass at the last weighing"),
        ([dish("a", 1, 30.0, 35.0, 30.07, 30.08)], "heavier at the last weighing than before, so it took up moisture"),
        ([dish("a", n, 30.0, 35.0, 30.07) for n in (1, 2)], "each of its 2 dishes was weighed only once"),
        (
            [dish("a", 1, 30.0, 35.0, 30.07), dish("a", 2, 30.0, 35.0, 30.08, 30.07)],
            "1 dish still losing mass and 1 dish weighed once only",
        ),
    ],
)
def test_a_refusal_says_why_and_gives_the_upper_bound(dishes, words):
    said = refusal(*dishes)
    assert said.startswith("Brew a has no strength by drying in oven-1: ")
    assert words in said
    assert "at most 1.400 % dissolved solids" in said  # 0.07 g in 5 g


def test_a_dish_without_weights_is_refused_without_a_bound():
    said = refusal(dish("a", 1, None, 35.0, 30.07, 30.07))
    assert "dish_g is empty on every row" in said
    assert "at most" not in said
    assert "Check dish_g" in said


def test_the_worksheet_as_a_whole():
    first, without, scatter = drying_sentences(
        dried(
            dish("a", 1, 30.0, 35.0, 30.0650, 30.0650),
            dish("a", 2, 30.0, 35.0, 30.0663, 30.0663),
            dish("b", 1, 30.0, 35.0, 30.07),
        )
    )
    assert first.startswith("1 brew with a strength by drying (2 dishes); dry means that the last two weighings differ")
    assert without == "1 brew without a strength by drying; why stands below."
    # 1.300 and 1.326 %: sd 0.01838 over 1.313 = 1.40 %.
    assert "scatter by 1.40 % of the strength" in scatter
    assert "1 brew with two or more dishes, 1 degree of freedom, pour over)" in scatter


def test_dishes_left_out_and_what_is_not_counted_are_told():
    (brew,) = dried(dish("a", 1, 30.0, 35.0, 30.065, 30.065), dish("a", 2, 30.0, 35.0, 30.09), loss=None).brews
    said = " ".join(dried_sentences(brew))
    assert "Left out: 1 dish weighed once only." in said
    assert "Volatile_loss_u_pct" not in said
    assert "what the oven drove off besides water is not counted" in said


def test_the_caution_names_burns_the_manual_local_rules_and_no_unattended_drying():
    for word in ("burn", "maker's manual", "workplace's rules", "unattended"):
        assert word in OVEN_CAUTION
