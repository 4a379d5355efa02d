from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from pathlib import Path

import pytest

from pipeline.store.manifest_json import from_bytes, to_bytes
from pipeline.store.model import DataFile, Manifest, SourceEntry, TableEntry
from pipeline.store.store import Store
from schemas.problem import ProblemError


def test_a_lab_without_commits_has_an_empty_head_and_nothing_is_made_by_looking(store):
    head = store.head()

    assert (head.number, head.tables, head.parent_sha256) == (0, {}, "")
    assert store.manifests() == []
    assert not store.folder.exists()


def test_every_commit_names_the_hash_of_its_parents_file(filled):
    first, second = filled.manifests()

    assert (first.number, second.number) == (1, 2)
    assert first.parent_sha256 == ""
    assert second.parent_sha256 == hashlib.sha256(filled.manifest_path(1).read_bytes()).hexdigest()
    assert filled.head() == second


def test_a_manifest_comes_back_as_it_was_written():
    file = DataFile(sha256="ab" * 32, rows=7)
    manifest = Manifest(
        number=3,
        parent_sha256="cd" * 32,
        schema_version=1,
        tool_version="0.1.0",
        tables={"brews": TableEntry(files=(file,), replaced=(file,))},
        lists={"set_aside": file},
        sources=(SourceEntry("käffee.csv", "", "ef" * 32, counts={"rows_read": 2}, interpretation={"a": ["b"]}),),
        originals=("ef" * 32,),
    )
    raw = to_bytes(manifest)

    assert from_bytes(raw, "here") == replace(manifest, sha256=hashlib.sha256(raw).hexdigest())
    assert json.loads(raw)["number"] == 3
    assert file.name == "abababababababab.parquet"


def test_as_of_gives_the_state_after_that_commit_and_the_head_when_nothing_is_said(filled):
    assert filled.as_of(1).number == 1
    assert filled.as_of(None) == filled.head()
    assert filled.as_of(0).tables == {}


def test_as_of_a_commit_that_does_not_exist_names_the_last_one(filled, store):
    with pytest.raises(ProblemError, match="There is no ingest 9: the last one is 2"):
        filled.as_of(9)


def test_as_of_in_a_lab_without_commits_says_so(store):
    with pytest.raises(ProblemError, match="There is no ingest 1: there is none yet"):
        store.as_of(1)


def test_a_draft_made_from_an_older_head_is_refused_and_changes_nothing(filled):
    stale = replace(filled.at(1), number=2)

    with pytest.raises(ProblemError, match=r"at ingest 2, another run wrote to it.*Run this again"):
        filled.commit(stale)
    assert [manifest.number for manifest in filled.manifests()] == [1, 2]


def test_an_existing_manifest_is_never_overwritten(filled, monkeypatch):
    before = filled.manifest_path(2).read_bytes()
    monkeypatch.setattr(filled, "numbers", lambda: [1])

    with pytest.raises(ProblemError, match="File exists"):
        filled.commit(replace(filled.at(1), number=2, sources=()))
    assert filled.manifest_path(2).read_bytes() == before


def test_an_existing_manifest_is_not_overwritten_on_a_disk_without_hard_links_either(filled, monkeypatch):
    def no_links(source: Path, target: Path) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr("os.link", no_links)
    third = filled.commit(replace(filled.head(), number=3, sources=()))
    before = filled.manifest_path(3).read_bytes()
    monkeypatch.setattr(filled, "numbers", lambda: [1, 2])

    assert third.number == 3
    with pytest.raises(ProblemError, match="File exists"):
        filled.commit(replace(filled.at(2), number=3, sources=()))
    assert filled.manifest_path(3).read_bytes() == before


def test_a_commit_that_names_a_file_that_is_not_there_is_refused(filled):
    draft = replace(filled.head(), number=3, lists={"set_aside": DataFile(sha256="0" * 64, rows=1)})

    with pytest.raises(ProblemError, match=r"1 file of this ingest is gone.*0000000000000000\.parquet"):
        filled.commit(draft)
    assert filled.head().number == 2


def test_a_commit_that_names_an_original_that_was_not_kept_is_refused(filled):
    draft = replace(filled.head(), number=3, originals=(*filled.head().originals, "1" * 64))

    with pytest.raises(ProblemError, match="1111"):
        filled.commit(draft)


def test_a_manifest_of_a_newer_version_asks_for_an_update(filled):
    newer = to_bytes(replace(filled.head(), schema_version=99, tool_version="7.0"))
    filled.manifest_path(2).write_bytes(newer)

    with pytest.raises(ProblemError, match=r"newer brewtrials \(7\.0, store version 99\).*Update brewtrials"):
        filled.head()


@pytest.mark.parametrize("cut", [0, 1, 40, 200, -1, -5])
def test_a_cut_off_manifest_is_called_damaged(filled, cut):
    path = filled.manifest_path(2)
    path.write_bytes(path.read_bytes()[:cut])

    with pytest.raises(ProblemError, match=r"00000002\.json is damaged.*brewtrials verify.*backup"):
        filled.head()
    assert filled.as_of(1).number == 1


def test_every_single_flipped_bit_of_a_manifest_is_noticed(filled):
    path = filled.manifest_path(2)
    raw = bytearray(path.read_bytes())
    for place in range(len(raw)):
        raw[place] ^= 1 << (place % 8)
        path.write_bytes(raw)
        with pytest.raises(ProblemError, match="damaged"):
            filled.head()
        raw[place] ^= 1 << (place % 8)


def test_a_renamed_manifest_is_noticed(filled):
    filled.manifest_path(2).rename(filled.manifest_path(3))

    with pytest.raises(ProblemError, match="says it is ingest 2"):
        filled.head()


def test_a_missing_commit_before_the_head_is_called_missing(filled):
    filled.manifest_path(1).unlink()

    assert filled.head().number == 2
    with pytest.raises(ProblemError, match="Ingest 1 is missing"):
        filled.as_of(1)


def test_equal_commits_in_two_labs_give_equal_bytes(tmp_path, commit):
    written = []
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        store = Store(tmp_path / name)
        commit(store, rows={"brews": [{"brew_id": "a", "dose_g": 18.0}]}, original=b"a,18")
        written.append({path.name: path.read_bytes() for path in store.folder.glob("*/*")})

    assert written[0] == written[1]
    assert len(written[0]) == 3


def test_no_file_in_the_making_is_left_after_a_commit(filled):
    assert [path for path in filled.folder.rglob("*") if path.name.startswith(".tmp-")] == []
