"""What the fill-in workbook tells its reader: the first sheet, and the note on every header cell."""

from __future__ import annotations

from typing import Literal

from schemas.column import Column
from schemas.table import Table

Style = Literal["title", "heading", "text"]
READ_ME: tuple[tuple[Style, str], ...] = (
    ("title", "Brew trials: a workbook to fill in"),
    ("heading", "What to do"),
    ("text", "1. Start on the sheet 'brews': one row per brew. Rest the pointer on a header to see unit and meaning."),
    ("text", "2. Write each strength reading on its own row of 'readings', with the brew_id of its brew."),
    (
        "text",
        "3. Describe your coffees, grinders and instruments once on their sheets; say for each grinder which way finer "
        "is. Whatever you do not use stays empty; sheets may be deleted.",
    ),
    (
        "text",
        "4. Delete every example row (italic, ids beginning with 'example-'): select the row's number, then Delete. "
        "If one stays in, it is taken in as a coffee or brew called example-...",
    ),
    ("text", "5. Save, then: brewtrials ingest YOUR-FILE.xlsx --lab YOUR-PROJECT-FOLDER"),
    ("heading", "How to read the sheets"),
    ("text", "Dark headers must be filled in on every row of their sheet; pale headers may stay empty."),
    (
        "text",
        "Empty means not measured or not looked at. Do not write 0, a dash or n/a for that; 0 is a measurement.",
    ),
    (
        "text",
        "Masses in g, times in s, temperatures in C, strength in % (1.35, not 0.0135). Dates as 2026-03-02 09:15. "
        "Keep the column names; the order of columns is free, and own columns may be added.",
    ),
    ("heading", "Cautions"),
    (
        "text",
        "Near-boiling water, steam, pressurised brewers, drying ovens and hot dishes burn. Follow the maker's manual "
        "and your workplace's rules; never leave a drying oven unattended.",
    ),
    (
        "text",
        "Tasting adds up caffeine. Published guidance for healthy adults is up to 400 mg a day and 200 mg at once "
        "(EFSA 2015), less in pregnancy. Spit, share, or stop; ask a physician where in doubt.",
    ),
    ("text", "Clean cups, spoons and hands; food hygiene follows your local code."),
    (
        "text",
        "The statistics support a decision. They do not certify a product or an instrument.",
    ),
)
KIND_WORDS = {
    "text": "text",
    "choice": "one word of the list",
    "boolean": "yes or no",
    "number": "a number",
    "integer": "a whole number",
    "date": "a date, such as 2026-03-02",
    "time": "date and time, such as 2026-03-02 09:15; the day alone will do",
}
KIND_OF_UNIT = ("date", "time")
"""Units of the dictionary that only repeat the kind."""


def header_note(table: Table, column: Column) -> str:
    """The note on a header cell: meaning, unit, limits, choices, and whether it must be filled in."""
    lines = [f"{column.meaning}."]
    unit = f", in {column.unit}" if column.unit and column.unit not in KIND_OF_UNIT else ""
    lines.append(f"Write {KIND_WORDS[column.kind]}{unit}.")
    if column.choices:
        lines.append(f"One of: {', '.join(column.choices)}.")
    limits = limit_words(column)
    if limits:
        lines.append(f"Not taken in unless {limits}.")
    if column.usual:
        note = f" ({column.usual_note})" if column.usual_note else ""
        lines.append(f"Usually {column.usual[0]:g} to {column.usual[1]:g}{note}.")
    lines.append(need_words(table, column))
    return "\n".join(lines)


def need_words(table: Table, column: Column) -> str:
    """Whether a row of this table needs the column."""
    if column.name in table.required:
        return "MUST be filled in."
    groups = [group for group in table.one_of if column.name in group]
    if groups:
        ways = ", or ".join(" with ".join(group) for group in table.one_of)
        return f"One of these must be filled in: {ways}."
    return "May stay empty."


def limit_words(column: Column) -> str:
    """The hard limits in words; empty when there are none.

    >>> from schemas.columns import COLUMNS
    >>> limit_words(COLUMNS["moisture_pct"])
    'from 0 to 15'
    >>> limit_words(COLUMNS["dose_g"])
    '0 or more'
    """
    if column.above is not None:
        most = f" and at most {column.high:g}" if column.high is not None else ""
        return f"more than {column.above:g}{most}"
    if column.low is not None and column.high is not None:
        return f"from {column.low:g} to {column.high:g}"
    if column.low is not None:
        return f"{column.low:g} or more"
    return f"at most {column.high:g}" if column.high is not None else ""
