"""Do two instruments agree: the gap against the mean, and one against the other."""

from __future__ import annotations

from analysis import words
from analysis.charts.measurement.agreement_charts import (
    against_chart,
    difference_chart,
    line_words,
    outside_limits,
)
from analysis.measurement.agreement import Agreement, NotCompared
from analysis.measurement.agreement_words import agreement_sentence, agreement_sentences, line_sentence
from pipeline.measurement.agreement_report import NO_BREW
from pipeline.publish.content import Drawing, Section
from pipeline.publish.markup import Head, bullets, escaped, folded, pair, paragraph, section, table
from pipeline.publish.measurement.content import MeasuredPage
from pipeline.publish.measurement.figures import figure_of

INTRO = (
    "Each point is a brew that both read. Left: the gap against the mean of both, with its average (line) and the "
    "limits that hold 95 of 100 gaps of single readings (dashed); the bands are what the three are known to (95 %). "
    "Right: one against the other, with Deming's line as far as there are brews; dashed, where both would read alike."
)
ONE = (
    "Readings on one instrument only: whether another would read the same cannot be said. Read 10 brews of different "
    "strength on a second one too, the same drop with the same sample_no."
)
HOW_TO = (
    "What would let it answer: read 10 brews on both, weak and strong ones, the same drop on each with the same "
    "sample_no, twice each."
)
MOST_PAIRS = 6
MOST_NAMED = 5
HEADS = (
    Head("Brew"),
    Head("First, %", True),
    Head("Second, %", True),
    Head("Second less first, %", True),
)
METHOD = (
    "Bias and limits of agreement after Bland and Altman (1986, 1999), limits for single readings also where repeats "
    "were averaged (variance within plus between); intervals by the modified large-sample method.",
    "The line is Deming's, with the ratio of the error variances from repeats where there are any, intervals by "
    "leaving out one brew at a time. It is drawn over the strengths that were read and nowhere else.",
    "Nothing here says which of the two is right: that takes a reference.",
)


def agreement(page: MeasuredPage) -> Section:
    """A pair of charts for each two instruments that read the same brews, refusals for the others."""
    compared = [pair_ for pair_ in page.pairs if isinstance(pair_, Agreement)]
    drawings: list[Drawing] = []
    blocks = [_block(one, k, drawings) for k, one in enumerate(compared[:MOST_PAIRS])]
    refused = [_refusal(one) for one in page.pairs if isinstance(one, NotCompared)]
    refused += [agreement_sentence(one) for one in compared[MOST_PAIRS:]]
    html = section(
        "agreement",
        "Do two instruments agree?",
        paragraph(INTRO if compared else ""),
        *blocks,
        paragraph(_nothing(page) if not page.pairs else ""),
        bullets(refused),
        paragraph(HOW_TO if any(isinstance(one, NotCompared) for one in page.pairs) else ""),
        folded("Method note: agreement", bullets([*METHOD, *filter(None, map(line_sentence, compared[:MOST_PAIRS]))])),
    )
    return Section(html, tuple(drawings))


def _refusal(one: NotCompared) -> str:
    """Why two were not compared; the reason names them, unless they share nothing."""
    if one.reason == NO_BREW:
        return f"{one.a} and {one.b}: {NO_BREW}."
    return agreement_sentence(one)


def _nothing(page: MeasuredPage) -> str:
    if page.refractometers:
        return ONE
    return "No reading names its instrument, so there is nothing to compare. Fill in instrument_id."


def _block(one: Agreement, k: int, drawings: list[Drawing]) -> str:
    title = f"{one.b} against {one.a}"
    drawings += [
        Drawing(f"agreement-{k}-gap", difference_chart(one)),
        Drawing(f"agreement-{k}-line", against_chart(one)),
    ]
    names = [one.a, one.b]
    first = figure_of(
        f"agreement-{k}-gap", f"{one.b} less {one.a}, against their mean", _outside(one), instruments=names
    )
    second = figure_of(f"agreement-{k}-line", title, line_words(one), instruments=names)
    said = agreement_sentences(one)
    lead = "".join(map(paragraph, said[:2]))
    return (
        f'<div data-instrument="{escaped(one.a)}" data-second="{escaped(one.b)}"><h3>{escaped(title)}</h3>{lead}'
        f"{bullets(said[2:])}</div>{pair(first, second)}{folded(f'Table: {title}, brew by brew', _table(one))}"
    )


def _outside(one: Agreement) -> str:
    names = outside_limits(one)
    if not names:
        return f"{words.count(one.n_brews, 'brew')}; none lies beyond the limits and what they are known to."
    shown = words.listed(names[:MOST_NAMED])
    more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
    return f"{words.count(one.n_brews, 'brew')}; beyond the limits and what they are known to: {shown}{more}."


def _table(one: Agreement) -> str:
    heads = (HEADS[0], Head(f"{one.a}, %", True), Head(f"{one.b}, %", True), Head(f"{one.b} less {one.a}, %", True))
    rows = [
        (brew_id, words.number(float(x), 3), words.number(float(y), 3), words.signed(float(y - x), 3))
        for brew_id, x, y in zip(one.pairs.brew_ids, one.pairs.x_pct, one.pairs.y_pct, strict=True)
    ]
    return table(heads, rows, caption="Means of each brew's readings on both instruments")
