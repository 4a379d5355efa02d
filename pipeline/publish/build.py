"""From a project folder to its pages."""

from __future__ import annotations

from pathlib import Path

from pipeline.facts import brew_flags
from pipeline.lab import load_settings, require_lab
from pipeline.measurement.gather import gather
from pipeline.publish.effects.content import effects_page
from pipeline.publish.effects.page import write_effects
from pipeline.publish.measurement.content import measured_page
from pipeline.publish.measurement.page import write_measurement
from pipeline.publish.page import write_dashboard
from pipeline.store.read import current, read_set_aside
from pipeline.store.store import Store
from schemas.reports import FACT_COLUMNS


def build_dashboard(lab_dir: Path, out_dir: Path, *, as_of: int | None = None) -> tuple[Path, ...]:
    """Write the pages of a project folder as it stands, or as it stood at manifest `as_of`; their paths.

    `index.html` is about the brews; beside it `effects.html` on what moved extraction and `measurement.html` on how
    good the numbers are. Each leads back to the first.
    """
    require_lab(lab_dir)
    settings, store = load_settings(lab_dir), Store(lab_dir)
    manifest = store.as_of(as_of)
    found = gather(store, manifest, settings)
    facts = found.brews.select(FACT_COLUMNS)
    flags = brew_flags(store, manifest, settings, facts, inputs=found.inputs)
    moved = effects_page(found, flags, lab_dir=lab_dir, store=store, manifest=manifest)
    effects = write_effects(moved, out_dir)
    measurement = write_measurement(measured_page(found, manifest_number=manifest.number), out_dir)
    index = write_dashboard(
        facts,
        flags,
        read_set_aside(store, manifest),
        [one.effects for one in moved.moves],
        out_dir,
        settings=settings,
        manifest_number=manifest.number,
        targets=current(store, manifest, "targets").collect(),
        with_measurement=True,
        with_effects=True,
        next_brews=moved.next_brews,
    )
    return index, effects, measurement
