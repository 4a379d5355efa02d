"""Cut blocks of text into rows in whole columns, and prove that polars will read them as they stand."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.sources.cells import Shape
from pipeline.sources.streams import to_utf8

_QUOTE, _LF, _CR = 34, 10, 13
_MOST_STEPS_BACK = 200
_SPACES = bytes((9, 11, 12, 28, 29, 30, 31, 32))
_WIDE_SPACE_STARTS = (b"\xc2\x85", b"\xc2\xa0", b"\xe1\x9a", b"\xe2\x80", b"\xe2\x81", b"\xe3\x80", b"\xef\xbb")
_WIDE_SPACE_BYTES = bytes({*b"\xc2\x85\xa0\xe1\x9a\xe2\x81\xe3\xef\xbb\xbf\xa8\xa9\xaf\x9f", *range(0x80, 0x8C)})
_Positions = npt.NDArray[np.int64]


@dataclass(frozen=True)
class Block:
    """Whole rows of valid UTF-8, each ended by LF (or CRLF beside quotes).

    `starts` and `ends` are each row's bytes (end without its line end), `lines` its first physical line, and
    `regular` says that it has the usual number of cells, none beyond the header, and is not blank: polars may read it.
    `code_page` are the physical lines that were Windows-1252; `strip` says that cells may begin or end with space.
    """

    text: bytes
    starts: _Positions
    ends: _Positions
    lines: _Positions
    regular: npt.NDArray[np.bool_]
    line_count: int
    quoted: bool
    strip: bool
    code_page: tuple[int, ...]


def cut_size(raw: bytes, *, final: bool) -> int:
    """Bytes up to the last line end that lies outside quotes (0 when there is none); all of them when `final`."""
    if final:
        return len(raw)
    open_quote = raw.count(b'"') % 2 == 1
    end = len(raw)
    for _ in range(_MOST_STEPS_BACK):
        cut = max(raw.rfind(b"\n", 0, end), raw.rfind(b"\r", 0, min(end, len(raw) - 1))) + 1
        open_quote ^= raw.count(b'"', cut, end) % 2 == 1
        if not open_quote:
            return cut
        end = cut - 1
        if end < 1:
            break
    return 0


def normal_text(raw: bytes) -> tuple[bytes, tuple[int, ...]]:
    """Valid UTF-8 that ends with a line end, rows ended by LF unless there are quotes; lines that were Windows-1252."""
    text, changed = to_utf8(raw)
    if b"\r" in text and b'"' not in text:
        text = text.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    return text if text.endswith(b"\n") else text + b"\n", changed


def survey(raw: bytes, *, first_line: int, shape: Shape) -> Block | None:
    """Find the rows of `raw`, which begins and ends at row bounds; None when its quotes need the strict reader.

    Sound by induction from the row bound it starts at: every quote opens right after a separator or line end and
    closes right before one, so a separator or line end is outside quotes when an even number of quotes precede it.
    Where no quote stands at the beginning of a cell, they are all text and `quoted` is False.
    """
    text, changed = normal_text(raw)
    crlf = b"\r" in text  # only beside quotes
    if crlf and text.count(b"\r") != text.count(b"\r\n"):
        return None
    buffer = np.frombuffer(text, np.uint8)
    separator = ord(shape.separator)
    marks, quotes, quotes_before, inner_ends = _marks(buffer, separator, quoted=b'"' in text)
    if not _quotes_in_place(buffer, quotes, separator):
        return None
    at = np.flatnonzero(buffer[marks] == _LF)
    starts, ends = np.concatenate([[0], marks[at][:-1] + 1]), marks[at]
    if crlf:
        ends = ends - ((buffer[ends - 1] == _CR) & (ends > starts))
    strip = crlf or inner_ends.size > 0 or _has_spaces(text, buffer, marks, quotes, separator)
    regular = np.diff(at, prepend=-1) == shape.usual
    if shape.usual > shape.header:
        after_header = marks[np.maximum(at - shape.usual + shape.header, 0)]
        regular &= ends - after_header == shape.usual - shape.header
    if strip:
        regular &= ~np.asarray(_maybe_blank(text, buffer, starts, separator))
    else:  # nothing between the separators but pairs of quotes
        pairs = np.diff(quotes_before[at], prepend=0) if quotes.size else 0
        regular &= ends - starts - (shape.usual - 1) > pairs
    return Block(
        text=text,
        starts=starts,
        ends=ends,
        lines=first_line + np.arange(starts.size) + np.searchsorted(inner_ends, starts),
        regular=regular,
        line_count=starts.size + inner_ends.size,
        quoted=bool(quotes.size),
        strip=strip,
        code_page=tuple(first_line + index for index in changed),
    )


def _marks(
    buffer: npt.NDArray[np.uint8], separator: int, *, quoted: bool
) -> tuple[_Positions, _Positions, _Positions, _Positions]:
    """Separators and line ends outside quotes, the quotes, how many precede each mark, and line ends inside quotes."""
    either = (buffer == separator) | (buffer == _LF)
    none = np.zeros(0, np.int64)
    quotes = np.flatnonzero(buffer == _QUOTE) if quoted else none
    if quotes.size == 0 or not _may_open(buffer, quotes, separator):  # inch marks and the like are text
        return np.flatnonzero(either), none, none, none
    either[quotes] = True
    marks = np.flatnonzero(either)
    kinds = buffer[marks]
    before = np.cumsum(kinds == _QUOTE, dtype=np.int64)
    outside = (kinds != _QUOTE) & (before % 2 == 0)
    return marks[outside], quotes, before[outside], marks[~outside & (kinds == _LF)]


def _may_open(buffer: npt.NDArray[np.uint8], quotes: _Positions, separator: int) -> bool:
    """True when any quote may stand at the beginning of a cell; else all of them are text."""
    return bool(np.isin(buffer[quotes - 1], (separator, _LF, _CR, ord(" "))).any())  # -1 is the last line end


def _quotes_in_place(buffer: npt.NDArray[np.uint8], quotes: _Positions, separator: int) -> bool:
    if quotes.size % 2:
        return False
    opening, closing = quotes[0::2], quotes[1::2]
    before, after = np.zeros(256, np.bool_), np.zeros(256, np.bool_)
    before[[separator, _LF, _QUOTE]] = True
    after[[separator, _LF, _CR, _QUOTE]] = True
    opens = before[buffer[opening[opening > 0] - 1]]
    return bool(opens.all() and after[buffer[closing + 1]].all())  # the text ends with a line end: +1 is inside


def _has_spaces(
    text: bytes, buffer: npt.NDArray[np.uint8], marks: _Positions, quotes: _Positions, separator: int
) -> bool:
    """True when any cell may begin or end with white space; a tab that separates is none, in quotes it is."""
    space = np.zeros(256, np.bool_)
    space[[code for code in _SPACES if code in text]] = True
    if not space.any():
        return _has_wide_spaces(text)
    if space[buffer[quotes[0::2] + 1]].any() or space[buffer[quotes[1::2] - 1]].any():
        return True
    space[separator] = False
    if space[buffer[0]] or space[buffer[marks - 1]].any() or space[buffer[marks[:-1] + 1]].any():
        return True
    return _has_wide_spaces(text)


def _has_wide_spaces(text: bytes) -> bool:
    """True when there may be a white space beyond ASCII anywhere."""
    return not text.isascii() and any(start in text for start in _WIDE_SPACE_STARTS)


def _maybe_blank(
    text: bytes, buffer: npt.NDArray[np.uint8], starts: _Positions, separator: int
) -> npt.NDArray[np.bool_] | bool:
    """Rows made of nothing but separators, quotes and (parts of) white space; the strict reader then decides."""
    nothing = bytes((separator, _QUOTE, _CR)) + _SPACES + (b"" if text.isascii() else _WIDE_SPACE_BYTES)
    left = text.translate(None, nothing)
    if not left.startswith(b"\n") and b"\n\n" not in left:
        return False
    filled = np.ones(256, np.uint8)
    filled[[_LF, *nothing]] = 0
    return np.asarray(np.add.reduceat(filled[buffer], starts, dtype=np.int64) == 0)
