"""The first screen: the question, the answer, what to do next, and what it all rests on."""

from __future__ import annotations

import polars as pl

from analysis import words
from analysis.charts.answer import answer
from pipeline.publish.content import PageInput, Section
from pipeline.publish.html import escaped, paragraph

QUESTION = "What moved extraction?"


def first_screen(page: PageInput) -> Section:
    """Heading, answer, next step and counts."""
    found = answer(page.effects, n_brews=page.marks.all.height, n_yields=page.with_yield.height)
    lab = page.settings.name or "Brew trials"
    said = paragraph(found.said[0], kind="said") + "".join(map(paragraph, found.said[1:]))
    html = (
        f"<header>{paragraph(lab, kind='lab')}<h1>{escaped(QUESTION)}</h1>{said}"
        f"{paragraph(found.next_step, kind='next stop' if found.is_blocked else 'next')}"
        f"{paragraph(_waiting(page), kind='next stop')}{_counts(page)}</header>"
    )
    return Section(html)


def _waiting(page: PageInput) -> str:
    rows = set_aside_rows(page.set_aside)
    if not rows:
        return ""
    verb = "is" if rows == 1 else "are"
    return f"{words.count(rows, 'row')} {verb} set aside and missing from everything here until mended; see the end of the page."


def set_aside_rows(set_aside: pl.DataFrame) -> int:
    """Rows set aside; one row may have several reasons."""
    return set_aside.select("source_file", "sheet", "table", "line").unique().height


def _counts(page: PageInput) -> str:
    marks = page.marks
    flagged = page.flags.filter(pl.col("brew_id").is_not_null())["brew_id"].n_unique()
    counts = [
        ("brews", f"{marks.all.height:,}"),
        ("coffees", str(len(marks.coffees))),
        ("methods", str(marks.all["method"].n_unique())),
        ("with a yield", f"{page.with_yield.height:,}"),
        ("void, left out", f"{page.void.height:,}"),
        ("rows set aside", f"{set_aside_rows(page.set_aside):,}"),
        ("brews flagged", f"{flagged:,}"),
    ]
    items = "".join(f"<div><dt>{escaped(name)}</dt><dd>{escaped(value)}</dd></div>" for name, value in counts)
    return f'<dl class="counts">{items}</dl>{paragraph(days_of(page.facts), kind="note")}'


def days_of(facts: pl.DataFrame) -> str:
    """The span of the brewing days, as a sentence; empty without brews."""
    days = facts.select(pl.coalesce("brewed_on", pl.col("brewed_at").dt.date())).to_series().drop_nulls()
    if days.is_empty():
        return ""
    return (
        f"Brewed {words.day_span(*days.sort().to_list()[:: max(days.len() - 1, 1)][:2])}."
        if days.len() > 1
        else (f"Brewed {words.day(days[0])}.")
    )
