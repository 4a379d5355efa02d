"""From a project folder to its page."""

from __future__ import annotations

from pathlib import Path

from analysis.effects.by_method import effects_by_method
from pipeline.facts import brew_facts, brew_flags, read_inputs
from pipeline.lab import load_settings, require_lab
from pipeline.publish.page import write_dashboard
from pipeline.store.read import current, read_set_aside
from pipeline.store.store import Store


def build_dashboard(lab_dir: Path, out_dir: Path, *, as_of: int | None = None) -> Path:
    """Write the page of a project folder as it stands, or as it stood at manifest `as_of`; returns its path."""
    require_lab(lab_dir)
    settings, store = load_settings(lab_dir), Store(lab_dir)
    manifest = store.as_of(as_of)
    inputs = read_inputs(store, manifest)
    facts = brew_facts(store, manifest, settings, inputs=inputs)
    return write_dashboard(
        facts,
        brew_flags(store, manifest, settings, facts, inputs=inputs),
        read_set_aside(store, manifest),
        effects_by_method(facts),
        out_dir,
        settings=settings,
        manifest_number=manifest.number,
        targets=current(store, manifest, "targets").collect(),
    )
