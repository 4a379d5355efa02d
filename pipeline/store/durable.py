"""Writing so that a file is either whole under its name or not there: temp, fsync, rename, fsync of the folder."""

from __future__ import annotations

import errno
import hashlib
import os
import shutil
import uuid
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from schemas.problem import ProblemError

TEMP_PREFIX = ".tmp-"
CHUNK_BYTES = 1 << 20
NO_ROOM = {
    errno.ENOSPC: "the disk is full",
    errno.EDQUOT: "the disk quota is used up",
    errno.EFBIG: "the file is larger than this disk or account allows",
}
NO_RIGHT = {errno.EACCES, errno.EPERM, errno.EROFS}
NO_HARD_LINKS = {errno.EPERM, errno.ENOSYS, errno.EOPNOTSUPP, errno.EMLINK}


def sha256_of(path: Path) -> str:
    """Hex sha256 of a file's bytes."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def in_words(size_bytes: int) -> str:
    """A size a person can read.

    >>> in_words(2_500_000)
    '2.5 MB'
    """
    for unit, scale in (("GB", 10**9), ("MB", 10**6), ("kB", 10**3)):
        if size_bytes >= scale:
            return f"{size_bytes / scale:.1f} {unit}"
    return f"{size_bytes} bytes"


def _free_bytes(folder: Path) -> int | None:
    while not folder.exists() and folder != folder.parent:
        folder = folder.parent
    try:
        return shutil.disk_usage(folder).free
    except OSError:
        return None


def _cannot_write(error: OSError, what: str, folder: Path, needed_bytes: int | None) -> ProblemError:
    where = f"{what} could not be written in {folder}"
    kept = "Nothing was taken in; what was stored before is intact."
    if error.errno in NO_ROOM:
        free = _free_bytes(folder)
        need = f", about {in_words(needed_bytes)} needed" if needed_bytes else ""
        left = f", {in_words(free)} free" if free is not None else ""
        return ProblemError(f"{where}: {NO_ROOM[error.errno]}{need}{left}. {kept} Make room and run it again.")
    if error.errno in NO_RIGHT:
        reason = "the disk is read-only" if error.errno == errno.EROFS else "this user may not write there"
        return ProblemError(f"{where}: {reason}. {kept} Allow writing to that folder and run it again.")
    reason = os.strerror(error.errno) if error.errno else str(error)
    return ProblemError(f"{where}: {reason}. {kept} Check the disk and run it again.")


@contextmanager
def clear_write_errors(what: str, folder: Path, *, needed_bytes: int | None = None) -> Iterator[None]:
    """Turn an operating system error into a sentence that names what could not be written, and where."""
    try:
        yield
    except OSError as error:
        raise _cannot_write(error, what, folder, needed_bytes) from error


def make_folder(folder: Path) -> None:
    """Make a folder and its parents, each durable in its parent."""
    if folder.is_dir():
        return
    make_folder(folder.parent)
    with suppress(FileExistsError):
        folder.mkdir()
    sync_folder(folder.parent)


def sync_folder(folder: Path) -> None:
    """Make the names in a folder durable."""
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def sync_file(path: Path) -> None:
    """Make a file's bytes durable."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


@contextmanager
def temp_path(folder: Path) -> Iterator[Path]:
    """A new name in `folder` for a file in the making, removed afterwards unless it was renamed."""
    path = folder / f"{TEMP_PREFIX}{os.getpid()}-{uuid.uuid4().hex}"
    try:
        yield path
    finally:
        with suppress(OSError):
            path.unlink(missing_ok=True)


def rename_durably(temp: Path, final: Path) -> None:
    """Give a finished temp file its name; an older file of that name is replaced."""
    sync_file(temp)
    temp.replace(final)
    sync_folder(final.parent)


def create_durably(temp: Path, final: Path) -> None:
    """Give a finished temp file its name, or raise FileExistsError when the name is taken.

    Where the disk has no hard links this relies on the caller holding the store's lock.
    """
    sync_file(temp)
    try:
        os.link(temp, final)
    except OSError as error:
        if error.errno not in NO_HARD_LINKS:
            raise
        if final.exists():
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(final)) from error
        temp.rename(final)
    sync_folder(final.parent)
