"""A panel's results as rows of numbers for a file."""

from __future__ import annotations

from typing import Any

import polars as pl

from analysis.sensory.panel.assessor import OnAttribute
from analysis.sensory.panel.attribute import AttributeResult
from analysis.sensory.panel.further_words import f_words
from analysis.sensory.panel.report import PanelReport
from pipeline.report import findings, freedom


def panel_numbers(report: PanelReport) -> pl.DataFrame:
    """All numbers of a panel as rows of `FINDING`: attributes first, then assessors by label."""
    rows: list[tuple[Any, ...]] = []
    for one in (*report.attributes, *report.opinions):
        rows += _attribute_numbers(one)
    for person in report.assessors:
        for on in person.attributes:
            rows += _person_numbers(person.label, on)
    return findings(rows)


def _attribute_numbers(one: AttributeResult) -> list[tuple[Any, ...]]:
    name, n, apart = one.attribute, one.n_scores, "not consumers'" if one.kind == "liking" else ""
    rows: list[tuple[Any, ...]] = []
    if one.test is not None:
        basis = f"{f_words(one.test)}, p allows for all attributes"
        rows.append(("attribute", name, "products differ, p", one.p_adjusted, None, None, "", n, basis))
    if one.ranks is not None:
        ranked = f"{one.ranks.n_blocks} assessors, p = {one.ranks.p_value:.4g} ({one.ranks.how})"
        rows.append(("attribute", name, "Kendall's W", one.ranks.concordance, None, None, "", n, ranked))
    for part in one.spread:
        rows.append(("attribute", name, f"sd: {part.name}", part.sd, part.low, part.high, "score", n, one.model))
    for mean in one.means:
        value = mean.mean if mean.estimate is None else mean.estimate
        basis = "; ".join(text for text in (one.model or "plain mean", apart) if text)
        rows.append((mean.product, name, "mean", value, mean.low, mean.high, "score", mean.n_scores, basis))
    for pair in one.differences:
        what = f"{pair.product} less {pair.against}"
        basis = f"Tukey, p = {pair.p_value:.4g}, df {freedom(pair.df)}"
        rows.append((what, name, "difference", pair.estimate, pair.low, pair.high, "score", n, basis))
    return rows


def _person_numbers(label: str, on: OnAttribute) -> list[tuple[Any, ...]]:
    use, n = on.use, on.use.n
    rows: list[tuple[Any, ...]] = [
        (label, on.attribute, "mean", use.mean, None, None, "score", n, f"from {use.low:g} to {use.high:g}"),
        (label, on.attribute, "on an end of the scale", use.extreme_pct, None, None, "%", n, ""),
        (label, on.attribute, "skipped", float(on.n_skipped), None, None, "scores", n, ""),
    ]
    if on.repeatability is not None:
        own = on.repeatability
        rows.append((label, on.attribute, "repeat sd", own.sd, own.low, own.high, "score", own.df + 1, own.basis))
    if on.discrimination is not None:
        f = on.discrimination
        rows.append((label, on.attribute, "products apart, p", f.p_value, None, None, "", n, f_words(f)))
    if on.agreement is not None:
        a = on.agreement
        numbers = (
            ("correlation", a.correlation, a.correlation_low, a.correlation_high),
            ("slope", a.slope, a.slope_low, a.slope_high),
        )
        rows += [(label, on.attribute, f"{what} with the others", *of, "", a.n_cups, "") for what, *of in numbers]
    return rows
