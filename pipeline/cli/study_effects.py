"""A declared study behind the effects command: its brews, its question, and what was planned."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from analysis.effects.request import EffectsRequest
from analysis.study.apply import StudyRows
from analysis.study.request import effects_request
from pipeline.cli.opened import Opened
from pipeline.study.declared import Declaration, declared
from pipeline.study.facts import study_rows
from pipeline.study.read import choose_study, read_studies


@dataclass(frozen=True)
class OfStudy:
    """The rows of a study, and how it was declared."""

    rows: StudyRows
    declaration: Declaration


def study_rows_of(lab: Path, opened: Opened, study_id: str) -> OfStudy:
    """The study of that id in the folder's study.toml, applied to the brews; ProblemError where there is none."""
    study = choose_study(read_studies(lab), study_id)
    rows = study_rows(opened.store, opened.manifest, opened.settings, study)
    return OfStudy(rows, declared(opened.store, opened.manifest, study))


def with_study(request: EffectsRequest, of: OfStudy, *, own_response: bool, own_factors: bool) -> EffectsRequest:
    """The study's question; what was said on the command line stands before it, or beside it."""
    asked = effects_request(of.rows.study, group=request.group)
    factors = request.factors if own_factors or not asked.factors else asked.factors
    there = set(factors)
    crosses = [pair for pair in asked.crosses if set(pair.split(":")) <= there]
    crosses += [pair for pair in request.crosses if ":".join(reversed(pair.split(":"))) not in crosses]
    return replace(
        request,
        response=request.response if own_response else asked.response,
        factors=factors,
        method=request.method or (None if request.pool_methods else asked.method),
        curves=tuple(dict.fromkeys((*(name for name in asked.curves if name in there), *request.curves))),
        crosses=tuple(dict.fromkeys(crosses)),
        steps={name: size for name, size in asked.steps.items() if name in there} | dict(request.steps),
    )
