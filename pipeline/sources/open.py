"""Open one file as handed in, whatever it is: sheets of text rows, or the reason why not."""

from __future__ import annotations

import hashlib
from pathlib import Path

from pipeline.sources.find import Found, find_files, look_through
from pipeline.sources.header import IsHeader
from pipeline.sources.kinds import HEAD_BYTES, file_kind
from pipeline.sources.limits import UnreadableError
from pipeline.sources.model import RawSheet, Source
from pipeline.sources.text import read_text

__all__ = ["Found", "IsHeader", "find_files", "look_through", "open_source"]


def open_source(path: Path, *, file: str | None = None, is_header: IsHeader | None = None) -> Source:
    """Open `path`, called `file` in messages. Never raises on a bad file: `Source.refused` then says why.

    `is_header` scores a row of cells as a header (0 is none); without it the first row of names is taken.
    """
    name = str(path) if file is None else file
    digest = ""
    try:
        with path.open("rb") as handle:
            digest = hashlib.file_digest(handle, "sha256").hexdigest()
            handle.seek(0)
            head = handle.read(HEAD_BYTES)
        sheets, notes = _read(path, name, head, is_header)
    except UnreadableError as error:
        return Source(file=name, path=path, sha256=digest, refused=str(error))
    except OSError as error:
        return Source(file=name, path=path, sha256=digest, refused=f"It cannot be opened: {error.strerror or error}.")
    return Source(file=name, path=path, sha256=digest, sheets=sheets, notes=notes)


def _read(
    path: Path, file: str, head: bytes, is_header: IsHeader | None
) -> tuple[tuple[RawSheet, ...], tuple[str, ...]]:
    kind = file_kind(path, head)
    if kind == "workbook":
        from pipeline.sources.workbook import read_workbook  # openpyxl takes a moment to import

        return read_workbook(path, file=file, is_header=is_header)
    return (read_text(path, file=file, packed=kind == "gzip", is_header=is_header),), ()
