"""Planned and added questions; the adjusted values by hand from Holm (1979) and Benjamini & Hochberg (1995)."""

from __future__ import annotations

import polars as pl
import pytest

from analysis.study.questions import ask_questions
from schemas.columns import COLUMNS
from schemas.dtypes import frame_schema
from schemas.reports import EFFECT_COLUMNS
from schemas.study import Study, StudyFactor

SCHEMA = frame_schema([COLUMNS[name] for name in EFFECT_COLUMNS])
STUDY = Study(
    "map",
    "?",
    "extraction_yield_pct",
    factors=(StudyFactor("grind_steps_finer", curve=True), StudyFactor("water_temp_c")),
    crosses=("water_temp_c:grind_steps_finer",),
)


def effects(*terms: tuple[str, float | None], response: str = "extraction_yield_pct") -> pl.DataFrame:
    rows = [{"response": response, "term": term, "step": 1.0, "per": "1", "p_value": p} for term, p in terms]
    rows.append(
        {"response": response, "term": "intercept", "step": None, "per": "at the factors' means", "p_value": 0.0}
    )
    return pl.DataFrame([dict.fromkeys(EFFECT_COLUMNS) | row for row in rows], schema=SCHEMA)


TABLE = effects(
    ("grind_steps_finer", 0.01),
    ("water_temp_c", 0.03),
    ("channeled", 0.02),
    ("grind_steps_finer^2", 0.2),
    ("water_temp_c^2", 0.04),
    ("dose_g", 0.9),
)


def test_planned_terms_are_adjusted_by_holm_and_the_others_by_benjamini_hochberg() -> None:
    found = ask_questions(TABLE, STUDY)

    # Holm over .01 .03 .2: 3 x .01, 2 x .03, .2. Benjamini-Hochberg over .02 .04 .9: 3 x .02, 1.5 x .04, .9.
    assert found.table.columns == ["term", "per", "planned", "p_value", "p_adjusted", "how"]
    assert found.table["planned"].to_list() == [True, True, False, True, False, False]
    assert found.table["p_adjusted"].to_list() == pytest.approx([0.03, 0.06, 0.06, 0.2, 0.06, 0.9])
    assert found.table["how"].unique(maintain_order=True).to_list() == [
        "Holm over 3 questions",
        "Benjamini-Hochberg over 3 questions",
    ]
    assert (found.n_planned, found.n_added) == (3, 3)


def test_the_sentences_say_what_stands_and_what_stays_open() -> None:
    assert ask_questions(TABLE, STUDY).sentences == (
        "3 planned questions, after allowing for asking three (Holm): clear at the 5 % level: grind (p 0.03); "
        "left open by these brews: water temperature (p 0.06) and the curve of grind (p 0.2).",
        "Planned and not in this table: water temperature together with grind.",
        "3 questions not planned before the data, after allowing for asking three (Benjamini-Hochberg): left "
        "open by these brews: channeling (p 0.06), the curve of water temperature (p 0.06) and dose (p 0.9). What is "
        "clear there is an idea for the next brews to test.",
    )


def test_a_cross_is_planned_whichever_way_round_it_is_written() -> None:
    found = ask_questions(effects(("grind_steps_finer:water_temp_c", 0.5)), STUDY)

    assert found.table["planned"].to_list() == [True]


def test_without_a_plan_or_for_another_response_every_question_is_an_added_one() -> None:
    other = effects(("grind_steps_finer", 0.01), response="tds_pct")

    for found in (ask_questions(TABLE, None), ask_questions(other, STUDY)):
        assert found.n_planned == 0
        assert not found.table["planned"].any()


def test_a_single_question_needs_no_allowance() -> None:
    found = ask_questions(effects(("grind_steps_finer", 0.00004)), STUDY)

    assert found.table["p_adjusted"].to_list() == [0.00004]
    assert found.table["how"].to_list() == ["not adjusted: a single question"]
    assert found.sentences[0] == "1 planned question: clear at the 5 % level: grind (p under 0.001)."


def test_a_term_without_a_p_value_is_no_question_and_stays_in_the_table() -> None:
    found = ask_questions(effects(("grind_steps_finer", 0.01), ("water_temp_c", None)), STUDY)

    assert found.table["p_adjusted"].to_list() == [0.01, None]
    assert found.n_planned == 1
    assert found.sentences[0] == (
        "2 planned questions: clear at the 5 % level: grind (p 0.01); left open by these brews: water temperature (no "
        "p-value)."
    )


def test_two_grinders_are_two_questions() -> None:
    table = effects(("grind_steps_finer", 0.01), ("grind_steps_finer", 0.03)).with_columns(
        per=pl.Series(["1 step on bench", "1 step on bar", "at the factors' means"])
    )

    found = ask_questions(table, STUDY)

    assert found.table["p_adjusted"].to_list() == pytest.approx([0.02, 0.03])
    assert "level: grind on bench (p 0.02) and grind on bar (p 0.03)" in found.sentences[0]


def test_an_empty_table_asks_nothing() -> None:
    assert ask_questions(effects().clear(), STUDY).table.is_empty()
