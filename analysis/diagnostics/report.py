"""Can these brews answer the question? All checks, their findings in order of weight, and a verdict."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import polars as pl

from analysis.diagnostics.case import Case, make_case
from analysis.diagnostics.headline import Slopes, slopes_of
from analysis.diagnostics.least_squares import plain_fit
from analysis.diagnostics.left_out import find_left_out
from analysis.diagnostics.one_brew import find_one_brew
from analysis.diagnostics.range_words import find_ranges
from analysis.diagnostics.repeats import find_repeats
from analysis.diagnostics.residual_checks import find_residual_checks
from analysis.diagnostics.seen import Seen, in_order
from analysis.diagnostics.sittings import find_sittings
from analysis.diagnostics.together import find_together
from analysis.diagnostics.verdict import Answer, verdict
from analysis.effects.request import EffectsRequest
from analysis.findings import Finding

FIT_TOPIC = "whether an effect can be worked out at all"


@dataclass(frozen=True)
class Diagnosis:
    """What stands between these brews and an answer.

    `findings`: heaviest first. `verdict`: one sentence. `answer`: the verdict as a choice. `blocked`: factors out of
    reach. `tables` by name: "collinearity", "pairs", "conditions", "ranges", "repeats", "influence", "residuals" and
    "left out".
    """

    findings: tuple[Finding, ...]
    verdict: str
    answer: Answer
    blocked: tuple[str, ...]
    tables: Mapping[str, pl.DataFrame]
    n_brews: int
    n_groups: int


def diagnose(
    facts: pl.DataFrame,
    request: EffectsRequest,
    *,
    ranges: Mapping[str, tuple[float, float]] | None = None,
    alike: Mapping[str, float] | None = None,
    rng: np.random.Generator,
) -> Diagnosis:
    """Look at `facts` (FACT_COLUMNS) with the question `request` in mind; ProblemError when there is nothing to see.

    `ranges` are the declared low and high of each factor and `alike` how far repeats may lie apart, both in the
    factor's unit; `rng` shuffles orders of brewing.
    """
    case = make_case(facts, request)
    fit = plain_fit(case)
    sittings = find_sittings(case.brews)
    whole = slopes_of(case.brews, request)
    together = find_together(case, fit)
    settled = {slope.name for slope in whole.by_term.values() if slope.settled}
    spans = find_ranges(case, ranges or {}, settled)
    repeats = find_repeats(case, sittings, alike)
    brews = find_one_brew(case, fit, whole)
    residuals = find_residual_checks(case, fit, sittings, rng=rng)
    left = find_left_out(case, whole)
    parts = (spans, together, repeats, brews, residuals, left)
    seen = in_order([*_refused(whole, case), *(one for part in parts for one in part.seen)])
    said = verdict(case, seen, refused=not whole.by_term)
    return Diagnosis(
        findings=tuple(one.finding for one in seen),
        verdict=said.sentence,
        answer=said.answer,
        blocked=said.blocked,
        tables={
            "collinearity": together.table,
            "pairs": together.pairs,
            "conditions": together.conditions,
            "ranges": spans.table,
            "repeats": repeats.table,
            "influence": brews.table,
            "residuals": residuals.table,
            "left out": left.table,
        },
        n_brews=case.n,
        n_groups=case.n_groups,
    )


def _refused(whole: Slopes, case: Case) -> list[Seen]:
    """The refusal of the effects themselves, as a finding."""
    if whole.by_term:
        return []
    said = whole.refusal or "None of the factors has a slope here."
    do = "Mend what is named here first; the other findings say where to brew."
    return [Seen(Finding(FIT_TOPIC, "stands in the way", said, do), case.request.factors)]
