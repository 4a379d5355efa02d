"""Tables on the screen, as wide as the terminal and no wider."""

from __future__ import annotations

import re
import sys
import textwrap
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from pipeline.cli.screen import cells, harmless, note, width

if TYPE_CHECKING:
    import polars as pl
    from rich.table import Table
    from rich.text import Text

MOST_ROWS = 500
WIDEST_CELL = 40
NARROWEST_TEXT = 10
NARROWEST_HEADER = 8
GAP = 2
HELD = "\x00"
"""Never in the data by then: `harmless` has taken out control characters."""


def show_frame(
    frame: pl.DataFrame, *, first: Sequence[str] = (), what: str = "rows", none: str = "", timezone: str = "UTC"
) -> None:
    """Print a frame as a table: as many columns as fit (`first` before others), and what was left out.

    Columns that hold nothing are left out first; times are the zone's clock times. `none` is said of an empty frame.
    """
    if frame.is_empty():
        note(none or f"No {what}.")
        return
    filled = [name for name in frame.columns if frame[name].null_count() < frame.height]
    foremost = [name for name in first if name in filled]
    rest = [name for name in filled if name not in foremost]
    zoned = [name for name in filled if getattr(frame[name].dtype, "time_zone", None)]
    shown = frame.head(MOST_ROWS)
    shown = shown.with_columns(shown[name].dt.convert_time_zone(timezone).dt.replace_time_zone(None) for name in zoned)
    texts = {name: cells(name, shown[name]) for name in (*foremost, *rest)}
    kept = _that_fit({name: texts[name] for name in foremost})
    if len(kept) == len(foremost):
        kept = _that_fit(texts)
    numeric = {name for name in kept if frame[name].dtype.is_numeric()}
    show_rows(kept, zip(*(texts[name] for name in kept), strict=True), right=numeric)
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
    """Print rows of text under their headers, wrapped to the width of the terminal; `spaced` keeps rows apart.

    Where room is short, headers break at their underscores; where it is very short, every row becomes a paragraph.
    """
    rows = [tuple(map(harmless, row)) for row in rows]
    numeric, names = set(right), list(headers)
    columns = list(zip(*rows, strict=True)) or [()] * len(names)
    if sum(_longest((name, *texts)) + GAP for name, texts in zip(names, columns, strict=True)) > width() + GAP:
        names = [_broken(name, _longest(texts)) for name, texts in zip(names, columns, strict=True)]
        names = [
            name.replace(" ", "\n") if header in numeric else name for header, name in zip(headers, names, strict=True)
        ]
    least = sum(
        max(_longest([name]), _longest(texts) if header in numeric else min(_longest(texts), NARROWEST_TEXT)) + GAP
        for header, name, texts in zip(headers, names, columns, strict=True)
    )
    if least > width() + GAP:
        _show_paragraphs(headers, rows)
    else:
        _show_table(names, rows, right=[header in numeric for header in headers], spaced=spaced)


def _show_table(names: Sequence[str], rows: Iterable[Sequence[str]], *, right: Sequence[bool], spaced: bool) -> None:
    from rich.console import Console

    table = _table()
    for name, is_number in zip(names, right, strict=True):
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


def _show_paragraphs(headers: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    for row in rows:
        told = [f"{name}: {' '.join(text.split())}" for name, text in zip(headers, row, strict=True) if text]
        # What is short stays in one piece: its spaces are hidden from the wrapping.
        held = [text.replace(" ", HELD) if len(text) < width() / 2 else text for text in told]
        filled = textwrap.fill("; ".join(held), max(width(), NARROWEST_TEXT), subsequent_indent="  ")
        print(filled.replace(HELD, " "))


def _table() -> Table:
    from rich.table import Table

    return Table(box=None, pad_edge=False, padding=(0, GAP, 0, 0), header_style="")


def _plain(text: str) -> Text:
    from rich.text import Text

    return Text(harmless(text).replace("\t", " "))


def _broken(name: str, room: int = 0) -> str:
    r"""A header broken after its underscores where it is wider than `room`, the width of its column's cells.

    >>> _broken("extraction_yield_pct"), _broken("what to try")
    ('extraction_\nyield_pct', 'what to try')
    >>> _broken("brewed_at", 16), _broken("set_aside", 2)
    ('brewed_at', 'set_\naside')
    """
    lines, parts = [""], re.findall(r"[^_]+_?|_", name)
    widest = max(NARROWEST_HEADER, 1 + _longest(parts), room)
    for part in parts:
        if lines[-1] and len(lines[-1] + part) > widest:
            lines.append("")
        lines[-1] += part
    return "\n".join(lines)


def _longest(texts: Iterable[str]) -> int:
    return max((len(line) for text in texts for line in text.split("\n")), default=0)


def _that_fit(texts: dict[str, list[str]]) -> list[str]:
    room = width() + GAP
    kept: list[str] = []
    for name, column in texts.items():
        widest = min(_longest(column), WIDEST_CELL)
        needed = max(_longest([_broken(name, widest)]), widest) + GAP
        if needed > room and kept:
            continue
        room -= needed
        kept.append(name)
    return kept
