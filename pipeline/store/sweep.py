"""Clearing up what interrupted runs left behind: files of ours that no commit names."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from pipeline.store.durable import TEMP_PREFIX
from pipeline.store.model import DataFile
from pipeline.store.store import Store
from schemas.problem import ProblemError

DATA_NAME = re.compile(r"[0-9a-f]{16}\.parquet")
ORIGINAL_NAME = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True)
class Swept:
    """A file that no commit names, and its size; `removed` is False in a dry run."""

    path: Path
    size_bytes: int
    removed: bool


def sweep(store: Store, *, dry_run: bool) -> list[Swept]:
    """Remove data files, originals and unfinished files that no commit names; other people's files are left alone.

    Holds the lock, so that nothing in the making is taken for a left-over. Raises ProblemError, and removes
    nothing, when a commit is missing or cannot be read: it might name the files.
    """
    if not store.folder.is_dir():
        return []
    with store.lock():
        left_over = _unnamed(store)
        found = [Swept(path, path.lstat().st_size, removed=not dry_run) for path in left_over]
        if not dry_run:
            _remove(left_over)
    return found


def _remove(paths: list[Path]) -> None:
    for path in paths:
        try:
            path.unlink()
        except OSError as error:
            raise ProblemError(
                f"{path} is left over and cannot be removed: {error.strerror}. Allow writing to its folder and run "
                "`brewtrials sweep` again."
            ) from error


def _unnamed(store: Store) -> list[Path]:
    numbers = store.numbers()
    missing = sorted(set(range(1, max(numbers, default=0) + 1)) - set(numbers))
    if missing:
        raise ProblemError(
            f"Commit {missing[0]} is missing from {store.manifests_dir} and might name files that look left over. "
            "Nothing was removed. Run `brewtrials verify` and restore it from a backup first."
        )
    data: dict[str, DataFile] = {}
    originals: set[str] = set()
    for number in numbers:
        manifest = store.at(number)
        data |= manifest.data_files()
        originals |= manifest.original_files()
    return sorted(
        [
            *_matching(store.data_dir, DATA_NAME, keep={file.name for file in data.values()}),
            *_matching(store.originals_dir, ORIGINAL_NAME, keep=originals),
            *_matching(store.manifests_dir, None, keep=set()),
        ]
    )


def _matching(folder: Path, name: re.Pattern[str] | None, *, keep: set[str]) -> list[Path]:
    if not folder.is_dir():
        return []
    return [
        path
        for path in folder.iterdir()
        if path.name.startswith(TEMP_PREFIX) or (name and name.fullmatch(path.name) and path.name not in keep)
    ]
