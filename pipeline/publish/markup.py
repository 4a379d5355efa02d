"""Small pieces of HTML. Every text from a lab passes `escaped`; nothing else does."""

from __future__ import annotations

import html
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

MOST_ROWS = 500
"""Rows of one table on the page; the rest is counted and the command that lists it is named."""
MOST_PRINTED = 40
"""Rows of one table in print; the page's style hides the others."""


@dataclass(frozen=True, slots=True)
class Head:
    """One column's heading; `numeric` aligns its cells to the right."""

    text: str
    numeric: bool = False


def escaped(value: object) -> str:
    """Text that is safe between tags and inside quoted attributes; None is empty.

    >>> escaped('<b title="x">')
    '&lt;b title=&quot;x&quot;&gt;'
    """
    return "" if value is None else html.escape(str(value), quote=True)


def prose(text: str) -> str:
    r"""Escaped text in which a number and its unit stay on one line and `commands` are set as code.

    >>> prose("95 % of 3 < 4")
    '95\xa0% of 3 &lt; 4'
    """
    return re.sub(r"`([^`]+)`", r"<code>\1</code>", _held(escaped(text)))


def _held(text: str) -> str:
    """The text with numbers held to their units."""
    return text.replace(" %", "\u00a0%").replace(" °C", "\u00a0°C")


def paragraph(text: str, *, kind: str = "") -> str:
    """A paragraph of plain text; nothing when there is no text."""
    if not text:
        return ""
    return f'<p class="{kind}">{prose(text)}</p>' if kind else f"<p>{prose(text)}</p>"


def bullets(items: Iterable[str]) -> str:
    """A list of plain texts; nothing when it is empty."""
    entries = "".join(f"<li>{prose(item)}</li>" for item in items)
    return f"<ul>{entries}</ul>" if entries else ""


def table(heads: Sequence[Head], rows: Sequence[Sequence[object]], *, caption: str, rest: str = "") -> str:
    """A table with a caption; at most 500 rows (40 in print), and `rest` says where the others are."""
    shown = rows[:MOST_ROWS]
    classes = ["n" if head.numeric else "" for head in heads]
    head_cells = "".join(
        f"<th scope=col{_class(c)}>{escaped(h.text)}</th>" for h, c in zip(heads, classes, strict=True)
    )
    body = "".join(
        "<tr>"
        + "".join(f"<td{_class(c)}>{_held(escaped(v))}</td>" for v, c in zip(row, classes, strict=True))
        + "</tr>\n"
        for row in shown
    )
    more = len(rows) - len(shown)
    note = paragraph(f"The first {MOST_ROWS} of {len(rows):,} rows. {rest}", kind="note") if more > 0 else ""
    if len(shown) > MOST_PRINTED:
        note += paragraph(f"Printed: the first {MOST_PRINTED} of {len(rows):,} rows. {rest}", kind="note paper")
    return (
        f'<div class="table" role="region" tabindex="0" aria-label="{escaped(caption)}"><table>'
        f"<caption>{escaped(caption)}</caption>"
        f"<thead><tr>{head_cells}</tr></thead>\n<tbody>{body}</tbody></table></div>{note}"
    )


def _class(name: str) -> str:
    return f' class="{name}"' if name else ""


def folded(summary: str, content: str) -> str:
    """Content that the reader opens; print unfolds it."""
    return f"<details><summary>{escaped(summary)}</summary>{content}</details>" if content else ""


def on_screen(summary: str, content: str, *, printed: str) -> str:
    """Content that the reader opens and that stays out of print, where `printed` says where it is."""
    if not content:
        return ""
    fold = f'<details class="screen" data-keep><summary>{escaped(summary)}</summary>{content}</details>'
    return f"{fold}{paragraph(printed, kind='note paper')}"


def section(section_id: str, heading: str, *content: str) -> str:
    """A section with its heading."""
    return f'<section id="{section_id}"><h2>{escaped(heading)}</h2>{"".join(content)}</section>\n'


def figure(chart_id: str, title: str, caption: str = "", *, method: str = "", note: str = "") -> str:
    """The place of one chart: title above, caption below, and a line that says what a filter leaves of it."""
    of_method = f' data-method="{escaped(method)}"' if method else ""
    below = f"<figcaption>{prose(caption)}</figcaption>" if caption else ""
    return (
        f"<figure{of_method}><h3>{escaped(title)}</h3>{paragraph(note, kind='note')}"
        f'<div class="chart" id="{chart_id}"></div><p class="left" data-for="{chart_id}" hidden></p>{below}</figure>'
    )


def pair(*figures: str) -> str:
    """Figures side by side where there is room for two."""
    return f'<div class="pair">{"".join(figures)}</div>'
