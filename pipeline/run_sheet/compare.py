"""Planned against brewed, as it is shown."""

from __future__ import annotations

import polars as pl

from analysis.planning.compare import OffPlan, PlanKept, compare_plan
from analysis.words import count
from pipeline.report import Part, Report, as_data
from schemas.problem import ProblemError
from schemas.run_sheet import PLANNED
from schemas.study import Study

OFF_SCHEMA = {name: pl.String() for name in ("brew_id", "column", "planned", "brewed", "allowed")}


def kept_report(planned: pl.DataFrame, facts: pl.DataFrame, study: Study | None) -> Report:
    """How the rows of a run sheet (`pipeline.run_sheet.read`) were followed in the log."""
    ids = planned["study_id"].drop_nulls().unique().to_list()
    if len(ids) != 1:
        raise ProblemError(f"A run sheet belongs to one study; this one names {count(len(ids), 'study', 'studies')}.")
    kept = compare_plan(planned, facts, study_id=str(ids[0]), steps=_steps(study))
    rows = [_row(one) for one in kept.off_plan]
    parts = [Part(f"Planned against brewed: {ids[0]}", kept.sentences())]
    if rows:
        headers = ("brew", "what", "planned", "brewed", "allowed")
        parts.append(Part("Other than planned", (), headers, rows))
    return Report(parts, pl.DataFrame(rows, schema=OFF_SCHEMA, orient="row"), _data(kept))


def _steps(study: Study | None) -> dict[str, float]:
    """The study's own steps, where they are steps of a column that the sheet states."""
    if study is None:
        return {}
    return {name: step for name, step in study.steps.items() if name in PLANNED.values()}


def _row(one: OffPlan) -> tuple[str, str, str, str, str]:
    return one.brew_id, one.column, one.planned, one.brewed, one.allowed


def _data(kept: PlanKept) -> dict[str, object]:
    return {**as_data(kept), "sentences": list(kept.sentences())}
