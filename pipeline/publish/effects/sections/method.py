"""One method's block: the answer, what stands in the way, then charts, tables and notes, folded but for the first."""

from __future__ import annotations

from analysis import words
from analysis.charts.domain import Domain
from pipeline.publish.content import Section
from pipeline.publish.effects.content import EffectsPage
from pipeline.publish.effects.moves import MethodMoves
from pipeline.publish.effects.sections.opening import answer, in_the_way
from pipeline.publish.effects.sections.outcomes import channeling, total_against_direct
from pipeline.publish.effects.sections.questions import questions
from pipeline.publish.effects.sections.recipes import recipes
from pipeline.publish.effects.sections.settings import settings
from pipeline.publish.effects.sections.tables import tables
from pipeline.publish.effects.sections.trust import left_out, residuals, spread
from pipeline.publish.markup import escaped, paragraph

PRINTED = "On paper without its charts and tables: they are on the page itself."


def method_block(page: EffectsPage, one: MethodMoves, domain: Domain | None, *, is_open: bool) -> Section:
    """Everything about one method; `domain` is the forest's axis."""
    parts = [
        settings(page, one, domain),
        channeling(one),
        total_against_direct(one) if one.result else Section(""),
        spread(one) if one.result else Section(""),
        left_out(page, one),
        residuals(page, one),
        recipes(page, one) if one.result else Section(""),
        Section(questions(page, one)),
        Section(tables(page, one)),
    ]
    title = words.capital(words.method_word(one.method))
    opened = " open" if is_open else ' class="screen" data-keep'
    elsewhere = "" if is_open else paragraph(PRINTED, kind="note paper")
    inner = "".join(part.html for part in parts)
    html = (
        f'<section id="method-{escaped(one.method)}" data-method="{escaped(one.method)}"><h2>{escaped(title)}</h2>'
        f"{answer(one)}{in_the_way(one)}"
        f"<details{opened}><summary>{escaped(title)}: charts and tables</summary>{inner}</details>"
        f"{elsewhere}</section>\n"
    )
    data = {name: frame for part in parts for name, frame in part.data.items()}
    return Section(html, tuple(drawing for part in parts for drawing in part.drawings), data)
