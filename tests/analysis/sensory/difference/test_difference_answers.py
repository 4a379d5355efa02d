from __future__ import annotations

from collections.abc import Callable

import polars as pl
import pytest

from analysis.sensory.difference.answers import read_answers
from analysis.sensory.difference.known_answer import Strength, asks_strength, right_brew
from analysis.sensory.difference.places import look_at_places
from schemas.problem import ProblemError

Make = Callable[..., pl.DataFrame]
FAR = {"A1": Strength(1.50, 0.02), "B1": Strength(1.30, 0.02)}
NEAR = {"A1": Strength(1.34, 0.02), "B1": Strength(1.30, 0.02)}


def test_rows_that_cannot_count_are_left_out_and_counted(make_choices: Make) -> None:
    rows = [{"assessor": f"p{i}", "correct": i < 2} for i in range(3)]
    rows += [{"assessor": "p8"}, {"assessor": "p9", "brew_id_b": "A1", "correct": True}]

    answers = read_answers(make_choices(rows), strengths={})

    assert answers.rows.height == 3
    assert answers.left_out == {"no answer recorded": 1, "both cups are one brew": 1}


def test_a_chosen_brew_that_is_neither_is_left_out(picks: Make) -> None:
    frame = pl.concat([picks(2, 3), picks(1, 1, chosen_brew_id="C9"), picks(1, 1, chosen_brew_id=None)])

    answers = read_answers(frame, strengths={})

    assert answers.rows.height == 3
    assert answers.left_out == {"the chosen brew is neither of the two": 1, "no cup chosen": 1}


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ([{"assessor": "a"}], "none of 1 answer can be used \\(1 row: no answer recorded\\)"),
        (
            [{"assessor": "a", "kind": kind, "correct": True} for kind in ("triangle", "duo_trio")],
            "1 triangle and 1 duo-trio answers under one name",
        ),
        (
            [
                {"assessor": "a", "kind": "paired", "chosen_brew_id": "A1", "question": question}
                for question in ("Sweeter?", "More body?")
            ],
            "2 questions under one name",
        ),
        (
            [
                {"assessor": name, "kind": "paired", "chosen_brew_id": "A1", "correct": correct}
                for name, correct in (("a", True), ("b", False))
            ],
            "by `correct` both A1 and B1 are the right answer",
        ),
    ],
)
def test_what_is_no_one_test_is_refused(rows: list[dict[str, object]], said: str, make_choices: Make) -> None:
    with pytest.raises(ProblemError, match=said):
        read_answers(make_choices(rows), strengths={})


def test_one_question_written_in_two_ways_is_one_question(picks: Make) -> None:
    frame = pl.concat([picks(1, 1, question="Which is sweeter?"), picks(1, 1, question="which is sweeter ")])

    assert read_answers(frame, strengths={}).question == "Which is sweeter?"


@pytest.mark.parametrize(
    ("question", "asks"),
    [
        ("Which is stronger?", 1),
        ("Which of the two cups tastes weaker", -1),
        ("Stronger", 1),
        ("Which has the stronger acidity?", 0),
        ("Is the stronger one better?", 0),
        ("Which do you prefer?", 0),
        (None, 0),
    ],
)
def test_only_a_plain_question_about_strength_asks_for_it(question: str | None, asks: int) -> None:
    assert asks_strength(question) == asks


def test_readings_decide_which_cup_is_right(picks: Make) -> None:
    stronger = read_answers(picks(7, 10, question="Which is stronger?"), strengths=FAR)
    weaker = read_answers(picks(7, 10, question="Which is weaker?"), strengths=FAR)

    assert (stronger.aim, stronger.task, int(stronger.rows["hit"].sum())) == ("right", "picked the stronger cup", 7)
    assert (weaker.task, int(weaker.rows["hit"].sum())) == ("picked the weaker cup", 3)


def test_readings_within_their_uncertainty_decide_nothing(picks: Make) -> None:
    """0.04 apart; 2 * sqrt(0.02**2 + 0.02**2) = 0.057."""
    answers = read_answers(picks(7, 10, question="Which is stronger?"), strengths=NEAR)

    assert answers.aim == "pick"
    assert "within their uncertainty of each other (A1 1.34 % TDS, B1 1.30 % TDS)" in answers.notes[0]
    assert right_brew("A1", "C1", asks=1, strengths=NEAR).said == "C1 has no strength on record"


def test_readings_of_unknown_uncertainty_decide_and_say_so() -> None:
    found = right_brew("A1", "B1", asks=1, strengths={"A1": Strength(1.2, None), "B1": Strength(1.3, 0.02)})

    assert (found.brew_id, found.said) == ("B1", "A1 1.20 % TDS, B1 1.30 % TDS, uncertainty not known")
    assert right_brew("A1", "A1", asks=1, strengths=FAR).brew_id is None


def test_columns_turned_round_are_one_pair(picks: Make) -> None:
    frame = pl.concat([picks(3, 4), picks(3, 4, brew_id_a="B1", brew_id_b="A1")])

    answers = read_answers(frame, strengths={})

    assert answers.pairs == (("A1", "B1"),)
    assert int(answers.rows["hit"].sum()) == 6


def test_the_place_picked_is_found_whichever_column_names_the_brew(picks: Make) -> None:
    """Everybody picks the first cup: A1 in AB, B1 in BA; with the columns turned round AB puts B1 first."""
    straight = picks(3, 5, orders="AB AB AB BA BA")
    turned = picks(1, 2, orders="BA AB", brew_id_a="B1", brew_id_b="A1")

    places = look_at_places(read_answers(pl.concat([straight, turned]), strengths={}))

    assert places is not None
    assert (places.first, places.first_n) == (7, 7)
    assert [(one.place, one.hits, one.n) for one in places.served] == [("first", 4, 4), ("second", 0, 3)]
    assert places.even_share == 0.5
    assert places.balanced


def test_orders_that_cannot_be_read_are_counted(make_choices: Make) -> None:
    orders = ("AAB", "a-b-a", "BAA", "412 903 118", None)
    rows = [{"assessor": f"p{i}", "correct": i < 2, "serving_order": order} for i, order in enumerate(orders)]

    places = look_at_places(read_answers(make_choices(rows), strengths={}))

    assert places is not None
    assert places.unread == 2
    assert [(one.place, one.hits, one.n) for one in places.served] == [
        ("first", 0, 1),
        ("second", 1, 1),
        ("third", 1, 1),
    ]
    assert not places.balanced
