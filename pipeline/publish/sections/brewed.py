"""What was brewed, and how clean the data are."""

from __future__ import annotations

import polars as pl

from analysis import words
from analysis.charts.brewing_days import brewing_days
from pipeline.publish.content import Drawing, PageInput, Section
from pipeline.publish.markup import Head, bullets, figure, folded, paragraph, section, table
from pipeline.publish.sections.filter_bar import colour_key

HEADS = (
    Head("Method"),
    Head("Coffee"),
    Head("Brews", True),
    Head("With strength", True),
    Head("With yield", True),
    Head("Channeled", True),
    Head("Not looked at", True),
)


IN_THE_WAY = {
    "reading_on_milk": "it was taken on a milk drink. Read the coffee before the milk goes in.",
    "brix_without_factor": "it is in Brix, and lab.toml has no factor. Declare [readings] brix_factor in lab.toml.",
    "mass_missing": "a weight is missing; the flags below say which.",
    "bypass_unclear": "an answer about bypass is missing; the flags below say which.",
    "bypass_exceeds_beverage": "there is more bypass than the beverage that should contain it. Check both weights.",
    "evaporation_missing": "nothing says what boiled off. Weigh it.",
}
"""What leaves a brew with a reading without a yield, by row rule; of several the first that is flagged counts."""
NOT_FLAGGED = "no flag says why. Look at its row with `brewtrials facts`."


def brewed(page: PageInput) -> Section:
    """Brews over time, counts by method and coffee, and what is missing."""
    brews, marks = page.marks.all, page.marks
    if brews.is_empty():
        return Section(section("brewed", "What was brewed", paragraph("No brews have been taken in yet.")))
    sample = f" Heights are estimated from {marks.drawn.height:,} of {brews.height:,} brews." if marks.is_sample else ""
    drawing = Drawing("days", brewing_days(marks.drawn), data="brews")
    html = section(
        "brewed",
        "What was brewed, and how clean the data are",
        paragraph(_summary(page)),
        bullets(missing(page)),
        colour_key(marks),
        figure("days", "Brews over time", sample.strip()),
        folded("Table: brews by method and coffee", _counts(brews)),
    )
    return Section(html, (drawing,))


def _summary(page: PageInput) -> str:
    brews = page.marks.all
    parts = [
        f"{words.method_word(method)} {n:,}"
        for method, n in brews["method"]
        .value_counts(sort=True)
        .sort(["count", "method"], descending=[True, False])
        .rows()
    ]
    return f"Counted here: {words.count(brews.height, 'brew')} ({words.listed(parts)})."


def missing(page: PageInput) -> list[str]:
    """What the brews lack, a sentence each, with what would mend it."""
    brews = page.marks.all
    no_reading = brews.filter(pl.col("n_readings").fill_null(0) == 0).height
    unsure = page.with_yield.filter(pl.col("extraction_yield_u_pct").is_null()).height
    partly = page.with_yield.filter(
        pl.col("extraction_yield_u_pct").is_not_null(), pl.col("u_note").fill_null("") != ""
    )
    unseen = brews.filter(pl.col("channeled").is_null(), pl.col("balance") == "percolation").height
    lines = [
        (no_reading, "no strength reading, so no yield. Read the strength, or add the readings."),
        *((n, f"a reading but no yield: {why}") for why, n in _without_yield(page).items()),
        (unsure, "a yield without an uncertainty, so no bars: name the instrument, or set a default in lab.toml."),
        (partly.height, f"bars that leave something out: {_common_note(partly)}"),
        (unseen, "no note on channeling, drawn as hollow squares. Look at the flow, and write none, slight or severe."),
    ]
    void = page.void.height
    out = [f"{_have(n)} {text}" for n, text in lines if n]
    return out + ([f"{words.count(void, 'brew')} void: kept in the log, left out of everything here."] if void else [])


def _without_yield(page: PageInput) -> dict[str, int]:
    """Brews that have a reading and no yield, by what their flags say is in the way."""
    brews = page.marks.all.filter(pl.col("y").is_null(), pl.col("n_readings").fill_null(0) > 0)["brew_id"]
    flagged = page.flags.filter(pl.col("rule").is_in(list(IN_THE_WAY)))
    rules: dict[str, set[str]] = {}
    for brew_id, rule in flagged.select("brew_id", "rule").iter_rows():
        rules.setdefault(brew_id, set()).add(rule)
    reasons = [
        next((why for rule, why in IN_THE_WAY.items() if rule in rules.get(brew_id, ())), NOT_FLAGGED)
        for brew_id in brews
    ]
    return {why: reasons.count(why) for why in (*IN_THE_WAY.values(), NOT_FLAGGED) if why in reasons}


def _have(n: int) -> str:
    return f"{words.count(n, 'brew')} {'has' if n == 1 else 'have'}"


def _common_note(partly: pl.DataFrame) -> str:
    if partly.is_empty():
        return ""
    notes = partly["u_note"].value_counts(sort=True).sort(["count", "u_note"], descending=[True, False])
    text: str = notes["u_note"][0]
    return text if text.endswith(".") else f"{text}."


def _counts(brews: pl.DataFrame) -> str:
    rows = (
        brews.group_by("method", "coffee")
        .agg(
            pl.len().alias("n"),
            pl.col("s").count().alias("strength"),
            pl.col("y").count().alias("yields"),
            pl.col("channeled").fill_null(value=False).sum().alias("channeled"),
            pl.col("channeled").is_null().sum().alias("unseen"),
        )
        .sort("method", "coffee")
    )
    cells = [(words.method_word(row[0]), *row[1:]) for row in rows.rows()]
    return table(HEADS, cells, caption="Brews by method and coffee, void brews left out")
