"""A panel's results as lines of text for the screen."""

from __future__ import annotations

from analysis.sensory.panel.assessor import AssessorResult, OnAttribute
from analysis.sensory.panel.attribute import AttributeResult
from analysis.sensory.panel.further_words import f_words
from analysis.sensory.panel.repeatability import BASIS_WORDS
from analysis.sensory.panel.report import PanelReport
from analysis.sensory.panel.spread import REPEATS
from analysis.words import count, digits_for, number, p_range, sentence, span
from pipeline.report import Part

ATTRIBUTE_HEADERS = (
    "attribute",
    "n",
    "products differ",
    "p, all asked",
    "concordance W",
    "p of W alone",
    "repeat sd",
    "95 %",
)
MEAN_HEADERS = ("attribute", "product", "n", "mean", "95 % interval")
PAIR_HEADERS = ("attribute", "pair", "difference", "95 % interval", "p")
PEOPLE_HEADERS = ("who", "cups", "not tasted", "scores", "slope on the others", "95 %", "tells products apart in")
ON_HEADERS = (
    "who",
    "attribute",
    "n",
    "mean",
    "range",
    "on an end",
    "repeat sd",
    "95 % of sd",
    "r, others",
    "95 % of r",
)
MOST_LINES = 100
"""A longer table is for the file, not for the screen."""


def attribute_row(one: AttributeResult) -> tuple[str, ...]:
    """One attribute: do the products differ, do the assessors rank alike, how far apart are repeats."""
    repeats = next((part for part in one.spread if part.name == REPEATS), None)
    places = digits_for([repeats.sd]) if repeats else 0
    asked = f_words(one.test) if one.test else ""
    if one.is_yes_no and one.ranks:
        asked = f"{one.ranks.name} {one.ranks.statistic:.2f}"
    return (
        one.attribute,
        str(one.n_scores),
        asked,
        "" if one.p_adjusted is None else p_range(one.p_adjusted),
        "" if one.ranks is None else number(one.ranks.concordance, 2),
        "" if one.ranks is None else p_range(one.ranks.p_value),
        number(repeats.sd, places) if repeats else "",
        span(repeats.low, repeats.high, places) if repeats and repeats.low and repeats.high else "",
    )


def mean_rows(one: AttributeResult) -> list[tuple[str, ...]]:
    """The products of one attribute, by the model where there is one."""
    rows: list[tuple[str, ...]] = []
    for mean in one.means:
        known = mean.estimate is not None and mean.low is not None and mean.high is not None
        value = mean.estimate if mean.estimate is not None else mean.mean
        ends = span(mean.low or 0.0, mean.high or 0.0, 2) if known else ""
        rows.append((one.attribute, mean.product, str(mean.n_scores), number(value, 2), ends))
    return rows


def pair_rows(one: AttributeResult) -> list[tuple[str, ...]]:
    """The pairs of one attribute, where it separates the products."""
    return [
        (
            one.attribute,
            f"{pair.product} - {pair.against}",
            number(pair.estimate, 2),
            span(pair.low, pair.high, 2),
            p_range(pair.p_value),
        )
        for pair in one.differences
    ]


def person_row(one: AssessorResult) -> tuple[str, ...]:
    """One assessor over all attributes."""
    slope = one.follows
    tells = [on.attribute for on in one.attributes if on.tells]
    return (
        one.label,
        str(one.n_cups),
        str(one.n_not_tasted),
        str(one.n_scores),
        number(slope.slope, 2) if slope else "",
        span(slope.low, slope.high, 2) if slope else "",
        ", ".join(tells),
    )


def each_part(report: PanelReport) -> Part:
    """Every assessor on every attribute."""
    title = "Assessors by attribute"
    rows = [_on_row(one.label, on) for one in report.assessors for on in one.attributes]
    if len(rows) > MOST_LINES:
        return Part(title, (f"{count(len(rows), 'line')}: write them to a file with --out FILE.csv.",))
    bases = dict.fromkeys(on.repeatability.basis for p in report.assessors for on in p.attributes if on.repeatability)
    said = [sentence(f"Repeat sd: from {BASIS_WORDS[basis]}") for basis in bases]
    return Part(title, said, ON_HEADERS, rows, right=ON_HEADERS[2:])


def _on_row(label: str, on: OnAttribute) -> tuple[str, ...]:
    use, own, r = on.use, on.repeatability, on.agreement
    return (
        label,
        on.attribute,
        str(use.n),
        number(use.mean, 1),
        span(use.low, use.high, 1),
        f"{use.extreme_pct:.0f} %",
        number(own.sd, 2) if own else "",
        span(own.low, own.high, 2) if own else "",
        number(r.correlation, 2) if r else "",
        span(r.correlation_low, r.correlation_high, 2) if r else "",
    )
