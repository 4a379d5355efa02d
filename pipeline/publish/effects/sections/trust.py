"""Whether it holds: where the spread comes from, the headline with each left out, what the model leaves over."""

from __future__ import annotations

from analysis import words
from analysis.charts.effects.effect_rows import CHANGE, headline_words, left_out_rows
from analysis.charts.effects.interval_rows import interval_chart
from analysis.charts.effects.share_bars import share_bars
from analysis.charts.plain_words import plain_words
from analysis.charts.residual_marks import residual_marks
from analysis.diagnostics.report import Diagnosis
from analysis.effects.result import EffectsResult
from analysis.spread.sources import SpreadSources
from analysis.spread.words import spread_sentences
from pipeline.publish.content import Drawing, Section
from pipeline.publish.effects.content import EffectsPage
from pipeline.publish.effects.moves import MethodMoves
from pipeline.publish.effects.sections.residuals import LOOKS, far_off
from pipeline.publish.markup import bullets, figure, pair, paragraph

SHARES = (
    "Bar: share of the variance of brews at one setting; line: its 95 % interval. Measuring counts only what differs "
    "from brew to brew; what all brews share is stated apart, as it moves their level and not their spread."
)
LEFT_OUT = "Filled: all brews. Hollow: the same with one left out. A headline that one of them carries alone is none."


def spread(one: MethodMoves) -> Section:
    """A bar per source of spread, and what would help."""
    heading, found = "<h3>Where does the spread come from?</h3>", one.spread
    if not isinstance(found, SpreadSources) or one.result is None:
        said = "" if isinstance(found, SpreadSources) else plain_words(found.said)
        return Section(f"{heading}{paragraph(said)}")
    title, chart_id = words.capital(words.method_word(one.method)), f"spread-{one.method}"
    said = bullets(
        plain_words(text) for text in spread_sentences(found, method=one.method, coffees=one.result.n_coffees)
    )
    html = f"{heading}{pair(figure(chart_id, 'Shares of the spread', SHARES), f'<div>{said}</div>')}"
    return Section(html, (Drawing(chart_id, share_bars(title, found)),))


def left_out(page: EffectsPage, one: MethodMoves) -> Section:
    """The headline with each coffee, session or operator left out in turn."""
    found, result = one.diagnosis, one.result
    if not isinstance(found, Diagnosis) or result is None:
        return Section("")
    headline = result.table.row(0, named=True)
    rows = left_out_rows(found.tables["left out"], headline, page.coffees)
    if len(rows) < 3:
        return Section("")
    chart_id, title = f"left-out-{one.method}", words.capital(words.method_word(one.method))
    change = words.capital(headline_words(headline["term"], headline["per"], headline["step"]))
    chart = interval_chart(f"{title}: {change} with each left out", rows, CHANGE)
    html = f"<h3>Does it hold without any one of them?</h3>{figure(chart_id, change, LEFT_OUT)}"
    return Section(html, (Drawing(chart_id, chart),))


def residuals(page: EffectsPage, one: MethodMoves) -> Section:
    """Three looks at what the model leaves over, and the brews that it misses by most."""
    result = one.result
    if not isinstance(result, EffectsResult) or result.residuals.is_empty():
        return Section("")
    marks, name = residual_marks(result.residuals, page.marks), f"residuals-{one.method}"
    title = words.capital(words.method_word(one.method))
    figures = [figure(f"{name}-{look}", heading, below) for look, heading, _, below in LOOKS]
    drawings = tuple(
        Drawing(f"{name}-{look}", chart(title, marks), name, needs=("residual",)) for look, _, chart, _ in LOOKS
    )
    html = f"<h3>Can the model be trusted?</h3>{pair(*figures, f'<div>{far_off(result)}</div>')}"
    return Section(html, drawings, {name: marks})
