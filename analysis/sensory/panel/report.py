"""Everything that is said of a panel: its attributes, its people by label, and findings in words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import polars as pl

from analysis.findings import Finding
from analysis.sensory.panel.assessor import AssessorResult, judge_assessors
from analysis.sensory.panel.attribute import AttributeResult, judge_attributes
from analysis.sensory.panel.flags import raise_flags
from analysis.sensory.panel.people_words import people_findings
from analysis.sensory.panel.request import PanelRequest
from analysis.sensory.panel.tidy import PanelRows, panel_rows
from analysis.sensory.panel.words import headline, panel_findings


@dataclass(frozen=True)
class PanelReport:
    """`attributes` are judged as right or wrong may be; `opinions` (liking, just right) are kept apart.

    `headline` counts what it rests on; `findings` in the order a panel leader needs them.
    """

    rows: PanelRows
    headline: str
    attributes: tuple[AttributeResult, ...]
    opinions: tuple[AttributeResult, ...]
    assessors: tuple[AssessorResult, ...]
    findings: tuple[Finding, ...]


def panel_report(
    tastings: pl.DataFrame,
    request: PanelRequest,
    *,
    labels: Mapping[str, str],
    rng: np.random.Generator,
    attributes: pl.DataFrame | None = None,
) -> PanelReport:
    """Judge a panel by its unblinded `tastings`; columns as in `panel_rows`. `labels`: what to call whom.

    `rng` arranges ranks at random where the exact law is too long to sum.
    """
    rows = panel_rows(tastings, request, attributes=attributes)
    judged = tuple(one for one in rows.scores.values() if not one.is_opinion)
    apart = tuple(one for one in rows.scores.values() if one.is_opinion)
    results = judge_attributes(judged, rows.products, rng=rng)
    opinions = judge_attributes(apart, rows.products, rng=rng)
    graded = [one for one in judged if not one.is_yes_no]
    flags = raise_flags(graded)
    people = judge_assessors(rows, flags, {name: labels.get(name, name) for name in rows.assessors})
    findings = (*panel_findings(rows, results, opinions), *people_findings(rows, people, flags))
    return PanelReport(rows, headline(rows), results, opinions, people, findings)
