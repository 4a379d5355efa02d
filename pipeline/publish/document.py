"""What every page is: one HTML file with its style, its data as escaped JSON, the chart script and the page's own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import polars as pl

from analysis.charts import palette, theme
from analysis.charts.group_rows import ROW_HEIGHT
from pipeline.publish.bundle import chart_bundle
from pipeline.publish.content import Drawing
from pipeline.publish.embed import page_text, policy, script_json
from pipeline.publish.markup import MOST_PRINTED, escaped

INDEX, EFFECTS, MEASUREMENT = "index.html", "effects.html", "measurement.html"
Filters = Mapping[str, tuple[Sequence[str], Sequence[str]]]
"""Of each group of boxes in the filter: the `data-` attributes that it hides by, and the values in its boxes' order."""


def page_data(
    drawings: Sequence[Drawing],
    *,
    filters: Filters,
    frames: Mapping[str, pl.DataFrame],
    card: Sequence[tuple[str, str]] = (),
) -> str:
    """The page's data as JSON: charts, the frames that they draw from, filters, lines of a brew's card."""
    return script_json(
        {
            "config": theme.CONFIG,
            "filters": filters,
            "card": card,
            "data": {name: {"columns": frame.columns, "rows": frame.rows()} for name, frame in frames.items()},
            "charts": [_chart(drawing) for drawing in drawings],
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


def document(title: str, body: str, data: str) -> str:
    """The whole file as text."""
    bundle, script, style = chart_bundle(), page_text("page.js"), _style()
    allowed = policy(scripts=[bundle, script], styles=[style])
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{escaped(allowed)}">'
        '<meta name="viewport" content="width=device-width,initial-scale=1">'
        '<meta name="referrer" content="no-referrer">'
        f"<title>{escaped(title)}</title><style>{style}</style></head>\n<body>{body}\n"
        f'<script type="application/json" id="page-data">{data}</script>\n'
        f"<script>{bundle}</script>\n<script>{script}</script></body></html>\n"
    )


def link_to(page: str, words: str) -> str:
    """A line that leads to the other page, which lies in the same folder."""
    return f'<p class="other"><a href="{escaped(page)}">{escaped(words)}</a></p>'
