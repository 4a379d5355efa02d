from __future__ import annotations

import os
from dataclasses import replace
from datetime import UTC, datetime
from importlib.metadata import version

import pytest

from pipeline.store.history import history
from pipeline.store.model import SourceEntry
from schemas.problem import ProblemError


def test_a_lab_without_commits_has_no_history(store):
    assert history(store) == []


def test_each_commit_says_what_it_brought_and_what_stood_after_it(filled):
    first, second = history(filled)

    assert (first.number, second.number) == (1, 2)
    assert first.files == ("log.csv",)
    assert first.added == {"brews": 3, "readings": 1}
    assert first.rows == {"brews": 3, "readings": 1}
    assert (first.revised, first.set_aside) == (0, 2)
    assert second.files == ()
    assert second.added == {"brews": 1}
    assert second.rows == {"brews": 3, "readings": 1}
    assert (second.revised, second.set_aside) == (1, 0)
    assert second.tool_version == version("brewtrials")


def test_written_is_the_time_of_the_manifest_file_in_utc(filled):
    moment = datetime(2026, 4, 3, 9, 15, tzinfo=UTC)
    os.utime(filled.manifest_path(1), (moment.timestamp(), moment.timestamp()))

    assert history(filled)[0].written_at == moment


def test_a_workbook_of_several_sheets_is_one_file_and_a_refused_one_is_named(filled):
    kept = filled.keep_original(b"PK")
    sources = (
        SourceEntry("book.xlsx", "Brews", kept, table="brews", counts={"set_aside": 1}),
        SourceEntry("book.xlsx", "Readings", kept, table="readings", counts={"set_aside": 4}),
        SourceEntry("odd.bin", "", kept, refused="It is no table."),
    )
    filled.commit(replace(filled.head(), number=3, sources=sources))

    last = history(filled)[-1]

    assert last.files == ("book.xlsx", "odd.bin")
    assert last.refused == ("odd.bin",)
    assert last.set_aside == 5


def test_a_damaged_commit_is_named(filled):
    filled.manifest_path(1).write_bytes(b"")

    with pytest.raises(ProblemError, match=r"00000001\.json is damaged"):
        history(filled)
