"""Effects on yield, one panel per method, in sentences and as intervals."""

from __future__ import annotations

from typing import Any

from analysis import words
from analysis.charts.effects_forest import effect_domains, effects_forest, shown_terms
from analysis.charts.effects_input import EffectsLike, MethodEffects
from pipeline.publish.content import Drawing, PageInput, Section
from pipeline.publish.markup import Head, bullets, escaped, figure, folded, paragraph, section, table

INTRO = (
    "How much the yield changed for one practical step of each factor, the other factors held. Diamond: estimate; bar: "
    "95 % interval; right of zero is more yield. An interval across zero leaves the direction open. The estimates rest "
    "on every brew, whatever the filter shows, and describe the settings that were tried, not beyond. Brews are "
    "logged, not assigned by lot: a factor that moved together with something unlogged shares its effect."
)
HEADS = (
    Head("Method"),
    Head("Term"),
    Head("Per"),
    Head("Estimate, points", True),
    Head("95 % interval", True),
    Head("Standard error", True),
    Head("Degrees of freedom", True),
    Head("p", True),
    Head("Brews", True),
    Head("Coffees", True),
)


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
        _notes(fitted),
        _refused(page),
        folded("Table: effects", _table(fitted)) if fitted else "",
    )
    return Section(html, tuple(drawings))


def _title(method: str) -> str:
    return words.capital(words.method_word(method))


def _block(method: str, result: EffectsLike, chart_id: str) -> str:
    first = result.table.row(0, named=True)
    dropped = f" {words.capital(first['dropped']).rstrip('.')}." if first["dropped"] else ""
    basis = f"{words.capital(first['model']).rstrip('.')}.{dropped}"
    chart = figure(chart_id, _title(method), basis) if shown_terms(result.table).height else ""
    text = bullets(map(words.sentence, result.sentences))
    return f'<div class="pair" data-method="{escaped(method)}">{chart}<div>{text}</div></div>'


def _notes(fitted: list[tuple[str, EffectsLike]]) -> str:
    """What to know beside the numbers, each note once with the methods it is about."""
    about: dict[str, list[str]] = {}
    for method, result in fitted:
        for note in result.notes:
            about.setdefault(note, []).append(words.method_word(method))
    if not about:
        return ""
    lines = (f"{words.capital(words.listed(methods))}: {note}" for note, methods in about.items())
    return "<h3>To know beside these numbers</h3>" + bullets(lines)


def _refused(page: PageInput) -> str:
    refused: list[MethodEffects] = [one for one in page.effects if one.refusal]
    if not refused:
        return ""
    return "<h3>Not analysed</h3>" + bullets(f"{_title(one.method)}: {one.refusal}" for one in refused)


def _table(fitted: list[tuple[str, EffectsLike]]) -> str:
    rows = [_row(method, row) for method, result in fitted for row in result.table.iter_rows(named=True)]
    return table(HEADS, rows, caption="Effects on extraction yield; the intercept is the yield at mean settings")


def _row(method: str, row: dict[str, Any]) -> tuple[object, ...]:
    has_interval = row["low"] is not None and row["high"] is not None
    return (
        words.method_word(method),
        row["term"],
        row["per"],
        words.number(row["estimate"], 2),
        words.span(row["low"], row["high"], 2) if has_interval else words.NO_VALUE,
        words.number(row["std_error"], 3),
        words.number(row["df"], 1),
        words.p_range(row["p_value"]).removeprefix("p "),
        row["n_brews"],
        row["n_coffees"],
    )
