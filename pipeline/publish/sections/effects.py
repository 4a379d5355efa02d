"""Effects on yield, one panel per method, in sentences and as intervals."""

from __future__ import annotations

from analysis import words
from analysis.charts.effects_forest import effect_domains, effects_forest, shown_terms
from analysis.charts.effects_input import EffectsLike, MethodEffects
from analysis.charts.plain_words import degrees, plain_words
from pipeline.publish.content import Drawing, PageInput, Section
from pipeline.publish.document import EFFECTS, link_to
from pipeline.publish.markup import bullets, escaped, figure, folded, paragraph, section
from pipeline.publish.sections.effects_table import effects_table, is_level

INTRO = (
    "How much the yield changed for one practical step of each factor, the other factors held; in points, which are "
    "percentage points of yield. Diamond: estimate; bar: 95 % interval; right of zero is more yield. An interval "
    "across zero leaves the direction open. The estimates rest on every brew, whatever the filter shows, and describe "
    "the settings that were tried, not beyond. Brews are logged, not assigned by lot: a factor that moved together "
    "with something unlogged shares its effect."
)
MORE = "What moved extraction, method by method: checks, coffees, channeling, where the spread comes from"


def effects(page: PageInput) -> Section:
    """Sentences and intervals of each method; methods without a model say why."""
    fitted = [(one.method, one.result) for one in page.effects if one.result is not None]
    domains = effect_domains([result.table for _, result in fitted])
    blocks: list[str] = []
    drawings: list[Drawing] = []
    for (method, result), domain in zip(fitted, domains, strict=True):
        chart_id = f"effects-{len(drawings)}"
        drawings.append(Drawing(chart_id, effects_forest(_title(method), result.table, domain)))
        blocks.append(_block(method, result, chart_id))
    own_scales = "Panels have scales of their own." if len(set(map(str, domains))) > 1 else ""
    html = section(
        "effects",
        "Effects on yield",
        paragraph(INTRO) if fitted else paragraph("No method has an analysis yet."),
        paragraph(own_scales, kind="note"),
        "".join(blocks),
        _refused(page),
        folded("Table: effects", effects_table(fitted)) if fitted else "",
        link_to(EFFECTS, MORE) if page.with_effects else "",
    )
    return Section(html, tuple(drawings))


def _title(method: str) -> str:
    return words.capital(words.method_word(method))


def _block(method: str, result: EffectsLike, chart_id: str) -> str:
    title, basis = _title(method), plain_words(_rests_on(result))
    chart = figure(chart_id, title, basis) if shown_terms(result.table).height else ""
    changes = zip(result.table["term"], result.sentences, strict=True)
    text = bullets(degrees(words.sentence(said)) for term, said in changes if not is_level(term))
    return f'<div class="pair" data-method="{escaped(method)}">{chart}<div>{text}</div></div>'


def _rests_on(result: EffectsLike) -> str:
    n_coffees = result.table["n_coffees"].max()
    rests = f"Rests on {words.count(result.residuals.height, 'brew')}"
    of = f" of {words.count(n_coffees, 'coffee')}." if isinstance(n_coffees, int) else "."
    dropped = result.table["dropped"][0] or ""
    dropped = "" if dropped.startswith("0 ") else dropped
    return f"{rests}{of} {words.sentence(dropped)}".strip()


def _refused(page: PageInput) -> str:
    refused: list[MethodEffects] = [one for one in page.effects if one.refusal]
    if not refused:
        return ""
    return "<h3>Not analysed</h3>" + bullets(f"{_title(one.method)}: {plain_words(one.refusal)}" for one in refused)
