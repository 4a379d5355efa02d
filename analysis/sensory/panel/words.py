"""What a panel's attributes show, as a panel leader would say it."""

from __future__ import annotations

from analysis.findings import Finding
from analysis.sensory.panel.attribute import LEVEL, AttributeResult
from analysis.sensory.panel.further_words import (
    end_findings,
    f_words,
    gap_findings,
    opinion_findings,
    order_findings,
)
from analysis.sensory.panel.products import PLURAL
from analysis.sensory.panel.spread import REPEATS
from analysis.sensory.panel.tidy import PanelRows
from analysis.words import count, digits_for, listed, number, p_range, sentence, span


def headline(rows: PanelRows) -> str:
    """What the report rests on."""
    products = count(len(rows.products), rows.kind, PLURAL[rows.kind])
    n = sum(one.y.size for one in rows.scores.values())
    sizes = [count(len(rows.assessors), "assessor"), products]
    if rows.sessions != ("",):
        sizes.append(count(len(rows.sessions), "session"))
    said = f"{listed(sizes)}: {count(n, 'score')} of {count(len(rows.scores), 'attribute')}."
    return f"{said} {sentence(rows.product_said)}"


def panel_findings(
    rows: PanelRows, attributes: tuple[AttributeResult, ...], opinions: tuple[AttributeResult, ...]
) -> list[Finding]:
    """What separates, how finely the panel sees, where the spread lies, order, gaps, and opinions apart."""
    found = [
        *_separating(rows, attributes),
        *_spread(rows, attributes),
        *order_findings(attributes),
        *end_findings(rows),
    ]
    return [*found, *gap_findings(rows), *opinion_findings(rows, opinions)]


def _separating(rows: PanelRows, attributes: tuple[AttributeResult, ...]) -> list[Finding]:
    many = PLURAL[rows.kind]
    asked = [one for one in attributes if one.p_adjusted is not None]
    found = []
    if asked:
        found.append(_which(many, asked))
        found += [_pairs(one, many) for one in asked if one.differences]
        found += _alike(many, [one for one in asked if not one.separates and one.shows is not None])
    refused = [one for one in attributes if one.p_adjusted is None]
    for reason in dict.fromkeys(one.refused for one in refused):
        names = listed([one.attribute for one in refused if one.refused == reason])
        said = f"{names}: whether the {many} differ cannot be told, {_because(reason)}"
        found.append(Finding("attributes", "stands in the way", sentence(said), "Taste more, with more palates."))
    return found


def _because(reason: str) -> str:
    return f"because {reason}" if reason else "because the scores leave nothing to judge by"


def _which(many: str, asked: list[AttributeResult]) -> Finding:
    hits = [one for one in asked if one.separates]
    allowing = f"allowing for {count(len(asked), 'attribute')} (Holm)" if len(asked) > 1 else "one attribute asked"
    if hits:
        named = listed([f"{one.attribute} ({_test(one)}, adjusted {p_range(one.p_adjusted)})" for one in hits])
        rest = [one.attribute for one in asked if not one.separates]
        but = f"; {listed(rest)} {'does' if len(rest) == 1 else 'do'} not" if rest else ""
        verb = "separates" if len(hits) == 1 else "separate"
        said = f"{named} {verb} the {many}{but}, {allowing}"
        return Finding("attributes", "fine", sentence(said), f"Describe these {many} by {_these(hits)}.")
    near = min(asked, key=lambda one: one.p_adjusted or 0.0)
    said = (
        f"No attribute separates the {many}, {allowing}; the nearest is {near.attribute} "
        f"({_test(near)}, adjusted {p_range(near.p_adjusted)})"
    )
    return Finding(
        "attributes", "worth knowing", sentence(said), "Do not describe one of them as more or less of anything."
    )


def _these(hits: list[AttributeResult]) -> str:
    return listed([one.attribute for one in hits])


def _test(result: AttributeResult) -> str:
    if result.test is not None:
        return f_words(result.test)
    return f"{result.ranks.name} {result.ranks.statistic:.2f}" if result.ranks is not None else ""


def _pairs(result: AttributeResult, many: str) -> Finding:
    apart = [one for one in result.differences if one.p_value < LEVEL]
    top = max(result.differences, key=lambda one: abs(one.estimate))
    places = digits_for([top.estimate, top.std_error])
    more, less = (top.product, top.against) if top.estimate > 0 else (top.against, top.product)
    size, ends = abs(top.estimate), sorted((abs(top.low), abs(top.high)))
    interval = span(ends[0], ends[1], places) if top.low * top.high > 0 else span(top.low, top.high, places)
    said = (
        f"{result.attribute}: {len(apart)} of {count(len(result.differences), 'pair')} of {many} differ; widest is "
        f"{more} above {less} by {number(size, places)}, 95 % interval {interval} allowing for all pairs, "
        f"n = {count(result.n_scores, 'score')} of {count(result.n_assessors, 'assessor')}"
    )
    return Finding("pairs", "fine", sentence(said), "See the table of pairs.")


def _alike(many: str, alike: list[AttributeResult]) -> list[Finding]:
    """How finely the panel sees where it saw no difference."""
    if not alike:
        return []
    named = listed([f"{number(one.shows, digits_for([one.shows or 1.0]))} in {one.attribute}" for one in alike])
    said = f"Where no difference was found, this panel would have shown one of a pair larger than about {named}"
    do = f"If smaller differences matter, serve the same {many} to more assessors or more often."
    return [Finding("resolution", "worth knowing", sentence(said), do)]


WAYS = {
    "product by assessor": (
        "assessors disagree about the {products}",
        "Taste the {products} that are judged most unlike together, and agree on what the word means.",
    ),
    "assessor by session": (
        "assessors move against each other from session to session",
        "Begin every session with one reference cup whose score the panel agrees on.",
    ),
    "session": (
        "the whole panel moves from session to session: the {products} changed, or the panel did",
        "Serve one unchanging reference in every session: it tells the two apart.",
    ),
    "product by session": (
        "the {products} differ otherwise in one session than in another: other brews of them, or ageing",
        "Brew each of them more than once in a session to tell a brew from a session.",
    ),
}
"""What a part of the spread means, and what to do about it."""
WORTH = 0.4
"""A part is spoken of from this share of the standard deviation of repeats on."""


def _spread(rows: PanelRows, attributes: tuple[AttributeResult, ...]) -> list[Finding]:
    """What moves scores beside products, level and repeats, attribute by attribute."""
    found = []
    for name, texts in WAYS.items():
        sizes = [said for one in attributes if (said := _size(one, name))]
        if sizes:
            what, do = (text.format(products=PLURAL[rows.kind]) for text in texts)
            n = f"{len(rows.assessors)} assessors"
            n += f", {len(rows.sessions)} sessions" if "session" in name else ""
            said = f"{what} (standard deviations, 95 % intervals): {listed(sizes)}; {n}"
            found.append(Finding("spread", "worth knowing", sentence(said), do))
    return found


def _size(result: AttributeResult, name: str) -> str:
    """One part in words where it is large enough beside the repeats and its interval is bounded; else empty."""
    parts = {part.name: part for part in result.spread}
    part = parts.get(name)
    if part is None or part.low is None or part.high is None or part.sd < WORTH * parts[REPEATS].sd:
        return ""
    places = digits_for([part.sd])
    return f"{result.attribute} {number(part.sd, places)} ({span(part.low, part.high, places)})"
