"""What was set aside, and what was kept with a flag."""

from __future__ import annotations

import polars as pl

from analysis import words
from pipeline.publish.content import PageInput, Section
from pipeline.publish.markup import Head, folded, paragraph, section, table
from pipeline.publish.sections.first_screen import flagged_brews, set_aside_rows

REASON_HEADS = (
    Head("File"),
    Head("Line", True),
    Head("Table"),
    Head("Column"),
    Head("Value"),
    Head("What is wrong"),
    Head("What to do"),
)
MOST_RULES = 5
VOID_HEADS = (Head("Brew"), Head("Coffee"), Head("Method"), Head("Why it is void"))


def left_out(page: PageInput) -> Section:
    """Rows set aside with their fix, flags, and void brews."""
    return Section(_set_aside(page.set_aside) + _flags(page.flags) + _void(page.void))


def _set_aside(rows: pl.DataFrame) -> str:
    heading = "What was set aside"
    if rows.is_empty():
        return section("set-aside", heading, paragraph("Nothing: every row that was handed in is in."))
    n = set_aside_rows(rows)
    what = f"{words.count(n, 'row')}, {words.count(rows.height, 'reason')}: {_by_rule(rows)}."
    mend = (
        "Mend them in the file and take it in again, or mend the list that `brewtrials set-aside --format xlsx` writes."
    )
    command = "`brewtrials set-aside` lists all."
    return section(
        "set-aside",
        heading,
        paragraph(f"{what} Nothing of it is lost. {mend}"),
        table(REASON_HEADS, _reasons(rows), caption="Rows set aside, a line per reason", rest=command),
    )


def _flags(flags: pl.DataFrame) -> str:
    heading = "What was kept with a flag"
    if flags.is_empty():
        return section("flags", heading, paragraph("No flags."))
    brews = flagged_brews(flags)
    what = f"{words.count(flags.height, 'flag')} on {words.count(brews, 'brew')}: {_by_rule(flags)}."
    heads = (Head("Brew"), *REASON_HEADS)
    cells = [(brew, *cells) for brew, cells in zip(flags["brew_id"], _reasons(flags), strict=True)]
    content = table(heads, cells, caption="Flags", rest="`brewtrials flags` lists all.")
    return section(
        "flags", heading, paragraph(f"{what} These rows count; look at them."), folded("Table: flags", content)
    )


def _void(void: pl.DataFrame) -> str:
    if void.is_empty():
        return ""
    rows = [
        (row["brew_id"], row["coffee_name"] or row["coffee_id"], words.method_word(row["method"]), row["void_reason"])
        for row in void.iter_rows(named=True)
    ]
    content = table(VOID_HEADS, rows, caption="Void brews", rest="`brewtrials facts` lists all.")
    return section(
        "void", "Void brews", paragraph(f"{words.count(void.height, 'brew')}, kept but not counted."), content
    )


def _by_rule(rows: pl.DataFrame) -> str:
    """The most frequent rules with their counts, and how many other kinds there are."""
    counts = rows["rule"].value_counts().sort(["count", "rule"], descending=[True, False]).rows()
    named = [f"{rule.replace('_', ' ')} {n}" for rule, n in counts[:MOST_RULES]]
    rest = len(counts) - MOST_RULES
    return words.listed([*named, f"{words.count(rest, 'other kind')}"] if rest > 0 else named)


def _reasons(rows: pl.DataFrame) -> list[tuple[object, ...]]:
    cells: list[tuple[object, ...]] = []
    for row in rows.iter_rows(named=True):
        where = f"{row['source_file']}, sheet {row['sheet']}" if row["sheet"] else row["source_file"]
        cells.append((where, row["line"], row["table"], row["column"], row["value"], row["message"], row["fix"]))
    return cells
