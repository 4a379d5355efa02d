"""What each setting does: intervals, fitted lines with their brews, each coffee's own slope, the top of the curve."""

from __future__ import annotations

from collections.abc import Iterator

import polars as pl

from analysis import words
from analysis.channeling.seen import NotShown
from analysis.charts.domain import Domain
from analysis.charts.effects.effect_rows import CHANGE, headline_words, slope_rows
from analysis.charts.effects.interval_rows import interval_chart
from analysis.charts.effects.setting_lines import setting_chart, setting_domain, setting_lines
from analysis.charts.effects_forest import effects_forest, shown_terms
from analysis.charts.plain_words import degrees, plain_words
from analysis.effects.factors import FACTORS
from analysis.effects.result import EffectsResult
from pipeline.publish.content import Drawing, Section
from pipeline.publish.effects.content import EffectsPage
from pipeline.publish.effects.moves import MethodMoves
from pipeline.publish.markup import bullets, figure, pair, paragraph
from pipeline.publish.sections.effects_table import is_level

FOREST = (
    "Diamond: estimate; bar: 95 % interval; right of zero is more yield. In points, which are percentage points of "
    "yield, for one practical step, the other settings held."
)
LINES = (
    "Points: brews, with the other settings at their means by the model. Lines: each coffee, as far as it was brewed. "
    "Grind counts from the reference of each coffee, grinder and method."
)
SLOPES = "Each coffee alone, other settings held; the intervals speak for the single coffee."
MOST_LINES = 4


def settings(page: EffectsPage, one: MethodMoves, domain: Domain | None) -> Section:
    """The settings of one method; nothing where none was compared."""
    result = one.result
    if result is None or domain is None:
        return Section("")
    forest_id, title = f"forest-{one.method}", words.capital(words.method_word(one.method))
    forest = shown_terms(result.table).height > 0
    drawings = [Drawing(forest_id, effects_forest(title, result.table, domain))] if forest else []
    lead = figure(forest_id, "Effects with their 95 % intervals", FOREST) if forest else ""
    lines, line_figures, data = _lines(page, one, result, title)
    slopes, slope_figures = _slopes(page, one, result, title)
    top = grind_top(page, one)
    html = (
        f"<h3>What did each setting do?</h3>{pair(lead, f'<div>{_sentences(result)}</div>')}"
        f"{f'<h3>The brews behind it</h3>{paragraph(LINES)}' if line_figures else ''}{pair(*line_figures)}"
        f"{f'<h3>Do coffees answer alike?</h3>{_alike(result)}' if slope_figures else ''}{pair(*slope_figures)}"
        f"{top.html}"
    )
    return Section(html, (*drawings, *lines, *slopes, *top.drawings), data | top.data)


def _sentences(result: EffectsResult) -> str:
    """A sentence for each setting; one that measuring alone may have made says so instead."""
    pairs = zip(result.table["term"], result.sentences, strict=True)
    return bullets(words.sentence(degrees(text)) for term, text in pairs if not is_level(term))


def _lines(
    page: EffectsPage, one: MethodMoves, result: EffectsResult, title: str
) -> tuple[list[Drawing], list[str], dict[str, pl.DataFrame]]:
    every = [line for line in setting_lines(result, page.facts, page.marks) if line.marks.height][:MOST_LINES]
    domain = setting_domain(tuple(every)) if every else Domain(0.0, 1.0)
    drawings, figures, data = [], [], dict[str, pl.DataFrame]()
    for line in every:
        name = f"lines-{one.method}-{line.factor.replace('_', '-')}"
        data[name] = line.marks
        drawings.append(Drawing(name, setting_chart(title, line, domain), name, needs=("y",)))
        figures.append(figure(name, line.title.partition(" (")[0]))
    return drawings, figures, data


def _slopes(page: EffectsPage, one: MethodMoves, result: EffectsResult, title: str) -> tuple[list[Drawing], list[str]]:
    drawings, figures = [], []
    for k, ((term, per), rows) in enumerate(slope_rows(result.slopes_by_coffee, page.coffees).items()):
        change = words.capital(headline_words(term, per, result.request.step(term)))
        chart_id = f"slopes-{one.method}-{k}"
        drawings.append(Drawing(chart_id, interval_chart(f"{title}, by coffee: {change}", rows, CHANGE)))
        figures.append(figure(chart_id, change, SLOPES if k == 0 else ""))
    return drawings, figures


def _alike(result: EffectsResult) -> str:
    """Whether coffees were seen to answer differently, per setting."""
    return bullets(_alike_sentences(result))


def _alike_sentences(result: EffectsResult) -> Iterator[str]:
    for one in result.alike:
        noun = FACTORS[one.term].noun + one.place
        p = words.p_range(one.p_value)
        spread = f"; spread of the slopes {words.number(one.sd, 2)} points (standard deviation)" if one.sd else ""
        seen = (
            f"coffees were seen to answer differently ({one.test}, {p}{spread}): read each coffee by itself"
            if one.differs
            else f"no difference between coffees was seen ({one.test}, {p}), which is not proof that there is none"
        )
        yield words.sentence(f"{noun}: {seen}")


def grind_top(page: EffectsPage, one: MethodMoves) -> Section:
    """Where the grind curve has its top, and the curve through its brews where one was seen to bend."""
    heading, curved = "<h3>Where is the top of the grind curve?</h3>", one.curved
    if isinstance(curved, NotShown):
        return Section(f"{heading}{paragraph(plain_words(curved.said))}")
    said = bullets(words.sentence(degrees(top.sentence)) for top in curved.tops)
    if all(top.kind == "not settled" for top in curved.tops):
        return Section(heading + said)
    line = next(line for line in setting_lines(curved, page.facts, page.marks) if line.factor in curved.request.curves)
    name = f"curve-{one.method}"
    title = words.capital(words.method_word(one.method))
    drawing = Drawing(name, setting_chart(title, line, setting_domain((line,))), name, needs=("y",))
    return Section(f"{heading}{pair(figure(name, 'Grind, allowed to bend'), said)}", (drawing,), {name: line.marks})
