"""The answer of the effects command: on the screen, each row to the decimals it supports, and as an object."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import polars as pl

from analysis.effects.words import NOT_STATED, decimals, plain
from analysis.spread.words import spread_sentences
from pipeline.cli.beside import Beside, beside_words, diagnosis_words, mediation_words
from pipeline.cli.screen import say
from pipeline.cli.tables import show_rows

if TYPE_CHECKING:
    from analysis.effects.result import EffectsResult
    from analysis.study.questions import Questions
    from pipeline.cli.study_effects import OfStudy

SHOWN = ("term", "unit", "per", "estimate", "low", "high", "p_value", "n_brews", "n_coffees")
SMALLEST_P = 0.001
NUMBERS = SHOWN[3:]
PARTS = (
    "slopes_by_coffee",
    "coffee_sentences",
    "alike",
    "components",
    "dropped_components",
    "sigma",
    "group_sd",
    "joint_tests",
    "cluster_check",
    "tops",
    "surface",
    "order",
    "model",
    "method",
    "scope",
    "dropped",
    "left_out",
    "n_brews",
    "n_coffees",
    "n_left_out",
)
"""Of an `EffectsResult`, what the object holds beside the question, the table, its sentences and the notes."""


def show_effects(result: EffectsResult, beside: Beside) -> None:
    """Sentences first, then the table, then what to know about it."""
    surface = () if result.surface is None else (result.surface.sentence,)
    say("\n".join((*result.sentences, *(top.sentence for top in result.tops), *surface)) + "\n")
    rows = zip(result.table.select(SHOWN).to_dicts(), result.sentences, strict=True)
    show_rows(SHOWN, [_cells(row, stated=NOT_STATED not in said) for row, said in rows], right=NUMBERS)
    if result.coffee_sentences:
        say("\nEach coffee on its own:\n" + "\n".join(result.coffee_sentences))
    say("\n" + "\n".join(remarks(result, beside)))


def remarks(result: EffectsResult, beside: Beside) -> list[str]:
    """What the numbers rest on: total and direct, the study, whether these brews can answer, the model, notes."""
    of = []
    if beside.of_study is not None:
        from pipeline.study.words import declaration_words

        study, questions = beside.of_study, _questions(result, beside.of_study)
        of = [*declaration_words(study.declaration), *study.rows.said, *questions.sentences]
    found = [] if beside.diagnosis is None else diagnosis_words(beside.diagnosis)
    flagged = [beside.flagged] if beside.flagged else []
    return [
        *beside_words(beside, result),
        *of,
        *found,
        *flagged,
        f"Model: {result.model}",
        result.dropped,
        *result.notes,
    ]


def effects_object(result: EffectsResult, beside: Beside) -> dict[str, Any]:
    """Everything the analysis holds, as plain lists, objects and numbers."""
    from pipeline.report import as_data

    data: dict[str, Any] = {
        "request": as_data(result.request),
        "table": as_data(result.table.drop("model", "dropped", "effect_note").to_dicts()),
        "sentences": list(result.sentences),
        "notes": list(result.notes),
    }
    for name in PARTS:
        value = getattr(result, name)
        data[name] = as_data(value.to_dicts() if isinstance(value, pl.DataFrame) else value)
    if beside.mediation is not None:
        data["through"] = {**as_data(beside.mediation), "said": mediation_words(beside.mediation)}
    if beside.channeling is not None:
        sections = beside.channeling.sections
        data["channeling"] = {one.question: list(one.sentences) for one in sections}
    if beside.spread is not None:
        said = spread_sentences(beside.spread, method=result.method, coffees=result.n_coffees)
        data["spread"] = {**as_data(beside.spread), "said": said}
    if beside.diagnosis is not None:
        data["diagnosis"] = {"verdict": beside.diagnosis.verdict, "findings": as_data(beside.diagnosis.findings)}
    if beside.flagged:
        data["flagged"] = beside.flagged
    of_study = beside.of_study
    if of_study is not None:
        from pipeline.study.words import declaration_words

        questions = _questions(result, of_study)
        data["study"] = {
            "study_id": of_study.rows.study.study_id,
            "declared": of_study.declaration.state,
            "questions": as_data(questions.table.to_dicts()),
            "said": [*declaration_words(of_study.declaration), *of_study.rows.said, *questions.sentences],
        }
    return data


def _questions(result: EffectsResult, of_study: OfStudy) -> Questions:
    """Planned or added, with p-values adjusted for the number of questions."""
    from analysis.study.questions import ask_questions

    return ask_questions(result.table, of_study.declaration.planned)


def _cells(row: dict[str, object], *, stated: bool) -> tuple[str, ...]:
    """One row; a slope that its sentence does not state is not read off the table either (--json holds it)."""
    estimate, low, high, p_value = (float(str(row[name])) for name in ("estimate", "low", "high", "p_value"))
    places = decimals(low, high)
    p_words = f"{p_value:.3f}" if p_value >= SMALLEST_P else f"<{SMALLEST_P}"
    return (
        *(str(row[name] or "") for name in ("term", "unit", "per")),
        *((plain(value, places) for value in (estimate, low, high)) if stated else ("not stated", "", "")),
        # That of a level would ask whether the yield is zero, which nobody does.
        "" if str(row["term"]).startswith("intercept") or not stated else p_words,
        f"{row['n_brews']:,}",
        f"{row['n_coffees']:,}",
    )
