"""What a declared study asked: planned questions, added ones, and whether it was declared before its data."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from analysis.channeling.seen import NotShown
from analysis.effects.estimate import estimate_effects
from analysis.effects.result import EffectsResult
from analysis.study.questions import Questions, ask_questions
from analysis.study.request import effects_request
from pipeline.measurement.gather import Gathered
from pipeline.store.model import Manifest
from pipeline.store.store import Store
from pipeline.study.declared import declared
from pipeline.study.facts import study_rows
from pipeline.study.read import read_studies
from pipeline.study.words import declaration_words
from schemas.problem import ProblemError
from schemas.study import Study


@dataclass(frozen=True)
class StudyAnswer:
    """One study: how it was declared, what its brews are, and its questions answered, or why they cannot be."""

    study: Study
    declared: tuple[str, ...]
    brews: tuple[str, ...]
    answer: tuple[EffectsResult, Questions] | NotShown


def study_answers(
    lab_dir: Path, store: Store, manifest: Manifest, found: Gathered
) -> tuple[StudyAnswer, ...] | NotShown:
    """Every study of the folder's study.toml by the state of a commit; the reason where the file cannot be read."""
    try:
        studies = read_studies(lab_dir)
        return tuple(_answer(store, manifest, found, study) for study in studies)
    except ProblemError as problem:
        return NotShown(str(problem))


def _answer(store: Store, manifest: Manifest, found: Gathered, study: Study) -> StudyAnswer:
    rows = study_rows(store, manifest, found.settings, study, inputs=found.inputs)
    declaration = declared(store, manifest, study)
    said = declaration_words(declaration)
    try:
        if rows.brews.is_empty():
            raise ProblemError("No brew of this study is in the log yet.")
        request = effects_request(study)
        result = estimate_effects(rows.brews, request, whole_plot=study.whole_plot, blocks=study.blocks)
    except ProblemError as problem:
        return StudyAnswer(study, said, rows.said, NotShown(str(problem)))
    return StudyAnswer(study, said, rows.said, (result, ask_questions(result.table, declaration.planned)))
