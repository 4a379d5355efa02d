"""The page on measurement: one HTML file beside the dashboard."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from altair.utils.schemapi import debug_mode

from pipeline.publish.content import Section
from pipeline.publish.document import MEASUREMENT, document, page_data
from pipeline.publish.measurement.content import MeasuredPage
from pipeline.publish.measurement.sections.agreement import agreement
from pipeline.publish.measurement.sections.budgets import budgets
from pipeline.publish.measurement.sections.checks import checks
from pipeline.publish.measurement.sections.drying import drying
from pipeline.publish.measurement.sections.filter_bar import filter_bar, offered
from pipeline.publish.measurement.sections.first_screen import QUESTION, first_screen
from pipeline.publish.measurement.sections.gauge import gauge
from pipeline.publish.measurement.sections.masses import masses
from pipeline.publish.measurement.sections.notes import footer, notes
from pipeline.publish.measurement.sections.readings import readings
from pipeline.publish.measurement.sections.smallest import smallest

SECTIONS: tuple[Callable[[MeasuredPage], Section], ...] = (
    budgets,
    smallest,
    readings,
    checks,
    agreement,
    gauge,
    masses,
    drying,
    notes,
)
"""In reading order, after the first screen."""


def write_measurement(page: MeasuredPage, out_dir: Path) -> Path:
    """Write `measurement.html` into `out_dir` and return its path; the same input gives the same bytes."""
    out_dir.mkdir(parents=True, exist_ok=True)
    path = out_dir / MEASUREMENT
    path.write_text(measurement_html(page), encoding="utf-8", newline="\n")
    return path


def measurement_html(page: MeasuredPage) -> str:
    """The whole page as text."""
    with debug_mode(False):
        parts = [make(page) for make in SECTIONS]
        drawings = [drawing for part in parts for drawing in part.drawings]
        data = page_data(drawings, filters=offered(page), frames={})
    body = (
        first_screen(page)
        + filter_bar(page)
        + f"<main>{''.join(part.html for part in parts)}</main>"
        + footer(page)
        + '<div id="card" hidden></div>'
    )
    return document(f"{QUESTION} {page.settings.name}".strip(), body, data)
