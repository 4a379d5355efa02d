"""Project folders made from the invented lab whose settings move the yield, and their page."""

from __future__ import annotations

from pathlib import Path

import measured_pages
import moved_lab

from pipeline.facts import brew_flags
from pipeline.lab import load_settings
from pipeline.measurement.gather import gather
from pipeline.publish.effects.content import EffectsPage, effects_page
from pipeline.store.store import Store
from schemas.reports import FACT_COLUMNS


def take_in(folder: Path, **more: object) -> Path:
    """A new project folder of the invented lab."""
    return measured_pages.take_in(folder, moved_lab.files(**more), settings=moved_lab.REFERENCES)


def moved(lab: Path) -> EffectsPage:
    """All that the page says."""
    store, settings = Store(lab), load_settings(lab)
    manifest = store.head()
    found = gather(store, manifest, settings)
    flags = brew_flags(store, manifest, settings, found.brews.select(FACT_COLUMNS), inputs=found.inputs)
    return effects_page(found, flags, lab_dir=lab, store=store, manifest=manifest)
