"""The parts of an .xlsx package around its sheets: which sheets there are, shared texts, number formats."""

from __future__ import annotations

import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import IO, cast
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

from openpyxl.styles.numbers import BUILTIN_FORMATS
from openpyxl.utils.escape import unescape

from pipeline.sources.limits import MAX_SHEET_TEXT, MAX_WORKBOOK_BYTES, UnreadableError, is_bomb

_STEP = 2**16
_LONGEST_TEXT = 2**21
_MOST_CHILDREN = 10_000
_EAST_ASIAN_DATES = dict.fromkeys((27, 28, 29, 30, 31, 36, *range(50, 59)), "yyyy-mm-dd")
_EAST_ASIAN_TIMES = dict.fromkeys(range(32, 36), "h:mm:ss")
_FORMATS: dict[int, str] = {**BUILTIN_FORMATS, **_EAST_ASIAN_DATES, **_EAST_ASIAN_TIMES}


@dataclass(frozen=True)
class SheetPart:
    """One sheet as the workbook lists it; `part` is its path in the package."""

    name: str
    part: str
    hidden: bool
    is_table: bool


@dataclass(frozen=True)
class Package:
    """What every sheet needs: texts by number, number format by style number, and where the calendar begins."""

    sheets: tuple[SheetPart, ...]
    texts: tuple[str, ...]
    formats: tuple[str, ...]
    from_1904: bool


@contextmanager
def open_package(path: Path) -> Iterator[zipfile.ZipFile]:
    """The package, after its size was checked; damage inside the block becomes an UnreadableError."""
    try:
        with zipfile.ZipFile(path) as archive:
            _refuse_bombs(archive)
            yield archive
    except (zipfile.BadZipFile, zlib.error, ElementTree.ParseError, EOFError, NotImplementedError) as error:
        raise UnreadableError("The workbook is damaged or cut short. Save it again and hand it in.") from error
    except (KeyError, ValueError, IndexError, RuntimeError) as error:
        raise UnreadableError("The workbook is not built as .xlsx should be. Open it and save it again.") from error


def _refuse_bombs(archive: zipfile.ZipFile) -> None:
    parts = archive.infolist()
    unpacked = sum(part.file_size for part in parts)
    swollen = any(is_bomb(packed=part.compress_size, unpacked=part.file_size) for part in parts)
    if swollen or unpacked > MAX_WORKBOOK_BYTES:
        raise UnreadableError(
            f"The workbook would unpack to {unpacked / 2**20:,.0f} MB, more than is read. Save its sheets as CSV."
        )


def read_package(archive: zipfile.ZipFile) -> Package:
    """Sheets in workbook order, shared texts, formats. Raises UnreadableError when the texts are too long."""
    office = _relations(archive, "_rels/.rels", "")
    (book_part,) = [target for kind, target in office.values() if kind == "officeDocument"]
    folder = book_part.rpartition("/")[0]
    book = _root(archive, book_part)
    links = _relations(archive, f"{folder}/_rels/{book_part.rpartition('/')[2]}.rels", folder)
    texts = [target for kind, target in links.values() if kind == "sharedStrings"]
    styles = [target for kind, target in links.values() if kind == "styles"]
    return Package(
        sheets=tuple(_sheet(element, links) for element in book.iter() if tag(element) == "sheet"),
        texts=_shared_texts(archive, texts[0]) if texts else (),
        formats=_number_formats(_root(archive, styles[0])) if styles else (),
        from_1904=any(
            element.get("date1904") in ("1", "true") for element in book.iter() if tag(element) == "workbookPr"
        ),
    )


def tag(element: Element) -> str:
    """Name without namespace: the strict and the usual form of the format differ only there."""
    return _local(element.tag)


@lru_cache(maxsize=1024)
def _local(name: str) -> str:
    return name.rpartition("}")[2]


def rich_text(element: Element) -> str:
    """Text of a cell or shared text, its runs joined, reading aids for East Asian text left out."""
    parts = []
    for child in element:
        if tag(child) == "t":
            parts.append(child.text or "")
        elif tag(child) == "r":
            parts.append(rich_text(child))
    return "".join(parts)


def plain(text: str) -> str:
    """Text with `_x000D_`-like escapes of the format resolved."""
    return str(unescape(text)) if "_x" in text else text


def _root(archive: zipfile.ZipFile, part: str) -> Element:
    with archive.open(part) as handle:
        return ElementTree.parse(handle).getroot()


def _relations(archive: zipfile.ZipFile, part: str, folder: str) -> dict[str, tuple[str, str]]:
    """Relation id -> (kind, path in the package)."""
    found = {}
    for element in _root(archive, part):
        target = element.get("Target", "")
        path = target.lstrip("/") if target.startswith("/") or not folder else f"{folder}/{target.removeprefix('./')}"
        found[element.get("Id", "")] = (element.get("Type", "").rpartition("/")[2], path)
    return found


def _sheet(element: Element, links: dict[str, tuple[str, str]]) -> SheetPart:
    (link,) = [value for name, value in element.attrib.items() if name.endswith("}id")]
    kind, part = links[link]
    return SheetPart(
        name=element.get("name", ""),
        part=part,
        hidden=element.get("state", "visible") != "visible",
        is_table=kind == "worksheet",
    )


def _shared_texts(archive: zipfile.ZipFile, part: str) -> tuple[str, ...]:
    texts: list[str] = []
    length = 0
    with archive.open(part) as handle:
        for event, element in walk(handle, whole="si"):
            if event == "end" and tag(element) == "si":
                texts.append(plain(rich_text(element)))
                length += len(texts[-1])
                if length > MAX_SHEET_TEXT:
                    raise UnreadableError("The workbook holds more text than is read. Save its sheets as CSV.")
    return tuple(texts)


def walk(handle: IO[bytes], *, whole: str) -> Iterator[tuple[str, Element]]:
    """Starts and ends of elements in bounded memory: `whole` elements come once, at their end, with their children."""
    parser: ElementTree.XMLPullParser[Element] = ElementTree.XMLPullParser(("start", "end"))
    parents: list[Element] = []
    inside = quiet = 0
    while step := handle.read(_STEP):
        parser.feed(step)
        quiet += len(step)
        for event, element in cast("Iterator[tuple[str, Element]]", parser.read_events()):
            quiet = 0
            if event == "start":
                parents.append(element)
                if inside:
                    inside += 1
                elif tag(element) == whole:
                    inside = 1
                else:
                    yield event, element
                continue
            parents.pop()
            if inside and tag(element) != whole:
                continue
            inside = 0
            yield event, element
            if parents:
                parents[-1].clear()
        if quiet > _LONGEST_TEXT or inside > _MOST_CHILDREN:
            raise UnreadableError("A cell of the workbook is longer than any program writes. Save its sheets as CSV.")
    parser.close()


def _number_formats(styles: Element) -> tuple[str, ...]:
    own = {
        int(element.get("numFmtId", "0")): element.get("formatCode", "")
        for element in styles.iter()
        if tag(element) == "numFmt"
    }
    for element in styles:
        if tag(element) == "cellXfs":
            numbers = [int(style.get("numFmtId", "0")) for style in element]
            return tuple(own.get(number, _FORMATS.get(number, "General")) for number in numbers)
    return ()
