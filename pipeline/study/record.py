"""The order of things as evidence: which study was declared at which ingest, and in which words."""

from __future__ import annotations

from pathlib import Path

import polars as pl

from pipeline.ingest.draft import Draft
from pipeline.store.model import Manifest
from pipeline.store.read import read_list
from pipeline.store.store import Store
from pipeline.study.normal import study_sha256
from pipeline.study.read import StudyFile, read_study_file

LIST = "studies"
SCHEMA = {"study_id": pl.String, "sha256": pl.String, "first_seen": pl.Int64, "original": pl.String}
"""One row per study and version, in order of arrival.

`sha256` is the hash of the study's content, `first_seen` the ingest that kept it first, `original` the `study.toml`
it stands in, by the hash of its bytes.
"""


def recorded(store: Store, manifest: Manifest) -> pl.DataFrame:
    """Every version of every study that a commit knows (SCHEMA)."""
    found = read_list(store, manifest, LIST)
    return found.select(list(SCHEMA)) if found.width else pl.DataFrame(schema=SCHEMA)


def note_studies(draft: Draft, file: StudyFile) -> tuple[str, ...]:
    """Put new and changed studies of `study.toml` into a draft; the ids of those. Unchanged ones change nothing."""
    known = recorded(draft.store, draft.manifest)
    newest = dict(known.select("study_id", "sha256").iter_rows())
    hashes = {study.study_id: study_sha256(study) for study in file.studies}
    fresh = [name for name, sha256 in hashes.items() if newest.get(name) != sha256]
    if not fresh:
        return ()
    original = draft.keep_original(file.raw)
    rows = [(name, hashes[name], draft.manifest.number, original) for name in fresh]
    draft.set_list(LIST, pl.concat([known, pl.DataFrame(rows, schema=SCHEMA, orient="row")]))
    return tuple(fresh)


def record_studies(lab_dir: Path) -> tuple[str, ...]:
    """Record what `study.toml` declares now, without taking a log in; the ids that were new or changed."""
    file, store = read_study_file(lab_dir), Store(lab_dir)
    with store.lock():
        draft = Draft(store)
        fresh = note_studies(draft, file)
        draft.commit()
    return fresh
