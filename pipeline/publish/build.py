"""From a project folder to its pages."""

from __future__ import annotations

from pathlib import Path

from analysis.effects.by_method import effects_by_method
from pipeline.facts import brew_flags
from pipeline.lab import load_settings, require_lab
from pipeline.measurement.gather import gather
from pipeline.publish.measurement.content import measured_page
from pipeline.publish.measurement.page import write_measurement
from pipeline.publish.page import write_dashboard
from pipeline.store.read import current, read_set_aside
from pipeline.store.store import Store
from schemas.reports import FACT_COLUMNS


def build_dashboard(lab_dir: Path, out_dir: Path, *, as_of: int | None = None) -> Path:
    """Write both pages of a project folder as it stands, or as it stood at manifest `as_of`; returns the first's path.

    `index.html` is about the brews, `measurement.html` beside it about how good the numbers are; each leads to the
    other.
    """
    require_lab(lab_dir)
    settings, store = load_settings(lab_dir), Store(lab_dir)
    manifest = store.as_of(as_of)
    found = gather(store, manifest, settings)
    facts = found.brews.select(FACT_COLUMNS)
    write_measurement(measured_page(found, manifest_number=manifest.number), out_dir)
    return write_dashboard(
        facts,
        brew_flags(store, manifest, settings, facts, inputs=found.inputs),
        read_set_aside(store, manifest),
        effects_by_method(facts),
        out_dir,
        settings=settings,
        manifest_number=manifest.number,
        targets=current(store, manifest, "targets").collect(),
        with_measurement=True,
    )
