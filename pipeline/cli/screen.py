"""Frames and sentences on the screen: nothing in the data can colour, move or break the terminal."""

from __future__ import annotations

import re
import shutil
import sys
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import polars as pl
    from rich.table import Table
    from rich.text import Text

MOST_ROWS = 500
WIDEST_CELL = 40
WIDTH_WHEN_UNKNOWN = 120
DIGITS_BY_ENDING = {"_pct": 2, "_ratio": 2}
ESTIMATES = ("estimate", "std_error", "low", "high")


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


def harmless(text: str) -> str:
    r"""The text without control characters (line ends and tabs excepted).

    >>> harmless("a\x1b[31mb")
    'a?[31mb'
    """
    return re.sub(r"[\x00-\x08\x0b-\x1f\x7f-\x9f]", "?", text)


def width() -> int:
    """Columns of the terminal, COLUMNS, or a usual width where nobody can tell."""
    return shutil.get_terminal_size((WIDTH_WHEN_UNKNOWN, 24)).columns


def show_frame(frame: pl.DataFrame, *, first: Sequence[str] = (), what: str = "rows", timezone: str = "UTC") -> None:
    """Print a frame as a table: as many columns as fit (`first` before others), and what was left out.

    Columns that hold nothing are left out first; times are the zone's clock times.
    """
    if frame.is_empty():
        note(f"No {what}.")
        return
    filled = [name for name in frame.columns if frame[name].null_count() < frame.height]
    order = [name for name in first if name in filled]
    order += [name for name in filled if name not in order]
    zoned = [name for name in order if getattr(frame[name].dtype, "time_zone", None)]
    shown = frame.head(MOST_ROWS)
    shown = shown.with_columns(shown[name].dt.convert_time_zone(timezone).dt.replace_time_zone(None) for name in zoned)
    cells = {name: [cell(name, value) for value in shown[name]] for name in order}
    kept = _that_fit(cells)
    numeric = {name for name in kept if frame[name].dtype.is_numeric()}
    show_rows(kept, zip(*(cells[name] for name in kept), strict=True), right=numeric)
    left_out = []
    if len(kept) < len(frame.columns):
        left_out.append(f"{len(kept)} of {len(frame.columns)} columns")
    if frame.height > MOST_ROWS:
        left_out.append(f"{MOST_ROWS} of {frame.height:,} {what}")
    if left_out:
        note(f"Shown: {' and '.join(left_out)}. Add --out FILE.csv (or --format csv) for everything.")


def show_rows(
    headers: Sequence[str], rows: Iterable[Sequence[str]], *, right: Iterable[str] = (), spaced: bool = False
) -> None:
    """Print rows of text under their headers, wrapped to the width of the terminal; `spaced` keeps rows apart."""
    from rich.console import Console

    numeric = set(right)
    table = _table()
    for name in headers:
        is_number = name in numeric
        table.add_column(_plain(name), justify="right" if is_number else "left", no_wrap=is_number, overflow="fold")
    for row in rows:
        # Rich leaves no room between rows of a table without lines, so the last cell brings its own.
        table.add_row(*(_plain(text) for text in row[:-1]), _plain(row[-1] + ("\n" if spaced else "")))
    console = Console(
        file=sys.stdout, width=width(), markup=False, highlight=False, emoji=False, color_system=None, soft_wrap=False
    )
    with console.capture() as captured:
        console.print(table)
    print("\n".join(line.rstrip() for line in captured.get().splitlines()))


def cell(name: str, value: object) -> str:
    """One value as people read it: sensible digits, yes and no, times to the minute."""
    import datetime as dt

    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float) and name == "p_value":
        return f"{value:.3f}" if value >= 0.001 else "<0.001"
    if isinstance(value, float):
        digits = next((n for ending, n in DIGITS_BY_ENDING.items() if name.endswith(ending)), None)
        return f"{value:.{3 if name in ESTIMATES else 5}g}" if digits is None else f"{value:.{digits}f}"
    if isinstance(value, dt.datetime):
        return value.isoformat(sep=" ", timespec="minutes")
    return str(value)


def _table() -> Table:
    from rich.table import Table

    return Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="")


def _plain(text: str) -> Text:
    from rich.text import Text

    return Text(harmless(text).replace("\t", " "))


def _that_fit(cells: dict[str, list[str]]) -> list[str]:
    room = width()
    kept: list[str] = []
    for name, texts in cells.items():
        longest = max((len(text) for text in texts), default=0)
        needed = max(len(name), min(longest, WIDEST_CELL)) + 2
        if needed > room and kept:
            continue
        room -= needed
        kept.append(name)
    return kept
