"""Strength against yield, one panel per method."""

from __future__ import annotations

import polars as pl

from analysis import words
from analysis.charts.boxes import TargetBox, boxes_for
from analysis.charts.described import range_words
from analysis.charts.panels import Panel
from analysis.charts.strength_yield import on_panel, strength_yield
from pipeline.publish.content import FEWEST_FOR_PANEL, Drawing, PageInput, Section
from pipeline.publish.markup import Head, figure, on_screen, pair, paragraph, section, table
from pipeline.publish.sections.filter_bar import colour_key

INTRO = (
    "Each mark is a brew. Higher is stronger in the cup; further right, more of the dose went into solution. Bars: the "
    "95 % interval of that brew's own measurement (1.96 standard uncertainties). Where the uncertainty of a weighing "
    "or a reading is not known, it is left out and the bar is too short."
)
HOW = "Drag over a chart to mark brews in all charts; a double click on it, or Escape, clears."
RATIO_LINES = {
    "percolation": "Grey lines: one ratio each, grams in the cup per gram of dose.",
    "immersion": "Grey lines: one ratio each, grams of water per gram of dose; what the grounds hold counts too.",
}
SEE_FACTS = "On paper without the table of every brew: it is on the page itself and in `brewtrials facts`."
HEADS = (
    Head("Brew"),
    Head("Day"),
    Head("Method"),
    Head("Coffee"),
    Head("Yield, % of dose", True),
    Head("Standard uncertainty, points", True),
    Head("Strength in the cup, %", True),
    Head("Standard uncertainty, %", True),
    Head("Channeling"),
)


def strength(page: PageInput) -> Section:
    """A panel per method that has brews with yield and strength."""
    both = page.marks.all.filter(pl.col("y").is_not_null(), pl.col("s").is_not_null())
    heading = "Strength against yield"
    if both.is_empty():
        return Section(section("strength", heading, paragraph("No brew has both a strength and a yield.")))
    figures: list[str] = []
    drawings: list[Drawing] = []
    unboxed: list[str] = []
    for panel in page.panels:
        brews = both.filter(pl.col("panel") == panel.key)
        if brews.is_empty():
            continue
        chart_id, boxes = f"strength-{len(drawings)}", boxes_for(panel, page.targets)
        chart = strength_yield(panel, brews, boxes)
        drawings.append(Drawing(chart_id, chart, "brews", panel.key, needs=("y", "s"), brush=True))
        title = f"{panel.title}, {words.count(brews.height, 'brew')}"
        below = f"{caption(panel, boxes)} {far_off(brews, on_panel(brews))}".strip()
        figures.append(figure(chart_id, title, below, method=panel.method))
        unboxed += [] if boxes else [words.method_word(panel.method)]
    html = section(
        "strength",
        heading,
        paragraph(INTRO),
        paragraph(HOW, kind="note screen"),
        paragraph(sample_note(page), kind="note"),
        colour_key(page.marks),
        pair(*figures),
        paragraph(_no_box(unboxed), kind="note"),
        paragraph(seldom_brewed(page), kind="note"),
        on_screen("Table: strength and yield of every brew", _table(both), printed=SEE_FACTS),
    )
    return Section(html, tuple(drawings))


def caption(panel: Panel, boxes: tuple[TargetBox, ...]) -> str:
    """What the lines and boxes of a panel are."""
    parts = [RATIO_LINES[panel.balance]]
    for box in boxes:
        look = "Dashed box" if box.is_own else "Green box"
        parts.append(
            f"{look}: yield {box.yield_low:g} to {box.yield_high:g} %, strength {box.strength_low:g} to "
            f"{box.strength_high:g} %, {box.source}."
        )
    return " ".join(parts)


def _no_box(methods: list[str]) -> str:
    """Why some panels have no box, and how to get one."""
    if not methods:
        return ""
    named = words.listed(list(dict.fromkeys(methods)))
    return (
        f"No box for {named}: the published one is for hot drip coffee only. Targets of your own for strength and "
        "yield of a method as a whole (the targets table) draw one."
    )


def seldom_brewed(page: PageInput) -> str:
    """The methods without a panel, with their yields."""
    parts = []
    for panel in page.seldom:
        brews = page.with_yield.filter(pl.col("panel") == panel.key)
        found = range_words("yield", brews["y"], 1, "%") if brews.height else "no yield"
        parts.append(f"{panel.title.lower()} ({words.count(panel.n_brews, 'brew')}, {found})")
    return f"Under {FEWEST_FOR_PANEL} brews with a yield, so without a panel: {words.listed(parts)}." if parts else ""


def far_off(brews: pl.DataFrame, shown: pl.DataFrame) -> str:
    """Names the brews that lie too far from the others for the chart, with their yields."""
    off = brews.join(shown.select("brew_id"), on="brew_id", how="anti", maintain_order="left")
    if off.is_empty():
        return ""
    named = [f"{row['brew_id']} at {words.number(row['y'], 1)} %" for row in off.head(4).iter_rows(named=True)]
    more = [words.count(off.height - 4, "more", "more")] if off.height > 4 else []
    what = words.listed([*named, *more])
    return f"Off the chart, far from the rest: {what}. They count until mended: check those records."


def sample_note(page: PageInput) -> str:
    """Says that marks are a sample, when they are."""
    marks = page.marks
    if not marks.is_sample:
        return ""
    return (
        f"Drawn: {marks.drawn.height:,} of {marks.all.height:,} brews, spread evenly over time within each coffee and "
        f"method. Sentences and tables count all of them."
    )


def _table(brews: pl.DataFrame) -> str:
    rows = [
        (
            row["brew_id"],
            row["brewed_on"] or row["brewed_at"].date(),
            words.method_word(row["method"]),
            row["coffee"],
            words.number(row["y"], 1),
            words.number(row["extraction_yield_u_pct"], 2),
            words.number(row["s"], 2),
            words.number(row["tds_u_pct"], 3),
            row["channeling"] or "not looked at",
        )
        for row in brews.iter_rows(named=True)
    ]
    return table(HEADS, rows, caption="Strength and yield", rest="`brewtrials facts` lists all.")
