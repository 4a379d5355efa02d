"""The dashboard: one HTML file that needs nothing else."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import polars as pl
from altair.utils.schemapi import debug_mode

from analysis.charts import palette, theme
from analysis.charts.brews import brew_marks
from analysis.charts.effects_input import MethodEffects
from analysis.charts.group_rows import ROW_HEIGHT
from pipeline.publish.bundle import chart_bundle
from pipeline.publish.content import Drawing, PageInput, Section
from pipeline.publish.embed import page_text, policy, script_json
from pipeline.publish.markup import MOST_PRINTED, escaped
from pipeline.publish.records import CARD, Choices, brew_records, choices
from pipeline.publish.sections.brewed import brewed
from pipeline.publish.sections.channeling import channeling
from pipeline.publish.sections.effects import effects as effects_section
from pipeline.publish.sections.filter_bar import filter_bar
from pipeline.publish.sections.first_screen import QUESTION, first_screen
from pipeline.publish.sections.left_out import left_out
from pipeline.publish.sections.notes import footer, notes
from pipeline.publish.sections.residual_checks import residual_checks
from pipeline.publish.sections.strength import strength
from pipeline.publish.sections.yields import yields
from schemas.lab import LabSettings

SECTIONS: tuple[Callable[[PageInput], Section], ...] = (
    brewed,
    strength,
    yields,
    effects_section,
    channeling,
    residual_checks,
    left_out,
    notes,
)
"""In reading order, after the first screen."""


def write_dashboard(
    facts: pl.DataFrame,
    flags: pl.DataFrame,
    set_aside: pl.DataFrame,
    effects: Sequence[MethodEffects],
    out_dir: Path,
    *,
    settings: LabSettings,
    manifest_number: int,
    targets: pl.DataFrame | None = None,
) -> Path:
    """Write `index.html` into `out_dir` (made if absent) and return its path; the same input gives the same bytes."""
    marks = brew_marks(facts)
    order = [panel.method for panel in marks.panels]
    ordered = sorted(effects, key=lambda one: order.index(one.method) if one.method in order else len(order))
    page = PageInput(facts, flags, set_aside, ordered, settings, manifest_number, targets, marks)
    out_dir.mkdir(parents=True, exist_ok=True)
    path = out_dir / "index.html"
    path.write_text(page_html(page), encoding="utf-8", newline="\n")
    return path


def page_html(page: PageInput) -> str:
    """The whole page as text. The charts' schema is checked in tests; at every mark of every page it costs too much."""
    offered = choices(page.marks)
    with debug_mode(False):
        parts = [make(page) for make in SECTIONS]
    body = (
        first_screen(page).html
        + filter_bar(page.marks, offered)
        + f"<main>{''.join(part.html for part in parts)}</main>"
        + footer(page)
        + '<div id="card" hidden></div>'
    )
    return _document(page, body, _data(page, parts, offered))


def _data(page: PageInput, parts: Sequence[Section], offered: Choices) -> str:
    frames = {"brews": brew_records(page.marks, offered, page.flags)}
    for part in parts:
        frames |= part.data
    return script_json(
        {
            "config": theme.CONFIG,
            "methods": offered.methods,
            "card": CARD,
            "data": {name: {"columns": frame.columns, "rows": frame.rows()} for name, frame in frames.items()},
            "charts": [_chart(drawing) for part in parts for drawing in part.drawings],
        }
    )


def _chart(drawing: Drawing) -> dict[str, Any]:
    spec = drawing.chart.to_dict(validate=False)
    spec.pop("config", None)
    return {
        "id": drawing.chart_id,
        "data": drawing.data,
        "panel": drawing.panel,
        "needs": drawing.needs,
        "brush": drawing.brush,
        "row_field": drawing.row_field,
        "row_height": ROW_HEIGHT,
        "spec": spec,
    }


def _style() -> str:
    hues = range(len(palette.HUES) + 1)
    dots = "".join(f".k{k}{{fill:var(--fill-{k});stroke:var(--edge-{k})}}" for k in hues)
    text = page_text("page.css")
    for name, paper in (("%LIGHT%", palette.LIGHT_PAPER), ("%DARK%", palette.DARK_PAPER)):
        text = text.replace(name, palette.css_variables(paper))
    text = text.replace("%UNPRINTED%", str(MOST_PRINTED + 1))
    return f"{text}{dots}.ink{{fill:var(--ink);stroke:var(--ink)}}"


def _document(page: PageInput, body: str, data: str) -> str:
    bundle, script, style = chart_bundle(), page_text("page.js"), _style()
    allowed = policy(scripts=[bundle, script], styles=[style])
    title = f"{QUESTION} {page.settings.name}".strip()
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{escaped(allowed)}">'
        '<meta name="viewport" content="width=device-width,initial-scale=1">'
        '<meta name="referrer" content="no-referrer">'
        f"<title>{escaped(title)}</title><style>{style}</style></head>\n<body>{body}\n"
        f'<script type="application/json" id="page-data">{data}</script>\n'
        f"<script>{bundle}</script>\n<script>{script}</script></body></html>\n"
    )
