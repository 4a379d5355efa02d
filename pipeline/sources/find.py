"""Find the files to read among files and folders."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from schemas.problem import ProblemError

_TABLES = (".csv", ".tsv", ".tab", ".txt", ".xlsx", ".xlsm", ".gz")
_OTHER_SPREADSHEETS = (".xls", ".xlsb", ".ods", ".numbers")
"""Cannot be read, yet are taken up, so that they are refused aloud instead of passed over."""


@dataclass(frozen=True)
class Found:
    """Files to read, in order, and the files of folders that hold no table by their name."""

    files: tuple[Path, ...]
    ignored: tuple[Path, ...]


def find_files(paths: Sequence[Path]) -> list[Path]:
    """Files to read: named ones as they are, folders read through in sorted order, each file once.

    Hidden files and folders and lock files of open workbooks (`~$...`) are skipped. Raises ProblemError when a
    named path does not exist.
    """
    return list(look_through(paths).files)


def look_through(paths: Sequence[Path]) -> Found:
    """As `find_files`, and also says which files of the folders were left out."""
    missing = [path for path in paths if not path.exists()]
    if missing:
        more = f" ({len(missing)} paths are missing)" if len(missing) > 1 else ""
        raise ProblemError(f"There is no file or folder {str(missing[0])!r}{more}. Check the spelling and the folder.")
    files: dict[Path, Path] = {}
    ignored: dict[Path, Path] = {}
    for path in paths:
        for file in _inside(path) if path.is_dir() else [path]:
            wanted = file is path or file.suffix.lower() in (*_TABLES, *_OTHER_SPREADSHEETS)
            (files if wanted else ignored).setdefault(file.resolve(), file)
    return Found(files=tuple(files.values()), ignored=tuple(ignored.values()))


def _inside(folder: Path) -> Iterator[Path]:
    found = []
    for parent, folders, names in os.walk(folder):
        folders[:] = [name for name in folders if not _is_hidden(name)]
        found += [Path(parent, name) for name in names if not _is_hidden(name)]
    return iter(sorted(found, key=lambda file: file.relative_to(folder).parts))


def _is_hidden(name: str) -> bool:
    return name.startswith((".", "~$")) or name == "__MACOSX"
