"""Which files of a folder are handed in."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.sources.find import find_files, look_through
from schemas.problem import ProblemError


def test_folders_are_read_through_in_order(tmp_path: Path) -> None:
    for name in ["b/2.csv", "b/1.XLSX", "a.csv.gz", "c.txt", "old.xls", "b/.hidden.csv", ".git/x.csv", "~$a.xlsx"]:
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).touch()
    (tmp_path / "photo.jpg").touch()
    (tmp_path / "lab.toml").touch()

    found = look_through([tmp_path])

    names = [path.relative_to(tmp_path).as_posix() for path in found.files]
    assert names == ["a.csv.gz", "b/1.XLSX", "b/2.csv", "c.txt", "old.xls"]
    assert [path.name for path in found.ignored] == ["lab.toml", "photo.jpg"]


def test_named_files_are_taken_as_they_are_and_once(tmp_path: Path) -> None:
    log = tmp_path / "log.dat"
    table = tmp_path / "t.csv"
    log.touch()
    table.touch()

    assert find_files([table, log, tmp_path, table]) == [table, log]


def test_a_missing_path_is_named(tmp_path: Path) -> None:
    with pytest.raises(ProblemError, match=r"no file or folder '.*gone\.csv'\. Check the spelling"):
        find_files([tmp_path, tmp_path / "gone.csv"])
    with pytest.raises(ProblemError, match=r"2 paths are missing"):
        find_files([tmp_path / "x", tmp_path / "y"])
