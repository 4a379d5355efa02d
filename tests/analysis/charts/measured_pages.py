"""Project folders made from the invented lab, and their pages."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from pipeline.ingest.run import ingest
from pipeline.lab import load_settings, new_lab
from pipeline.measurement.gather import gather
from pipeline.publish.measurement.content import MeasuredPage, measured_page
from pipeline.store.store import Store

NOW = datetime(2026, 6, 1, 12, tzinfo=UTC)


def take_in(folder: Path, files: dict[str, str], *, settings: str = "") -> Path:
    """A new project folder with these files in it."""
    lab, drop = folder / "lab", folder / "files"
    new_lab(lab)
    if settings:
        with (lab / "lab.toml").open("a", encoding="utf-8") as out:
            out.write(settings)
    drop.mkdir()
    for name, text in files.items():
        (drop / name).write_text(text, encoding="utf-8")
    if files:
        report = ingest([drop], lab, now=NOW)
        assert [(entry.file, entry.set_aside, entry.refused) for entry in report.entries if entry.set_aside] == []
    return lab


def measured(lab: Path) -> MeasuredPage:
    """All that the page says."""
    store = Store(lab)
    manifest = store.head()
    return measured_page(gather(store, manifest, load_settings(lab)), manifest_number=manifest.number)
