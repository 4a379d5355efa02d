"""The dashboard: one HTML file that needs nothing else."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import polars as pl
from altair.utils.schemapi import debug_mode

from analysis.charts.brews import brew_marks
from analysis.charts.effects_input import MethodEffects
from analysis.next_brews.result import NextBrews
from pipeline.publish.content import PageInput, Section
from pipeline.publish.document import EFFECTS, INDEX, MEASUREMENT, document, link_to, page_data
from pipeline.publish.records import CARD, Choices, brew_records, choices
from pipeline.publish.sections.brewed import brewed
from pipeline.publish.sections.channeling import channeling
from pipeline.publish.sections.effects import effects as effects_section
from pipeline.publish.sections.filter_bar import filter_bar
from pipeline.publish.sections.first_screen import QUESTION, first_screen
from pipeline.publish.sections.left_out import left_out
from pipeline.publish.sections.notes import footer, notes
from pipeline.publish.sections.strength import strength
from pipeline.publish.sections.yields import yields
from schemas.lab import LabSettings

SECTIONS: tuple[Callable[[PageInput], Section], ...] = (
    brewed,
    strength,
    yields,
    effects_section,
    channeling,
    left_out,
    notes,
)
"""In reading order, after the first screen."""
TO_EFFECTS = "What moved extraction? Effects, checks, channeling, coffees"
TO_MEASUREMENT = "How good are the numbers? Uncertainty, instruments, agreement"


def write_dashboard(
    facts: pl.DataFrame,
    flags: pl.DataFrame,
    set_aside: pl.DataFrame,
    effects: Sequence[MethodEffects],
    out_dir: Path,
    *,
    settings: LabSettings,
    manifest_number: int,
    targets: pl.DataFrame | None = None,
    next_brews: NextBrews,
    with_measurement: bool = False,
    with_effects: bool = False,
) -> Path:
    """Write `index.html` into `out_dir` (made if absent) and return its path; the same input gives the same bytes.

    `next_brews` makes the first screen; `with_measurement`, `with_effects`: those pages lie beside it and are linked.
    """
    marks = brew_marks(facts)
    order = [panel.method for panel in marks.panels]
    ordered = sorted(effects, key=lambda one: order.index(one.method) if one.method in order else len(order))
    page = PageInput(
        facts,
        flags,
        set_aside,
        ordered,
        settings,
        manifest_number,
        targets,
        marks,
        next_brews,
        with_measurement=with_measurement,
        with_effects=with_effects,
    )
    out_dir.mkdir(parents=True, exist_ok=True)
    path = out_dir / INDEX
    path.write_text(page_html(page), encoding="utf-8", newline="\n")
    return path


def page_html(page: PageInput) -> str:
    """The whole page as text. The charts' schema is checked in tests; at every mark of every page it costs too much."""
    offered = choices(page.marks)
    with debug_mode(False):
        parts = [make(page) for make in SECTIONS]
        data = _data(page, parts, offered)
    body = (
        first_screen(page, _links(page)).html
        + filter_bar(page.marks, offered)
        + f"<main>{''.join(part.html for part in parts)}</main>"
        + footer(page)
        + '<div id="card" hidden></div>'
    )
    return document(f"{QUESTION} {page.settings.name}".strip(), body, data)


def _links(page: PageInput) -> str:
    links = link_to(EFFECTS, TO_EFFECTS) if page.with_effects else ""
    return links + (link_to(MEASUREMENT, TO_MEASUREMENT) if page.with_measurement else "")


def _data(page: PageInput, parts: Sequence[Section], offered: Choices) -> str:
    frames = {"brews": brew_records(page.marks, offered, page.flags)}
    for part in parts:
        frames |= part.data
    drawings = [drawing for part in parts for drawing in part.drawings]
    return page_data(drawings, filters={"m": (("method",), offered.methods)}, frames=frames, card=CARD)
