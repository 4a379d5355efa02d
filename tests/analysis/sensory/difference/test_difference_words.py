from __future__ import annotations

import re
from collections.abc import Callable

import polars as pl
import pytest

from analysis.sensory.difference.answers import read_answers
from analysis.sensory.difference.judge import Judged, judge
from analysis.sensory.difference.known_answer import Strength
from analysis.sensory.difference.words import sentences
from schemas.problem import ProblemError

Make = Callable[..., pl.DataFrame]


def judged(frame: pl.DataFrame, **asked: float | None) -> Judged:
    return judge(read_answers(frame, strengths={}), **asked)


def said(frame: pl.DataFrame, **asked: float | None) -> str:
    return " ".join(sentences(judged(frame, **asked)))


def test_a_triangle_test_just_short_of_a_difference(right_and_wrong: Make) -> None:
    """14 of 30: P(X >= 14) = 0.0898, Clopper-Pearson 28.3 to 65.7 % (R), so (65.7 - 33.3) / 66.7 = 48.5 % can tell."""
    text = said(right_and_wrong(14, 30))

    assert "14 of 30 palates picked the odd cup (10 expected by guessing): p 0.090" in text
    assert "is not shown at the level 0.05 (15 would show it)" in text
    assert "Between 0 and 49 % of such palates tell them apart (95 % interval), the others guess" in text
    assert "Not shown is not alike" in text


def test_a_difference_shown(right_and_wrong: Make) -> None:
    text = said(right_and_wrong(20, 30, kind="duo_trio"))

    # P(X >= 20 | 30, 1/2) = 0.0494, the table's 20 of 30.
    assert "20 of 30 palates found the cup that matches the reference (15 expected by guessing): p 0.049" in text
    assert "so a difference is shown" in text


@pytest.mark.parametrize("right", [0, 14, 30])
@pytest.mark.parametrize("each", [1, 3, 30])
@pytest.mark.parametrize("margin", [None, 0.1, 0.9])
def test_alike_is_only_said_where_it_was_asked_and_passed(
    right_and_wrong: Make, right: int, each: int, margin: float | None
) -> None:
    one = judged(right_and_wrong(right, 30, each=each), similarity=margin)
    text = " ".join(sentences(one))

    assert not re.search(r"\b(same|identical|no difference|equal)\b", text)
    assert ("Similar within the margin" in text) == bool(one.similarity and one.similarity.passed)


def test_similarity_passes_by_the_exact_lower_tail(right_and_wrong: Make) -> None:
    """60 palates, 30 % who can tell, so 8/15 right: P(X <= 25) = 0.0468, P(X <= 26) = 0.0799 (binomial sums)."""
    passed = judged(right_and_wrong(25, 60), similarity=0.3)
    failed = judged(right_and_wrong(26, 60), similarity=0.3)

    assert passed.similarity is not None
    assert (passed.similarity.passed, passed.similarity.allowed) == (True, 25)
    assert "fewer than 30 % of such palates tell them apart (one-sided limit 30 %, level 0.05)" in " ".join(
        sentences(passed)
    )
    assert failed.similarity is not None
    assert not failed.similarity.passed
    assert "Not shown to be similar: up to 32 %" in " ".join(sentences(failed))


def test_far_fewer_than_guessing_points_at_the_key(right_and_wrong: Make) -> None:
    one = judged(right_and_wrong(3, 30), similarity=0.5)
    text = " ".join(sentences(one))

    # pbinom(3, 30, 1/3) = 0.0033
    assert "fewer than guessing gives, and so few are rare (p 0.003): check the key" in text
    assert one.able is None
    assert one.similarity is not None
    assert not one.similarity.passed


def test_all_wrong_and_a_little_below_guessing(right_and_wrong: Make) -> None:
    assert "check the key" in said(right_and_wrong(0, 5))
    assert "That is fewer than guessing gives on average." in said(right_and_wrong(9, 30))


def test_all_right_leaves_the_distance_open(right_and_wrong: Make) -> None:
    text = said(right_and_wrong(12, 12))

    assert re.search(r"Between 60 and 100 % of such palates .*; d-prime over \d", text)


def test_one_answer_can_show_nothing(right_and_wrong: Make) -> None:
    text = said(right_and_wrong(1, 1))

    assert "1 of 1 palate picked the odd cup (0.3 expected by guessing): p 0.33." in text
    assert "So few answers could not show a difference" in text


def test_one_palate_thirty_times_speaks_for_itself_only(right_and_wrong: Make) -> None:
    one = judged(right_and_wrong(29, 30, each=30), similarity=0.9)
    text = " ".join(sentences(one))

    assert "29 of 30 answers by one palate picked the odd cup" in text
    assert "This palate told them apart in" in text
    assert "What palates in general do is not said with 1 palate" in text
    assert one.in_general is None
    assert "for this palate alone" in text


def test_repeats_widen_the_interval_and_keep_the_null_test(right_and_wrong: Make) -> None:
    once, thrice = judged(right_and_wrong(21, 30)), judged(right_and_wrong(21, 30, each=3))

    assert once.p == thrice.p
    assert once.in_general is not None
    assert thrice.in_general is not None
    assert thrice.in_general.high - thrice.in_general.low > 1.3 * (once.in_general.high - once.in_general.low)
    assert once.own == thrice.own
    assert "beta-binomial" in " ".join(sentences(thrice))


def test_a_preference_has_no_right_answer(picks: Make) -> None:
    text = said(picks(22, 30, question="Which do you prefer?"))

    # 2 * P(X >= 22 | 30, 1/2) = 0.0161
    assert 'picked A1, asked "Which do you prefer?" (15 if split evenly): p 0.016, two-sided' in text
    assert "95 % interval 54 to 88 %" in text
    assert "tell them apart" not in text
    assert "guess" not in text
    with pytest.raises(ProblemError, match="has no right answer, so it cannot show"):
        said(picks(22, 30), similarity=0.3)


def test_palates_that_keep_to_what_they_like_do_not_count_thrice(picks: Make) -> None:
    """8 of 10 palates always pick A1: two-sided exact p of 8 of 10 is 0.109, of 24 of 30 it is 0.0014."""
    one = judged(picks(24, 30, each=3))

    assert one.p == pytest.approx(0.109375)
    assert one.p_own == pytest.approx(0.00143, abs=5e-6)
    assert not one.shown


def test_four_palates_can_never_show_a_lean(picks: Make) -> None:
    """All turned one way or the other: 2 of 16."""
    one = judged(picks(12, 12, each=3))

    assert one.p == 0.125
    assert "So few answers could not show a lean to one cup" in " ".join(sentences(one))


def test_uneven_orders_and_a_favoured_place_show_no_lean(picks: Make, from_r: dict[tuple[str, str], float]) -> None:
    """A1 first 25 times and picked 20 of them, second 5 times and picked 2: the first cup 23 of 30, by any name."""
    orders = ["AB"] * 20 + ["BA"] * 2 + ["AB"] * 5 + ["BA"] * 3
    one = judged(picks(22, 30, orders=" ".join(orders)))
    text = " ".join(sentences(one))

    assert one.p < 0.05
    assert not one.shown
    assert one.places is not None
    assert one.places.free_p == pytest.approx(from_r["fisher_p", "20 of 25 and 3 of 5"], rel=1e-9)
    assert "p 0.016, two-sided, but the order of serving may have done it." in text
    assert "The cup served first was picked 23 of 30 times (p 0.005); the place was picked, not only the cup." in text
    assert "A1 stood first 25 times and second 5 times; with both places weighing the same the share is 60 %" in text


def test_a_favoured_place_does_not_hide_a_lean_that_even_orders_show(picks: Make) -> None:
    """Served 15 times each way, A1 picked in 14 and in 9: the places weigh the same."""
    orders = ["AB"] * 14 + ["BA"] * 9 + ["AB"] * 1 + ["BA"] * 6
    one = judged(picks(23, 30, orders=" ".join(orders)))

    assert one.places is not None
    assert one.places.balanced
    assert one.shown
    assert "Orders were not balanced" not in " ".join(sentences(one))


def test_the_stronger_cup_is_named_with_its_readings(picks: Make) -> None:
    strengths = {"A1": Strength(1.50, 0.02), "B1": Strength(1.30, 0.02)}
    one = judge(read_answers(picks(22, 30, question="Which is stronger?"), strengths=strengths))
    text = " ".join(sentences(one))

    assert "22 of 30 palates picked the stronger cup (15 expected by guessing): p 0.008, so a difference" in text
    assert "Stronger by the readings: A1 1.50 % TDS, B1 1.30 % TDS." in text


def test_levels_and_margins_out_of_range_are_refused(right_and_wrong: Make) -> None:
    for asked, why in (({"level": 5.0}, "is no level"), ({"similarity": 20.0}, "20 % is written 0.2")):
        with pytest.raises(ProblemError, match=why):
            said(right_and_wrong(5, 9), **asked)


def test_several_pairs_are_pooled_and_said_so(picks: Make) -> None:
    frame = pl.concat([picks(8, 10), picks(0, 10, brew_id_a="B2", brew_id_b="C2", chosen_brew_id="B2")])
    strengths = {
        "A1": Strength(1.5, 0.02),
        "B1": Strength(1.3, 0.02),
        "B2": Strength(1.2, 0.02),
        "C2": Strength(1.4, 0.02),
    }
    asked = frame.with_columns(question=pl.lit("Which is stronger?"))
    picked, right = judged(frame), judge(read_answers(asked, strengths=strengths))

    assert "18 of 20 answers by 10 palates picked the brew in the column brew_id_a" in " ".join(sentences(picked))
    # In the second pair the stronger cup is the other column's: 8 right and 10 wrong.
    assert right.hits == 8
    assert "Pooled over 2 pairs of brews: some pairs may lie farther apart than others." in " ".join(sentences(right))


def test_what_was_left_out_and_what_could_not_be_read_is_said(make_choices: Make) -> None:
    orders = ("AAB", "BAA", "ABA", "served as it came", "ABB")
    rows = [{"assessor": f"p{i}", "correct": i < 2, "serving_order": order} for i, order in enumerate(orders)]
    text = said(make_choices([*rows, {"assessor": "p9"}]))

    assert "1 answer without a serving order that can be read, such as AAB." in text
    assert "The odd cup stood first 2 times (1 found), second 1 time (0 found) and third 1 time (1 found)" in text
    assert text.endswith("Left out: 1 row (no answer recorded).")


def test_a_paired_test_without_orders_says_what_cannot_be_seen(picks: Make) -> None:
    assert "cannot be seen: no serving order is on record" in said(picks(6, 9))
    unreadable = said(picks(2, 2, orders="412 903"))
    assert "2 answers without a serving order that can be read, such as AB." in unreadable


def test_one_order_only_leaves_cup_and_place_entangled(picks: Make) -> None:
    """A1 always first and picked 28 of 30 times: cup or place, nobody can say."""
    one = judged(picks(28, 30, orders=" ".join(["AB"] * 30)))

    assert one.places is not None
    assert (one.places.free_p, one.places.even_share) == (None, None)
    assert not one.shown
    assert "A1 stood first 30 times and second 0 times." in " ".join(sentences(one))


def test_unlike_palates_are_told_without_a_name(right_and_wrong: Make, picks: Make) -> None:
    """Eight palates always right, two always wrong: somebody can tell, and how many in general is open."""
    told = said(right_and_wrong(24, 30, each=3, kind="duo_trio"))
    liked = said(picks(24, 30, each=3))

    assert "Palates differ: some tell them apart far more often than others" in told
    assert "So some palate can tell; how often palates in general can is open." in told
    assert "Palates differ: they pick unlike cups" in liked
    assert "95 % interval for palates like these" in liked
    # A palate turned round keeps all its answers together: 0.109 against 0.0014 of all answers.
    assert "p 0.11, two-sided" in liked
    assert "of these very palates alone: p 0.001" in liked


def test_a_question_about_strength_that_readings_cannot_answer_is_a_choice(picks: Make) -> None:
    text = said(picks(22, 30, question="Which is stronger?"))

    assert "Which cup is right cannot be told: A1 has no strength on record." in text
    assert "p 0.016, two-sided" in text
