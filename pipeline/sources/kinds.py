"""What a file is by its first bytes, never by its name."""

from __future__ import annotations

import re
import zipfile
from pathlib import Path
from typing import Literal

from pipeline.sources.limits import UnreadableError

FileKind = Literal["text", "gzip", "workbook"]
HEAD_BYTES = 4096
_SAVE_AS = "Save it as .xlsx or CSV and hand that in."
_SIGNATURES: tuple[tuple[bytes, str], ...] = (
    (b"%PDF", f"It is a PDF, not a table. {_SAVE_AS}"),
    (b"\x89PNG", "It is a picture, not a table."),
    (b"\xff\xd8\xff", "It is a picture, not a table."),
    (b"GIF8", "It is a picture, not a table."),
    (b"{\\rtf", f"It is a text document, not a table. {_SAVE_AS}"),
    (b"PAR1", f"It is a Parquet file. {_SAVE_AS}"),
    (b"SQLite format 3\0", f"It is a database file. {_SAVE_AS}"),
    (b"BZh", "It is packed with bzip2. Unpack it, or pack it with gzip."),
    (b"\xfd7zXZ", "It is packed with xz. Unpack it, or pack it with gzip."),
    (b"\x28\xb5\x2f\xfd", "It is packed with zstd. Unpack it, or pack it with gzip."),
    (b"7z\xbc\xaf", "It is a 7-Zip archive. Unpack it and hand in the files inside."),
    (b"Rar!", "It is a RAR archive. Unpack it and hand in the files inside."),
)
_OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_MARKUP = re.compile(rb"^(\xef\xbb\xbf)?\s*<(!doctype|html|\?xml|table|meta|head|body|svg)", re.IGNORECASE)
_JSON = re.compile(rb'^(\xef\xbb\xbf)?\s*(\{\s*["}]|\[\s*[\[{])')


def file_kind(path: Path, head: bytes) -> FileKind:
    """Say how to read the file whose first bytes are `head`, or raise UnreadableError saying what it is instead."""
    if not head:
        raise UnreadableError("The file is empty.")
    if head.startswith(b"\x1f\x8b"):
        return "gzip"
    if head.startswith((b"PK\x03\x04", b"PK\x05\x06")):
        return _zip_kind(path)
    if head.startswith(_OLE):
        raise UnreadableError(_ole_reason(path))
    refuse_other_formats(head)
    return "text"


def refuse_other_formats(head: bytes) -> None:
    """Raise UnreadableError when `head` opens a format that is no table of text."""
    for signature, reason in _SIGNATURES:
        if head.startswith(signature):
            raise UnreadableError(reason)
    if head.startswith((b"PK\x03\x04", b"\x1f\x8b", _OLE)):
        raise UnreadableError("It is a packed file inside a packed file. Unpack it once and hand in what is inside.")
    if _MARKUP.match(head):
        raise UnreadableError(f"It is a web page or XML, whatever its name says. {_SAVE_AS}")
    if _JSON.match(head):
        raise UnreadableError(f"It is JSON, not a table. {_SAVE_AS}")


def _zip_kind(path: Path) -> FileKind:
    try:
        with zipfile.ZipFile(path) as archive:
            names = set(archive.namelist())
            kind = ""
            if "mimetype" in names:
                with archive.open("mimetype") as handle:
                    kind = handle.read(100).decode("latin-1")
    except (zipfile.BadZipFile, OSError, NotImplementedError, RuntimeError, ValueError) as error:
        raise UnreadableError(
            "The workbook is damaged or cut short. Save it again and hand in the new copy."
        ) from error
    if "xl/workbook.bin" in names:
        raise UnreadableError(f"It is a binary workbook (.xlsb). {_SAVE_AS}")
    if any(name.startswith("xl/") for name in names):
        return "workbook"
    if "opendocument.spreadsheet" in kind or any(name.endswith(".iwa") for name in names):
        raise UnreadableError(f"It is a spreadsheet in another format. {_SAVE_AS}")
    if "[Content_Types].xml" in names or kind:
        raise UnreadableError(f"It is a document, not a spreadsheet. {_SAVE_AS}")
    raise UnreadableError("It is a zip archive. Unpack it and hand in the files inside.")


def _ole_reason(path: Path) -> str:
    """Old Excel files and password-protected new ones share a container; the name of a stream tells them apart."""
    with path.open("rb") as handle:
        content = handle.read(64 * 2**20)
    if "EncryptedPackage".encode("utf-16-le") in content:
        return "The workbook is protected with a password. Take the password off, save it and hand it in again."
    return f"It is an old Excel file (.xls). {_SAVE_AS}"
