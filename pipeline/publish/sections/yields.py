"""Extraction yield by coffee and method."""

from __future__ import annotations

import polars as pl

from analysis import words
from analysis.charts.group_rows import FEWEST_FOR_INTERVAL
from analysis.charts.yield_by_coffee import yield_by_coffee, yield_domain
from analysis.charts.yield_summary import yield_summary
from pipeline.publish.content import Drawing, PageInput, Section
from pipeline.publish.markup import Head, figure, folded, pair, paragraph, section, table
from pipeline.publish.sections.strength import far_off, seldom_brewed

INTRO = (
    "Points: brews. Under them, the mean with its 95 % interval (thin) and 50 % interval (thick), given from "
    f"{FEWEST_FOR_INTERVAL} brews on. The intervals hold the scatter of brews, not an error common to all readings. "
    "The brews are taken as they came: coffees brewed to different recipes differ for that reason too, and methods "
    "differ by their recipes and by their mass balance. All panels have one scale."
)
HEADS = (
    Head("Method"),
    Head("Coffee"),
    Head("Brews", True),
    Head("Mean yield, % of dose", True),
    Head("Standard deviation", True),
    Head("95 % interval of the mean", True),
)


def yields(page: PageInput) -> Section:
    """A panel per method, a row per coffee."""
    brews = page.with_yield
    if brews.is_empty():
        return Section("")
    domain = yield_domain(brews)
    figures: list[str] = []
    drawings: list[Drawing] = []
    for panel in page.panels:
        of_panel = brews.filter(pl.col("panel") == panel.key)
        if of_panel.is_empty():
            continue
        chart_id = f"yields-{len(drawings)}"
        chart = yield_by_coffee(panel, of_panel, page.marks.coffees, domain)
        drawings.append(Drawing(chart_id, chart, "brews", panel.key, needs=("y",), row_field="coffee"))
        below = far_off(of_panel, of_panel.filter(pl.col("y").is_between(domain.low, domain.high)))
        figures.append(figure(chart_id, panel.title, below, method=panel.method))
    html = section(
        "yields",
        "Yield by coffee and method",
        paragraph(INTRO),
        pair(*figures),
        paragraph(seldom_brewed(page), kind="note"),
        folded("Table: mean yield by method and coffee", _table(brews)),
    )
    return Section(html, tuple(drawings))


def _table(brews: pl.DataFrame) -> str:
    rows = yield_summary(brews, ("method", "coffee")).sort("method", "coffee").iter_rows(named=True)
    cells = [
        (
            words.method_word(row["method"]),
            row["coffee"],
            row["n"],
            words.number(row["mean"], 1),
            words.number(row["sd"], 2),
            interval_cell(row["low"], row["high"]),
        )
        for row in rows
    ]
    return table(HEADS, cells, caption="Mean extraction yield")


def interval_cell(low: float | None, high: float | None) -> str:
    """An interval, or why there is none."""
    if low is None or high is None:
        return f"under {FEWEST_FOR_INTERVAL} brews"
    return words.span(low, high, 1)
