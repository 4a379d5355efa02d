from __future__ import annotations

import hashlib

import pytest

from pipeline.store.durable import CHUNK_BYTES
from schemas.problem import ProblemError

BYTES = b"brew_id;dose_g\r\n007;18,0\r\n\x00\xff"


def test_an_original_is_kept_byte_for_byte_under_its_hash(store, tmp_path):
    dropped = tmp_path / "log.csv"
    dropped.write_bytes(BYTES)

    sha256 = store.keep_original(dropped)

    assert sha256 == hashlib.sha256(BYTES).hexdigest()
    assert store.original_path(sha256).read_bytes() == BYTES
    assert dropped.read_bytes() == BYTES


def test_a_file_longer_than_one_chunk_is_kept_whole(store, tmp_path):
    dropped = tmp_path / "log.csv"
    dropped.write_bytes(bytes(range(256)) * (CHUNK_BYTES // 256) + BYTES)

    sha256 = store.keep_original(dropped)

    assert store.original_path(sha256).read_bytes() == dropped.read_bytes()


def test_bytes_and_a_file_of_the_same_content_are_one_original(store, tmp_path):
    dropped = tmp_path / "log.csv"
    dropped.write_bytes(BYTES)

    assert store.keep_original(dropped) == store.keep_original(BYTES)
    assert len(list(store.originals_dir.iterdir())) == 1


def test_keeping_again_does_not_write_again(store):
    before = store.original_path(store.keep_original(BYTES)).stat()

    after = store.original_path(store.keep_original(BYTES)).stat()

    assert (before.st_ino, before.st_mtime_ns) == (after.st_ino, after.st_mtime_ns)


def test_keeping_again_mends_a_damaged_original(store):
    kept = store.original_path(store.keep_original(BYTES))
    kept.write_bytes(b"?" * len(BYTES))

    store.keep_original(BYTES)

    assert kept.read_bytes() == BYTES


def test_an_empty_file_is_kept_too(store, tmp_path):
    dropped = tmp_path / "empty.csv"
    dropped.touch()

    assert store.original_path(store.keep_original(dropped)).read_bytes() == b""


def test_a_file_that_is_not_there_is_named(store, tmp_path):
    with pytest.raises(ProblemError, match=r"nope\.csv cannot be read"):
        store.keep_original(tmp_path / "nope.csv")
    assert list(store.originals_dir.iterdir()) == []
