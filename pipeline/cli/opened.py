"""What most commands begin with: the project folder, its settings, and one state of its store."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from pipeline.lab import load_settings
from pipeline.store.model import Manifest
from pipeline.store.store import Store
from schemas.lab import LabSettings


@dataclass(frozen=True)
class Opened:
    """A project folder, ready to be read."""

    folder: Path
    settings: LabSettings
    store: Store
    manifest: Manifest


def open_lab(folder: Path, as_of: int | None = None) -> Opened:
    """Open a project folder as it stands, or as it stood after ingest `as_of`."""
    settings = load_settings(folder)
    store = Store(folder)
    return Opened(folder, settings, store, store.as_of(as_of))
