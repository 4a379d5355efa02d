"""A panel of the store as words and tables: what it tells apart, how it is made up, what may help it."""

from __future__ import annotations

from typing import Any

import numpy as np

from analysis.findings import Finding
from analysis.sensory.panel.report import PanelReport
from analysis.sensory.panel.report import panel_report as judge
from analysis.sensory.panel.request import PanelRequest
from analysis.words import count, sentence
from pipeline.cupping.panel_numbers import panel_numbers
from pipeline.cupping.panel_tables import (
    ATTRIBUTE_HEADERS,
    MEAN_HEADERS,
    PAIR_HEADERS,
    PEOPLE_HEADERS,
    attribute_row,
    each_part,
    mean_rows,
    pair_rows,
    person_row,
)
from pipeline.cupping.tasted import Tasted, tasted
from pipeline.report import Part, Report, as_data, findings
from pipeline.store.model import Manifest
from pipeline.store.store import Store
from schemas.lab import LabSettings
from schemas.problem import ProblemError

SEED = 0
"""Random arrangements of ranks are drawn alike every time: the same store gives the same report."""
NONE_YET = "No tastings yet. Plan a session with brewtrials cupping plan, taste, and ingest the filled-in score sheets."


def panel_report(
    store: Store, manifest: Manifest, settings: LabSettings, *, request: PanelRequest | None = None
) -> Report:
    """The panel's report; `request` chooses sessions, attributes and what counts as one product."""
    found = tasted(store, manifest, settings)
    if found.scores.is_empty():
        if found.n_void:
            raise ProblemError(f"All {count(found.n_void, 'score')} are of void brews: nothing to judge.")
        return Report([], findings([]), {"findings": []}, none=NONE_YET)
    report = judge(
        found.scores,
        request or PanelRequest(),
        labels=found.labels,
        attributes=found.attributes,
        rng=np.random.default_rng(SEED),
    )
    return Report(_parts(report, found), panel_numbers(report), _data(report, found))


def _parts(report: PanelReport, found: Tasted) -> list[Part]:
    results = (*report.attributes, *report.opinions)
    pairs = [row for one in results for row in pair_rows(one)]
    parts = [
        Part("", _first(report, found)),
        Part("The panel", _said(report.findings, people=False)),
        Part("The people", _said(report.findings, people=True)),
        Part("Attributes", (), ATTRIBUTE_HEADERS, [attribute_row(one) for one in results], right=ATTRIBUTE_HEADERS[1:]),
        Part("Means", (), MEAN_HEADERS, [row for one in results for row in mean_rows(one)], right=MEAN_HEADERS[2:]),
    ]
    if pairs:
        said = ("Intervals and p allow for all pairs of an attribute (Tukey).",)
        parts.append(Part("Pairs", said, PAIR_HEADERS, pairs, right=PAIR_HEADERS[2:]))
    said = ("In the order of labels, which says nothing of anybody. A slope of 1 is the others' use of the scale.",)
    rows = [person_row(one) for one in report.assessors]
    parts.append(Part("Assessors", said, PEOPLE_HEADERS, rows, right=PEOPLE_HEADERS[1:6]))
    parts.append(each_part(report))
    models = dict.fromkeys(f"{one.attribute}: {one.model}" for one in results if one.model)
    parts.append(Part("Models", [sentence(text) for text in models]))
    return [part for part in parts if part.sentences or part.rows]


def _first(report: PanelReport, found: Tasted) -> list[str]:
    void = [f"{count(found.n_void, 'score')} of void brews are left out."] if found.n_void else []
    return [report.headline, *void]


PEOPLE_TOPICS = ("assessors", "following", "constant", "limits")


def _said(found: tuple[Finding, ...], *, people: bool) -> list[str]:
    return [f"- {one.said} {one.do}" for one in found if (one.topic in PEOPLE_TOPICS) is people]


def _data(report: PanelReport, found: Tasted) -> dict[str, Any]:
    rows = report.rows
    return {
        "headline": report.headline,
        "product": rows.kind,
        "own_shots": rows.own_shots,
        "products": list(rows.products),
        "sessions": list(rows.sessions),
        "assessors": as_data(report.assessors),
        "attributes": as_data(report.attributes),
        "opinions": as_data(report.opinions),
        "findings": as_data(report.findings),
        "left_out": [*rows.left_out, *([f"{found.n_void} scores of void brews"] if found.n_void else [])],
    }
