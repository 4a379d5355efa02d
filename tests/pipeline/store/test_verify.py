from __future__ import annotations

import pytest

from pipeline.store.store import Store
from pipeline.store.verify import verify


def flip_a_bit(path, place):
    raw = bytearray(path.read_bytes())
    raw[int(place * (len(raw) - 1))] ^= 4
    path.write_bytes(raw)


def test_an_empty_lab_is_intact(store):
    found = verify(store)

    assert found.intact
    assert (found.manifests, found.data_files, found.originals) == (0, 0, 0)


def test_an_untouched_store_is_intact_and_everything_was_counted(filled):
    found = verify(filled)

    # brews twice, readings once, the replaced versions once.
    assert (found.manifests, found.data_files, found.originals) == (2, 4, 1)
    assert found.findings == ()


@pytest.mark.parametrize("place", [0.0, 0.1, 0.35, 0.5, 0.77, 1.0])
@pytest.mark.parametrize(
    ("folder", "kind"), [("data", "data file"), ("manifests", "manifest"), ("originals", "original")]
)
def test_one_flipped_bit_in_any_file_is_found(filled, folder, kind, place):
    for path in sorted((filled.folder / folder).iterdir()):
        right = path.read_bytes()
        flip_a_bit(path, place)

        findings = verify(Store(filled.lab_dir)).findings

        assert (kind, f"store/{folder}/{path.name}") in [(finding.kind, finding.file) for finding in findings]
        path.write_bytes(right)
    assert verify(Store(filled.lab_dir)).intact


@pytest.mark.parametrize("folder", ["data", "originals"])
def test_a_missing_file_is_found(filled, folder):
    gone = sorted((filled.folder / folder).iterdir())[0]
    gone.unlink()

    (finding,) = verify(filled).findings

    assert finding.file == f"store/{folder}/{gone.name}"
    assert "missing" in finding.message
    assert "backup" in finding.message


def test_a_missing_commit_is_found(filled):
    filled.manifest_path(1).unlink()

    (finding,) = verify(filled).findings

    assert (finding.kind, finding.file) == ("manifest", "store/manifests/00000001.json")
    assert "missing" in finding.message


def test_an_exchanged_commit_is_found_by_the_chain(filled, tmp_path, commit):
    other = Store(tmp_path / "other")
    commit(other, rows={"brews": [{"brew_id": "z"}]})
    filled.manifest_path(1).write_bytes(other.manifest_path(1).read_bytes())

    messages = [finding.message for finding in verify(filled).findings]

    assert any("not made from ingest 1" in message for message in messages)


def test_a_later_commit_put_first_is_found(filled):
    filled.manifest_path(1).write_bytes(filled.manifest_path(2).read_bytes())

    assert any("says it is ingest 2" in finding.message for finding in verify(filled).findings)


def test_a_commit_that_cannot_be_opened_is_found(filled):
    filled.manifest_path(1).unlink()
    filled.manifest_path(1).mkdir()

    assert any("cannot be read" in finding.message for finding in verify(filled).findings)


def test_what_an_interrupted_run_left_is_no_damage(filled):
    filled.keep_original(b"never committed")
    (filled.data_dir / ".tmp-1-abc").write_bytes(b"half")

    assert verify(filled).intact
