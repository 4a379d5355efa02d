"""The bytes of a text file as UTF-8, unpacked and without byte order mark, read forward in bounded steps."""

from __future__ import annotations

import codecs
import gzip
import zlib
from io import BufferedIOBase
from pathlib import Path
from types import TracebackType

from pipeline.sources.limits import BLOCK_BYTES, UnreadableError, is_bomb

_STEP = 2**20
_MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)


class TextStream:
    """Reads a file forward; `read(n)` gives n bytes unless the file ends. Raises UnreadableError on damage.

    Bytes of an 8-bit file are passed through as they are: which code page they use is settled line by line later.
    """

    def __init__(self, path: Path, *, packed: bool) -> None:
        self._packed_size = path.stat().st_size
        self._unpacked = 0
        self._packed = packed
        self._handle: BufferedIOBase = gzip.GzipFile(path) if packed else path.open("rb")
        self._ready = b""
        try:
            head = self._raw(_STEP)
            mark, encoding = _encoding(head)
            self._decoder = None if encoding == "utf-8" else codecs.getincrementaldecoder(encoding)("strict")
            self._ready = self._as_utf8(head[len(mark) :], final=False)
        except UnreadableError:
            self._handle.close()
            raise

    def __enter__(self) -> TextStream:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, tb: TracebackType | None) -> None:
        self._handle.close()

    def read(self, size: int = BLOCK_BYTES) -> bytes:
        """Exactly `size` bytes, fewer only at the end of the file."""
        parts = [self._ready]
        have = len(self._ready)
        while have < size:
            step = self._raw(size - have if self._decoder is None else _STEP)
            parts.append(self._as_utf8(step, final=not step))
            have += len(parts[-1])
            if not step:
                break
        whole = b"".join(parts)
        self._ready = whole[size:]
        return whole[:size]

    def _raw(self, size: int) -> bytes:
        try:
            step = self._handle.read(size)
        except EOFError as error:
            raise UnreadableError("The packed file is cut short. Copy it again and hand it in.") from error
        except (gzip.BadGzipFile, zlib.error) as error:
            raise UnreadableError("The packed file is damaged. Pack it again and hand it in.") from error
        if self._packed:
            self._unpacked += len(step)
            if is_bomb(packed=self._packed_size, unpacked=self._unpacked):
                raise UnreadableError(
                    f"It unpacks to more than {self._unpacked // 2**20} MB from {self._packed_size // 2**10} kB, "
                    "which no log does. Unpack it yourself and look."
                )
        return step

    def _as_utf8(self, step: bytes, *, final: bool) -> bytes:
        if self._decoder is None:
            return step
        try:
            return self._decoder.decode(step, final).encode("utf-8")
        except UnicodeError as error:
            raise UnreadableError("Its UTF-16 text is damaged or cut short. Save it again as UTF-8.") from error


def _encoding(head: bytes) -> tuple[bytes, str]:
    """The byte order mark and encoding of a text that begins with `head`."""
    for mark, encoding in _MARKS:
        if head.startswith(mark):
            return mark, encoding
    sample = head[:4096]
    half = len(sample) // 2
    even, odd = sample[0::2].count(0), sample[1::2].count(0)
    if half and odd > 0.4 * half and even < 0.05 * half:
        return b"", "utf-16-le"
    if half and even > 0.4 * half and odd < 0.05 * half:
        return b"", "utf-16-be"
    return b"", "utf-8"


def to_utf8(block: bytes) -> tuple[bytes, tuple[int, ...]]:
    """The block as valid UTF-8, and the 0-based indices of lines that were Windows-1252 instead.

    Settled line by line, so that a log to which two programs wrote keeps the accents of both.
    """
    try:
        block.decode("utf-8")
    except UnicodeDecodeError:
        pass
    else:
        return block, ()
    lines = block.splitlines(keepends=True)
    changed = []
    for index, line in enumerate(lines):
        if line.isascii():
            continue
        try:
            line.decode("utf-8")
        except UnicodeDecodeError:
            lines[index] = _from_code_page(line).encode("utf-8")
            changed.append(index)
    return b"".join(lines), tuple(changed)


def _from_code_page(line: bytes) -> str:
    try:
        return line.decode("cp1252")
    except UnicodeDecodeError:
        return line.decode("latin-1")
