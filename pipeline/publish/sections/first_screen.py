"""The first screen: what to brew next or what stands in the way, what moved extraction, what it all rests on."""

from __future__ import annotations

import polars as pl

from analysis import words
from analysis.charts.answer import answer
from analysis.charts.brewing_days import day_of_brew
from analysis.next_brews.result import NextBrews
from pipeline.publish.content import PageInput, Section
from pipeline.publish.markup import Head, escaped, paragraph, table

QUESTION = "What to brew next, and why?"
HEADS = (
    Head("Method"),
    Head("What to brew, or to do first"),
    Head("How many"),
    Head("Why"),
    Head("What it would settle"),
)


def first_screen(page: PageInput, link: str = "") -> Section:
    """Heading, what to brew next or what stands in the way, what moved extraction, counts; `link`s to other pages."""
    found, lab = page.next_brews, page.settings.name or "Brew trials"
    lead, stop, rest = found.paragraph.partition(". ")
    html = (
        f"<header>{paragraph(lab, kind='lab')}<h1>{escaped(QUESTION)}</h1>"
        f'<div class="{"next stop" if found.is_blocked else "next"}">{paragraph(lead + stop.strip())}'
        f"{paragraph(rest)}</div>{_rows(found)}{_moved(page)}"
        f"{paragraph(_waiting(page), kind='next stop')}{link}{_counts(page)}</header>"
    )
    return Section(html)


def _rows(found: NextBrews) -> str:
    rows = [(words.capital(row.method), row.what, row.how_many, row.why, row.settles) for row in found.rows]
    return table(HEADS, rows, caption="What to brew or to do, the most telling first") if rows else ""


def _moved(page: PageInput) -> str:
    """What moved extraction so far, in brief."""
    found = answer(page.effects, n_brews=page.marks.all.height, n_yields=page.with_yield.height)
    said = "".join(map(paragraph, found.said))
    return f"<h3>What moved extraction so far</h3>{said}{paragraph(found.note, kind='note')}"


def _waiting(page: PageInput) -> str:
    aside, flagged = set_aside_rows(page.set_aside), flagged_brews(page.flags)
    parts = []
    if aside:
        parts.append(f"{words.count(aside, 'row is', 'rows are')} set aside and counted nowhere here until mended")
    if flagged:
        parts.append(f"{words.count(flagged, 'brew is', 'brews are')} flagged and count as they stand")
    return f"{words.listed(parts)}: see the end of the page." if parts else ""


def flagged_brews(flags: pl.DataFrame) -> int:
    """Brews with a flag."""
    return flags.filter(pl.col("brew_id").is_not_null())["brew_id"].n_unique()


def set_aside_rows(set_aside: pl.DataFrame) -> int:
    """Rows set aside; one row may have several reasons."""
    return set_aside.select("source_file", "sheet", "table", "line").unique().height


def _counts(page: PageInput) -> str:
    marks = page.marks
    aside, flagged = set_aside_rows(page.set_aside), flagged_brews(page.flags)
    counts = [
        (marks.all.height, _noun(marks.all.height, "brew")),
        (len(marks.coffees), _noun(len(marks.coffees), "coffee")),
        (marks.all["method"].n_unique(), _noun(marks.all["method"].n_unique(), "method")),
        (page.with_yield.height, "with a yield"),
        (page.void.height, "void, left out"),
        (aside, f"{_noun(aside, 'row')} set aside"),
        (flagged, f"{_noun(flagged, 'brew')} flagged"),
    ]
    items = "".join(f"<div><dt>{escaped(name)}</dt><dd>{n:,}</dd></div>" for n, name in counts)
    return f'<dl class="counts">{items}</dl>{paragraph(days_of(page.facts), kind="note")}'


def _noun(n: int, noun: str) -> str:
    return words.count(n, noun).partition(" ")[2]


def days_of(facts: pl.DataFrame) -> str:
    """The span of the brewing days, as a sentence; empty without brews."""
    days = facts.select(day_of_brew())["day"].drop_nulls()
    if days.is_empty():
        return ""
    ordered = days.sort()
    return f"Brewed {words.day_span(ordered[0], ordered[-1])}."
