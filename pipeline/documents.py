"""The parts of README.md that the code knows best: the data dictionary and the row rules, written as Markdown.

Run `python -m pipeline.documents README.md` after a column or a rule has changed; a test compares the two.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable
from pathlib import Path

from schemas.column import Column
from schemas.columns import COLUMNS
from schemas.contracts import TABLES
from schemas.reports import DERIVED_FACT_COLUMNS
from schemas.rules import RULES
from schemas.table import Table

KIND_WORDS = {
    "text": "text",
    "number": "number",
    "integer": "whole number",
    "boolean": "yes or no",
    "date": "date",
    "time": "time",
    "choice": "one of",
}
SEVERITY_WORDS = {"hard": "set aside", "soft": "kept, flagged", "strong": "kept, flagged strongly"}


def dictionary() -> str:
    """Every input table with its columns, then the columns that the toolkit adds to `brew_facts`."""
    parts = [_table_part(table) for table in TABLES.values()]
    derived = [COLUMNS[name] for name in DERIVED_FACT_COLUMNS]
    parts.append("#### brew_facts\n\nAll columns of brews, and these.\n\n" + _rows_of(derived, required=()))
    return "\n\n".join(parts)


def row_rules() -> str:
    """Every named row rule: what becomes of the row, what it says, what to try."""
    lines = ["| rule | the row is | says | what to try |", "|---|---|---|---|"]
    lines += [
        f"| `{rule.name}` | {SEVERITY_WORDS[rule.severity]} | {_cell(rule.message)} | {_cell(rule.fix)} |"
        for rule in RULES.values()
    ]
    return "\n".join(lines)


def fill_in(text: str) -> str:
    """The document with the text between each pair of markers made anew."""
    for name, made in (("dictionary", dictionary()), ("row rules", row_rules())):
        begin, end = f"<!-- {name}: made by make tables -->", f"<!-- end of {name} -->"
        before, _, rest = text.partition(begin)
        _, _, after = rest.partition(end)
        text = f"{before}{begin}\n\n{made}\n\n{end}{after}"
    return text


def _table_part(table: Table) -> str:
    key = ", ".join(f"`{name}`" for name in table.key)
    ways = " or ".join(" with ".join(f"`{name}`" for name in names) for names in table.one_of)
    choice = f" Each row needs {ways}." if ways else ""
    head = f"#### {table.name}\n\nOne row per {table.row}; told apart by {key}.{choice}\n\n"
    return head + _rows_of(table.columns.values(), required=table.required)


def _rows_of(columns: Iterable[Column], *, required: Iterable[str]) -> str:
    needed = set(required)
    lines = ["| column | what it is | unit | may be | usually |", "|---|---|---|---|---|"]
    for column in columns:
        star = "*" if column.name in needed else ""
        lines.append(
            f"| `{column.name}`{star} | {_cell(column.meaning)} | {_unit(column)} | {_limits(column)} | "
            f"{_usual(column)} |"
        )
    return "\n".join(lines)


def _unit(column: Column) -> str:
    return "" if column.kind in ("date", "time") else _cell(column.unit)


def _limits(column: Column) -> str:
    if column.choices:
        return ", ".join(column.choices)
    bounds = [
        f"above {column.above:g}" if column.above is not None else "",
        f"from {column.low:g}" if column.low is not None else "",
        f"to {column.high:g}" if column.high is not None else "",
    ]
    return " ".join([KIND_WORDS[column.kind], *filter(None, bounds)])


def _usual(column: Column) -> str:
    if column.usual is None:
        return ""
    note = f" ({column.usual_note})" if column.usual_note else ""
    return _cell(f"{column.usual[0]:g} to {column.usual[1]:g}{note}")


def _cell(text: str) -> str:
    return text.replace("|", "\\|").replace("<", "&lt;").replace("\n", " ")


def main(path: Path) -> None:
    """Fill in one document."""
    path.write_text(fill_in(path.read_text(encoding="utf-8")), encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
