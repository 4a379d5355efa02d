"""The brews a question is asked of: all of a project folder, or those of a declared study."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from pipeline.cli.opened import Opened
from pipeline.facts import brew_facts
from pipeline.study.facts import study_rows
from pipeline.study.read import choose_study, read_studies
from schemas.study import Study


@dataclass(frozen=True)
class AskedBrews:
    """`facts` (FACT_COLUMNS), the study they belong to if one was named, and how its brews were chosen."""

    facts: pl.DataFrame
    study: Study | None
    said: tuple[str, ...]


def asked_brews(opened: Opened, study_id: str | None) -> AskedBrews:
    """Facts of all brews, or of a study's own under its own grind references; ProblemError where it is not declared."""
    if study_id is None:
        return AskedBrews(brew_facts(opened.store, opened.manifest, opened.settings), None, ())
    study = choose_study(read_studies(opened.folder), study_id)
    rows = study_rows(opened.store, opened.manifest, opened.settings, study)
    return AskedBrews(rows.brews, study, rows.said)
