"""The demo lab taken in once, with what is derived from it."""

from __future__ import annotations

import shutil
from datetime import UTC, datetime
from pathlib import Path

from pipeline.facts import brew_facts, brew_flags
from pipeline.ingest.report import IngestReport
from pipeline.ingest.run import ingest
from pipeline.lab import load_settings
from pipeline.store.read import current, read_list
from pipeline.store.store import Store

DEMO = Path(__file__).parents[2] / "data" / "demo"
NOW = datetime(2026, 5, 5, 8, tzinfo=UTC)


class Ingested:
    """The demo lab after one ingest."""

    def __init__(self, lab: Path) -> None:
        shutil.copytree(DEMO / "lab", lab)
        self.lab = lab
        self.report: IngestReport = ingest([DEMO / "files"], lab, now=NOW)
        self.settings = load_settings(lab)
        self.store = Store(lab)
        self.manifest = manifest = self.store.head()
        self.facts = brew_facts(self.store, manifest, self.settings)
        self.flags = brew_flags(self.store, manifest, self.settings, self.facts)
        self.set_aside = read_list(self.store, manifest, "set_aside")
        self.brews = current(self.store, manifest, "brews").collect()
