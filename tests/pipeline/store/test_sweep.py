from __future__ import annotations

import errno
import os
from dataclasses import replace
from pathlib import Path

import polars as pl
import pytest

from pipeline.store.store import Store
from pipeline.store.sweep import sweep
from pipeline.store.verify import verify
from schemas.problem import ProblemError


@pytest.fixture
def littered(filled) -> tuple[Store, set[Path]]:
    """A store with everything an interrupted run can leave: unnamed data, unnamed original, files in the making."""
    left = {
        filled.data_path(filled.write_data(pl.DataFrame({"x": [1]}))),
        filled.original_path(filled.keep_original(b"never committed")),
    }
    for folder in (filled.data_dir, filled.originals_dir, filled.manifests_dir):
        left.add(folder / ".tmp-4711-0123")
        (folder / ".tmp-4711-0123").write_bytes(b"half")
    return filled, left


def files_of(store: Store) -> set[Path]:
    return {path for path in store.folder.rglob("*") if path.is_file()}


def test_a_dry_run_lists_what_would_go_and_removes_nothing(littered):
    store, left = littered
    before = files_of(store)

    swept = sweep(store, dry_run=True)

    assert {file.path for file in swept} == left
    assert not any(file.removed for file in swept)
    assert files_of(store) == before


def test_only_what_no_commit_names_is_removed(littered):
    store, left = littered
    before = files_of(store)

    swept = sweep(store, dry_run=False)

    assert {file.path for file in swept} == left
    assert all(file.removed for file in swept)
    assert files_of(store) == before - left
    assert verify(Store(store.lab_dir)).intact
    assert sweep(store, dry_run=False) == []


def test_a_list_that_only_an_earlier_commit_names_stays(filled, commit):
    with filled.lock():
        head = filled.head()
        note = filled.write_data(pl.DataFrame({"rule": ["dose"]}))
        filled.commit(replace(head, number=3, lists={"set_aside": note}))
    with filled.lock():
        filled.commit(replace(filled.head(), number=4, lists={}))

    assert sweep(filled, dry_run=False) == []
    assert filled.data_path(note).exists()


def test_other_peoples_files_are_left_alone(filled):
    own = [filled.data_dir / "notes.txt", filled.originals_dir / "read me.md", filled.manifests_dir / "copy.json"]
    for path in own:
        path.write_text("mine")

    assert sweep(filled, dry_run=False) == []
    assert all(path.exists() for path in own)


def test_nothing_is_removed_while_a_commit_is_damaged(littered):
    store, _ = littered
    store.manifest_path(1).write_bytes(b"{}")
    before = files_of(store)

    with pytest.raises(ProblemError, match=r"00000001\.json is damaged"):
        sweep(store, dry_run=False)
    assert files_of(store) == before


def test_nothing_is_removed_while_a_commit_is_missing(littered):
    store, _ = littered
    store.manifest_path(1).unlink()
    before = files_of(store)

    with pytest.raises(ProblemError, match=r"Commit 1 is missing.*Nothing was removed"):
        sweep(store, dry_run=False)
    assert files_of(store) == before


def test_nothing_is_swept_from_under_a_writer(littered):
    store, _ = littered
    with store.lock(), pytest.raises(ProblemError, match="being written to"):
        sweep(Store(store.lab_dir, lock_wait_s=0.05), dry_run=False)


def test_a_file_that_cannot_be_removed_is_named(littered, monkeypatch):
    def refuse(path: Path, **options: bool) -> None:
        raise OSError(errno.EROFS, os.strerror(errno.EROFS), str(path))

    store, _ = littered
    monkeypatch.setattr(Path, "unlink", refuse)

    with pytest.raises(ProblemError, match="is left over and cannot be removed: Read-only file system"):
        sweep(store, dry_run=False)


def test_a_lab_without_a_store_has_nothing_to_sweep(store):
    assert sweep(store, dry_run=False) == []
    assert not store.folder.exists()
