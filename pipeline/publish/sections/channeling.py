"""Channeled against clean brews."""

from __future__ import annotations

import polars as pl

from analysis import words
from analysis.charts.channeling_rows import channeling_rows
from analysis.charts.panels import Panel
from analysis.charts.within_coffee import channeled_less_clean
from analysis.charts.yield_by_coffee import yield_domain
from analysis.charts.yield_summary import yield_summary
from pipeline.publish.content import Drawing, PageInput, Section
from pipeline.publish.markup import Head, bullets, figure, folded, pair, paragraph, section, table
from pipeline.publish.sections.yields import interval_cell

INTRO = (
    "Water that finds a quick way through the bed leaves part of it behind: yield falls and the cup can be sour and "
    "bitter at once. The sentences compare brews of the same coffee, settings as they came; the effects above hold the "
    "other factors equal, so the two can differ."
)
HEADS = (
    Head("Method"),
    Head("Brews that were"),
    Head("Brews", True),
    Head("Mean yield, % of dose", True),
    Head("95 % interval of the mean", True),
)


def channeling(page: PageInput) -> Section:
    """A panel for each method in which channeling was looked for."""
    heading = "Channeled against clean brews"
    brews = page.with_yield
    looked = brews.filter(pl.col("channeled").is_not_null())
    if not looked["channeled"].any():
        seen = words.count(looked.height, "brew")
        text = f"No brew with a yield was noted as channeled ({seen} looked at), so there is nothing to compare."
        return Section(section("channeling", heading, paragraph(text)))
    domain = yield_domain(brews)
    figures: list[str] = []
    drawings: list[Drawing] = []
    sentences: list[str] = []
    shown = [panel for panel in page.panels if looked.filter(pl.col("panel") == panel.key)["channeled"].any()]
    for panel in shown:
        of_panel = brews.filter(pl.col("panel") == panel.key)
        chart_id = f"channeling-{len(drawings)}"
        chart = channeling_rows(panel, of_panel, domain)
        drawings.append(Drawing(chart_id, chart, "brews", panel.key, needs=("y",), row_field="state"))
        figures.append(figure(chart_id, panel.title, method=panel.method))
        sentences.append(difference_sentence(panel, of_panel.filter(pl.col("channeled").is_not_null())))
    if not shown:
        text = "Brews noted as channeled belong only to methods with under five brews: too few to compare."
        return Section(section("channeling", heading, paragraph(text)))
    rest = brews.filter(pl.col("panel").is_in([panel.key for panel in shown]))
    html = section(
        "channeling",
        heading,
        paragraph(INTRO),
        bullets(sentences),
        pair(*figures),
        folded("Table: mean yield, clean and channeled", _table(rest)),
    )
    return Section(html, tuple(drawings))


def difference_sentence(panel: Panel, brews: pl.DataFrame) -> str:
    """Channeled less clean within coffee, in words, or why it cannot be said."""
    found = channeled_less_clean(brews)
    if found is None:
        n = words.count(int(brews["channeled"].sum()), "channeled brew")
        return f"{panel.title}: {n}, too few beside clean brews of the same coffee to state a difference."
    n_brews = f"{found.n_channeled:,} channeled against {found.n_clean:,} clean"
    return (
        f"{panel.title}: channeled brews yielded {words.more_or_less(found.estimate, 1, 'points')} than clean ones of "
        f"the same coffee, 95 % interval {words.more_or_less_span(found.low, found.high, 1)} ({n_brews}, "
        f"{words.count(found.n_coffees, 'coffee')} with both)."
    )


def _table(brews: pl.DataFrame) -> str:
    rows = yield_summary(brews, ("method", "state")).sort("method", "state").iter_rows(named=True)
    cells = [
        (
            words.method_word(row["method"]),
            row["state"],
            row["n"],
            words.number(row["mean"], 1),
            interval_cell(row["low"], row["high"]),
        )
        for row in rows
    ]
    return table(HEADS, cells, caption="Mean extraction yield, clean and channeled, all coffees together")
