"""Sentences and values on the screen: nothing in the data can colour, move or break the terminal."""

from __future__ import annotations

import re
import shutil
import sys
from collections.abc import Iterable, Sequence

WIDTH_WHEN_UNKNOWN = 120
FIGURES = 5
DIGITS_BY_ENDING = {"_pct": 2, "_ratio": 2}


def say(text: str = "") -> None:
    """A line of the result, on standard output."""
    print(harmless(text))


def note(text: str) -> None:
    """A remark beside the result, on standard error."""
    print(harmless(text), file=sys.stderr)


def count(number: int, word: str) -> str:
    """A number and its noun.

    >>> count(1, "brew"), count(1200, "brew")
    ('1 brew', '1,200 brews')
    """
    return f"{number:,} {word}{'' if number == 1 else 's'}"


def rows_of(number: int, table: str) -> str:
    """A number of rows of a table, by the table's own name.

    >>> rows_of(1, "coffees"), rows_of(3, "coffees"), rows_of(1, "set_aside")
    ('1 coffee', '3 coffees', '1 set aside')
    """
    return f"{number:,} {(table.removesuffix('s') if number == 1 else table).replace('_', ' ')}"


def harmless(text: str) -> str:
    r"""The text without control characters (line ends and tabs excepted).

    >>> harmless("a\x1b[31mb")
    'a?[31mb'
    """
    return re.sub(r"[\x00-\x08\x0b-\x1f\x7f-\x9f]", "?", text)


def width() -> int:
    """Columns of the terminal, COLUMNS, or a usual width where nobody can tell."""
    return shutil.get_terminal_size((WIDTH_WHEN_UNKNOWN, 24)).columns


def cell(value: object) -> str:
    """One value as people read it: yes and no, times to the minute."""
    import datetime as dt

    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.{FIGURES}g}"
    if isinstance(value, dt.datetime):
        return value.isoformat(sep=" ", timespec="minutes")
    return str(value)


def cells(name: str, values: Iterable[object]) -> list[str]:
    """The values of one column as people read them: the numbers of a column share their decimal places.

    >>> cells("dose_g", [18.0, 18.1, None]), cells("tds_pct", [1.3]), cells("channeled", [True])
    (['18.0', '18.1', ''], ['1.30'], ['yes'])
    """
    values = list(values)
    digits = next((n for ending, n in DIGITS_BY_ENDING.items() if name.endswith(ending)), None)
    if digits is None:
        digits = _decimals([cell(value) for value in values if isinstance(value, float)])
    if digits is None:
        return [cell(value) for value in values]
    return [f"{value:.{digits}f}" if isinstance(value, float) else cell(value) for value in values]


def _decimals(texts: Sequence[str]) -> int | None:
    if not texts or any(re.fullmatch(r"-?[\d.]+", text) is None for text in texts):
        return None
    return max(len(text.partition(".")[2]) for text in texts)
