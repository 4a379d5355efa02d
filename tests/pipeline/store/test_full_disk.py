"""Disks that are full, read-only or failing: a clear sentence, no file in the making left, the state before intact."""

from __future__ import annotations

import errno
import json
import os
import subprocess
import sys

import numpy as np
import polars as pl
import pytest

from pipeline.store.durable import in_words
from pipeline.store.read import current
from pipeline.store.store import Store
from pipeline.store.verify import verify
from schemas.problem import ProblemError

LIMITED_CHILD = """
import json, resource, sys
from dataclasses import replace
from pathlib import Path
import numpy as np
import polars as pl
from pipeline.store.store import Store
from schemas.problem import ProblemError
resource.setrlimit(resource.RLIMIT_FSIZE, (50_000, 50_000))
store = Store(Path(sys.argv[1]))
frame = pl.DataFrame({"x": np.random.default_rng(1).normal(size=200_000)})
long = replace(store.head(), number=3, originals=tuple(store.keep_original(f"{n}".encode()) for n in range(900)))
said = {}
for name, write in {
    "frame": lambda: store.write_data(frame),
    "lazy": lambda: store.write_data(frame.lazy()),
    "bytes": lambda: store.keep_original(b"x" * 60_000),
    "file": lambda: store.keep_original(Path(sys.argv[2])),
    "commit": lambda: store.commit(long),
}.items():
    try:
        write()
    except ProblemError as problem:
        said[name] = str(problem)
print(json.dumps(said))
"""


def left_overs(store: Store) -> list[str]:
    return [path.name for path in store.folder.rglob(".tmp-*")]


def test_a_file_size_limit_stops_every_kind_of_write_with_a_sentence(filled, tmp_path):
    (tmp_path / "log.csv").write_bytes(b"y" * 60_001)
    result = subprocess.run(
        [sys.executable, "-c", LIMITED_CHILD, filled.lab_dir, tmp_path / "log.csv"],
        check=True,
        capture_output=True,
        text=True,
    )
    said = json.loads(result.stdout)

    assert said.keys() == {"frame", "lazy", "bytes", "file", "commit"}
    for sentence in said.values():
        assert "the file is larger than this disk or account allows" in sentence
        assert "what was stored before is intact" in sentence
    assert "A data file could not be written in" in said["frame"]
    assert "about 1.6 MB needed" in said["frame"]
    assert "about 60.0 kB needed" in said["bytes"]
    assert "The record of this ingest could not be written in" in said["commit"]
    assert left_overs(filled) == []
    assert filled.head().number == 2
    assert verify(filled).intact


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (errno.ENOSPC, "the disk is full.*Make room"),
        (errno.EDQUOT, "quota is used up.*Make room"),
        (errno.EIO, "Input/output error.*Check the disk"),
        (errno.EROFS, "the disk is read-only.*Allow writing"),
        (errno.EACCES, "this user may not write there.*Allow writing"),
    ],
)
@pytest.mark.parametrize("write", ["data", "original", "commit"])
def test_a_disk_that_fails_at_the_last_moment_leaves_the_state_before(
    filled, commit, monkeypatch, number, words, write
):
    def failing_fsync(handle: int) -> None:
        raise OSError(number, os.strerror(number))

    before = {path: path.read_bytes() for path in filled.folder.rglob("*.*") if path.is_file()}
    with monkeypatch.context() as patched, pytest.raises(ProblemError, match=words):
        patched.setattr("os.fsync", failing_fsync)
        if write == "data":
            filled.write_data(pl.DataFrame({"x": np.arange(5)}))
        elif write == "original":
            filled.keep_original(b"new")
        else:
            commit(filled)

    assert left_overs(filled) == []
    assert {path: path.read_bytes() for path in filled.folder.rglob("*.*") if path.is_file()} == before
    assert current(filled, filled.head(), "brews").collect().height == 3
    assert commit(filled, original=b"after").number == 3


def test_polars_running_out_of_room_is_told_as_a_full_disk(store, monkeypatch):
    # The words of polars 2.1, as seen on a full tmpfs.
    seen = "parquet: File out of specification: underlying IO error: No space left on device (os error 28)"

    def full(*args: object, **settings: object) -> None:
        raise pl.exceptions.ComputeError(seen)

    monkeypatch.setattr(pl.LazyFrame, "sink_parquet", full)

    with pytest.raises(
        ProblemError, match=r"A data file could not be written.*the disk is full, about .* needed, .* free"
    ):
        store.write_data(pl.DataFrame({"x": range(1000)}))


def test_a_file_where_the_store_should_be_is_told(tmp_path):
    (tmp_path / "store").write_text("not a folder")

    with pytest.raises(ProblemError, match="The lock file could not be written"):
        Store(tmp_path).write_data(pl.DataFrame({"x": [1]}))


def test_a_folder_that_may_only_be_read_can_still_be_read(filled, monkeypatch):
    def read_only(*args: object) -> int:
        raise OSError(errno.EROFS, os.strerror(errno.EROFS))

    monkeypatch.setattr("pipeline.store.lock.WriterLock._take", read_only)

    assert current(filled, filled.head(), "brews").collect().height == 3
    assert verify(filled).intact


@pytest.mark.parametrize(
    ("size", "words"), [(999, "999 bytes"), (1000, "1.0 kB"), (2_500_000, "2.5 MB"), (12 * 10**9, "12.0 GB")]
)
def test_sizes_in_words(size, words):
    assert in_words(size) == words
