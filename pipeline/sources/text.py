"""Read a text file as one sheet: a pass that proves and counts every row, then batches on demand."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import polars as pl

from pipeline.sources.header import IsHeader, check_names, kept_columns, skipped_note
from pipeline.sources.kinds import HEAD_BYTES, refuse_other_formats
from pipeline.sources.limits import BATCH_ROWS, UnreadableError
from pipeline.sources.model import RawSheet
from pipeline.sources.pieces import piece_frame, prove_all
from pipeline.sources.separator import Layout, find_layout
from pipeline.sources.streams import TextStream, to_utf8
from schemas.problem import ProblemError

_SAMPLE_BYTES = 256 * 2**10
_CONTROLS = bytes({*range(9), *range(14, 27), 127})


def read_text(path: Path, *, file: str, packed: bool, is_header: IsHeader | None = None) -> RawSheet:
    """The one sheet of a text file, gzip-packed or not. Raises UnreadableError with the reason when it has none."""
    stamp = _stamp(path)
    with TextStream(path, packed=packed) as stream:
        layout, code_page = _read_layout(stream, is_header)
    check_names(layout.header)
    with TextStream(path, packed=packed) as stream:
        stream.read(layout.start)
        proof = prove_all(stream, first_line=layout.first_line, shape=layout.shape)

    def physical() -> Iterator[pl.DataFrame]:
        if _stamp(path) != stamp:
            raise ProblemError(f"{file} changed while it was being read. Hand it in again.")
        with TextStream(path, packed=packed) as stream:
            stream.read(layout.start)
            for piece in proof.pieces:
                yield piece_frame(stream.read(piece.size), piece, layout.shape)

    kept, header = kept_columns(layout.header, _filled_columns(layout, physical))

    def batches() -> Iterator[pl.DataFrame]:
        cells = [pl.col(f"c{old}").alias(f"c{new}") for new, old in enumerate(kept)]
        for frame in physical():
            yield from frame.select("line", *cells).iter_slices(BATCH_ROWS) if frame.height else ()

    return RawSheet(
        file=file,
        sheet="",
        header=header,
        batches=batches,
        rows_read=proof.rows,
        blank=proof.blank,
        ragged=tuple(proof.ragged),
        notes=(
            *skipped_note(layout.above),
            *_code_page_note([*code_page, *proof.code_page]),
            *([] if proof.rows else ["There are no rows below the header."]),
        ),
    )


def _stamp(path: Path) -> tuple[int, int]:
    status = path.stat()
    return status.st_size, status.st_mtime_ns


def _read_layout(stream: TextStream, is_header: IsHeader | None) -> tuple[Layout, list[int]]:
    """The layout, and the lines of the header part that were Windows-1252."""
    sample = stream.read(_SAMPLE_BYTES)
    if not sample:
        raise UnreadableError("The file is empty.")
    refuse_other_formats(sample[:HEAD_BYTES])
    controls = len(sample) - len(sample.translate(None, _CONTROLS))
    if controls > len(sample) / 100:
        raise UnreadableError("It is not text: it holds many control characters. Save the table as CSV or .xlsx.")
    layout = find_layout(sample, whole=len(sample) < _SAMPLE_BYTES, is_header=is_header)
    return layout, [index + 1 for index in to_utf8(sample[: layout.start])[1]]


def _filled_columns(layout: Layout, physical: Callable[[], Iterator[pl.DataFrame]]) -> Callable[[int], bool]:
    """Says whether an unnamed column holds anything; reads the file for it only when there is such a column."""
    unnamed = [index for index, name in enumerate(layout.header) if not name]
    filled: set[int] = set()
    if unnamed:
        for frame in physical():
            filled.update(index for index in unnamed if frame[f"c{index}"].count())
    return filled.__contains__


def _code_page_note(lines: list[int]) -> tuple[str, ...]:
    if not lines:
        return ()
    count = "1 line is" if len(lines) == 1 else f"{len(lines):,} lines are"
    return (f"{count} not UTF-8 (first: line {lines[0]}) and read as Windows-1252; check accents and signs there.",)
