"""What stands beside an effects table: total and direct effects, channeling, spread, and what is in the way."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analysis.channeling.report import ChannelingReport, channeling_report
from analysis.diagnostics.report import Diagnosis, diagnose
from analysis.effects.factors import FACTORS
from analysis.effects.request import EffectsRequest
from analysis.effects.result import EffectsResult
from analysis.known_names import check_known
from analysis.outcomes.mediators import Mediation, total_and_direct
from analysis.spread.sources import SpreadSources
from analysis.spread.words import spread_sentences
from analysis.words import count, listed
from pipeline.cli.opened import Opened
from pipeline.facts import brew_flags
from schemas.problem import ProblemError

if TYPE_CHECKING:
    from pipeline.cli.study_effects import OfStudy

SEED = 1
"""Of resamples, and of the shuffles of the order of brewing."""
DOUBTFUL = (
    "looks_repeated",
    "looks_like_brix",
    "looks_like_fraction",
    "looks_swapped",
    "looks_tenfold",
    "yield_beyond_soluble",
    "yield_unusual",
)
"""Rules by which a record is more likely a slip than a brew."""
MOST_NAMED = 5


@dataclass(frozen=True)
class Beside:
    """What was asked for beside the table; `flagged` names brews of the model whose record is in doubt."""

    of_study: OfStudy | None = None
    mediation: Mediation | None = None
    channeling: ChannelingReport | None = None
    spread: SpreadSources | None = None
    diagnosis: Diagnosis | None = None
    flagged: str = ""


def find_beside(
    opened: Opened,
    facts: pl.DataFrame,
    result: EffectsResult,
    of_study: OfStudy | None,
    *,
    through: tuple[str, ...],
    channeling: bool,
    spread: bool,
) -> Beside:
    """Work out what was asked for; ProblemError where a part that was named cannot be answered."""
    request = result.request
    if request.pool_methods and (channeling or spread):
        raise ProblemError("Channeling and spread are told of one method at a time: leave out --pool-methods.")
    return Beside(
        of_study=of_study,
        mediation=_through(facts, request, through),
        channeling=channeling_report(facts, method=result.method, rng=_rng()) if channeling else None,
        spread=_spread(opened, facts, request) if spread else None,
        diagnosis=_diagnosed(facts, request, of_study),
        flagged=_flagged(opened, facts, result),
    )


def _rng() -> np.random.Generator:
    return np.random.default_rng(SEED)


def _spread(opened: Opened, facts: pl.DataFrame, request: EffectsRequest) -> SpreadSources:
    from pipeline.answers.refits import refit, sources_of
    from pipeline.measurement.gather import gather

    found = gather(opened.store, opened.manifest, opened.settings)
    return sources_of(found, refit(facts, request), rng=_rng())


def beside_words(beside: Beside, result: EffectsResult) -> list[str]:
    """Everything asked for, in sentences under short headings."""
    said: list[str] = []
    if beside.mediation is not None:
        said += mediation_words(beside.mediation)
    if beside.channeling is not None:
        for section in beside.channeling.sections:
            said += ["", section.question, *section.sentences]
    if beside.spread is not None:
        said += ["", "Where does the spread come from?"]
        said += spread_sentences(beside.spread, method=result.method, coffees=result.n_coffees)
    return said


def mediation_words(mediation: Mediation) -> list[str]:
    """Total against direct, what each answers, and what they rest on."""
    return [
        f"Through {listed([FACTORS[name].noun for name in mediation.outcomes])} ({mediation.basis()}):",
        *(row.sentence() for row in mediation.rows),
        mediation.question,
    ]


def diagnosis_words(diagnosis: Diagnosis) -> list[str]:
    """The verdict, and every finding that stands in the way or is worth knowing, with what to do."""
    found = [one for one in diagnosis.findings if one.weight != "fine"]
    return [diagnosis.verdict, *(f"- {one.said} {one.do}".rstrip() for one in found)]


def _through(facts: pl.DataFrame, request: EffectsRequest, outcomes: tuple[str, ...]) -> Mediation | None:
    """Total and direct effects, where results of the settings were named."""
    if not outcomes:
        return None
    results = [name for name, factor in FACTORS.items() if factor.role != "setting"]
    for name in outcomes:
        check_known("result of the settings", name, results)
    return total_and_direct(facts, request, outcomes, rng=_rng())


def _diagnosed(facts: pl.DataFrame, request: EffectsRequest, of_study: OfStudy | None) -> Diagnosis | None:
    """Whether these brews can answer; None where methods are pooled, since each has its own answer then."""
    if request.pool_methods:
        return None
    ranges = None if of_study is None else of_study.rows.study.ranges
    return diagnose(facts, request, ranges=ranges, rng=_rng())


def _flagged(opened: Opened, facts: pl.DataFrame, result: EffectsResult) -> str:
    """Brews of the model whose record is in doubt, by name; empty where there is none."""
    flags = brew_flags(opened.store, opened.manifest, opened.settings, facts)
    doubtful = flags.filter(flags["rule"].is_in(DOUBTFUL))["brew_id"].drop_nulls().unique()
    named = sorted(set(doubtful) & set(result.residuals["brew_id"]))
    if not named:
        return ""
    shown = listed([*named[:MOST_NAMED], *([f"{len(named) - MOST_NAMED} more"] if len(named) > MOST_NAMED else [])])
    return (
        f"{count(len(named), 'brew')} in this model {'is' if len(named) == 1 else 'are'} flagged as a likely slip or a "
        f"repeated row and counted as it stands: {shown}. `brewtrials flags` says why."
    )
