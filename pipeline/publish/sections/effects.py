"""Effects on yield, one panel per method, in sentences and as intervals."""

from __future__ import annotations

from typing import Any

from analysis import words
from analysis.charts.effect_words import change_in_words, has_interval
from analysis.charts.effects_forest import effect_domains, effects_forest, shown_terms
from analysis.charts.effects_input import EffectsLike, MethodEffects
from analysis.charts.plain_words import degrees, plain_words
from analysis.effects.words import decimals
from pipeline.publish.content import Drawing, PageInput, Section
from pipeline.publish.markup import Head, bullets, escaped, figure, folded, paragraph, section, table

INTRO = (
    "How much the yield changed for one practical step of each factor, the other factors held; in points, which are "
    "percentage points of yield. Diamond: estimate; bar: 95 % interval; right of zero is more yield. An interval "
    "across zero leaves the direction open. The estimates rest on every brew, whatever the filter shows, and describe "
    "the settings that were tried, not beyond. Brews are logged, not assigned by lot: a factor that moved together "
    "with something unlogged shares its effect."
)
HEADS = (
    Head("Method"),
    Head("Change"),
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
        folded("Method note: how each method was fitted", bullets(_fitted_how(fitted))),
    )
    return Section(html, tuple(drawings))


def _title(method: str) -> str:
    return words.capital(words.method_word(method))


def _block(method: str, result: EffectsLike, chart_id: str) -> str:
    title, basis = _title(method), plain_words(_rests_on(result))
    chart = figure(chart_id, title, basis) if shown_terms(result.table).height else ""
    changes = zip(result.table["term"], result.sentences, strict=True)
    text = bullets(degrees(words.sentence(said)) for term, said in changes if not _is_level(term))
    return f'<div class="pair" data-method="{escaped(method)}">{chart}<div>{text}</div></div>'


def _is_level(term: str) -> bool:
    """Whether a row states the yield at average settings, which the table has, instead of a change."""
    return term.startswith("intercept")


def _rests_on(result: EffectsLike) -> str:
    n_coffees = result.table["n_coffees"].max()
    rests = f"Rests on {words.count(result.residuals.height, 'brew')}"
    of = f" of {words.count(n_coffees, 'coffee')}." if isinstance(n_coffees, int) else "."
    dropped = result.table["dropped"][0] or ""
    dropped = "" if dropped.startswith("0 ") else dropped
    return f"{rests}{of} {words.sentence(dropped)}".strip()


def _fitted_how(fitted: list[tuple[str, EffectsLike]]) -> list[str]:
    """The model of each method in its own terms; the only place on the page that names columns and estimators."""
    return [
        f"{words.sentence(result.table['model'][0])} Columns: "
        f"{', '.join(dict.fromkeys(term for term in result.table['term'] if not _is_level(term)))}."
        for _, result in fitted
    ]


def _notes(fitted: list[tuple[str, EffectsLike]]) -> str:
    """What to know beside the numbers, each note once with the methods it is about."""
    about: dict[str, list[str]] = {}
    for method, result in fitted:
        for note in result.notes:
            about.setdefault(note, []).append(words.method_word(method))
    if not about:
        return ""
    lines = (f"{words.capital(words.listed(methods))}: {plain_words(note)}" for note, methods in about.items())
    return "<h3>To know beside these numbers</h3>" + bullets(lines)


def _refused(page: PageInput) -> str:
    refused: list[MethodEffects] = [one for one in page.effects if one.refusal]
    if not refused:
        return ""
    return "<h3>Not analysed</h3>" + bullets(f"{_title(one.method)}: {plain_words(one.refusal)}" for one in refused)


def _table(fitted: list[tuple[str, EffectsLike]]) -> str:
    rows = [_row(method, row) for method, result in fitted for row in result.table.iter_rows(named=True)]
    caption = (
        "Effects on extraction yield, in points per change; an error common to all readings is not in these intervals"
    )
    return table(HEADS, rows, caption=caption)


def _change(row: dict[str, Any]) -> str:
    if not _is_level(row["term"]):
        return words.capital(degrees(change_in_words(row)))
    grinder = row["per"].partition(", on ")[2]
    return f"None: yield at average settings{f' on {grinder}' if grinder else ''}, %"


def _row(method: str, row: dict[str, Any]) -> tuple[object, ...]:
    """Cells of one effect; a level has no p, which would ask whether the yield is zero."""
    known = has_interval(row)
    places = decimals(row["low"], row["high"]) if known else 2
    return (
        words.method_word(method),
        _change(row),
        words.number(row["estimate"], places),
        words.span(row["low"], row["high"], places) if known else words.NO_VALUE,
        words.number(row["std_error"], places + 1),
        words.number(row["df"], 1),
        "" if _is_level(row["term"]) else words.p_range(row["p_value"]).removeprefix("p "),
        row["n_brews"],
        row["n_coffees"],
    )
