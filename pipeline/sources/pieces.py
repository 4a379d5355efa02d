"""Prove a stream of text piece by piece, in bounded memory, and turn each piece into a frame afterwards."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import polars as pl

from pipeline.sources.blocks import Block, cut_size, normal_text, survey
from pipeline.sources.cells import Shape, cleaned, fit, row_kind, text_frame
from pipeline.sources.limits import BLOCK_BYTES, MAX_RAGGED, UnreadableError
from pipeline.sources.model import RaggedRow
from pipeline.sources.records import read_records
from pipeline.sources.streams import TextStream


@dataclass(frozen=True, slots=True)
class Piece:
    """Whole rows of the file, `size` bytes from `first_line` on, and how they may be read.

    `strict`: by the standard library only. `plain`: every row regular and on one line. `strip`: cells may need it.
    `quoted`: quotes enclose cells, else they are text.
    """

    size: int
    first_line: int
    rows: int
    strict: bool = False
    plain: bool = False
    quoted: bool = True
    strip: bool = True


@dataclass
class Proof:
    """What the first pass gathers: `rows` counts blank and ragged ones too."""

    pieces: list[Piece] = field(default_factory=list)
    rows: int = 0
    blank: int = 0
    ragged: list[RaggedRow] = field(default_factory=list)
    code_page: list[int] = field(default_factory=list)


@dataclass
class _Settled:
    """Rows looked at one by one: the good ones at the usual width, the ragged ones as they stood."""

    lines: list[int] = field(default_factory=list)
    good: list[list[str]] = field(default_factory=list)
    ragged: list[RaggedRow] = field(default_factory=list)
    blank: int = 0


def prove_all(stream: TextStream, *, first_line: int, shape: Shape) -> Proof:
    """Read the rows below the header once: prove every block, count its rows, keep the ragged ones.

    Raises UnreadableError on damage, bad quotes, NUL bytes and more than MAX_RAGGED ragged rows.
    """
    proof, line, pending, final = Proof(), first_line, b"", False
    while not final:
        step = stream.read(BLOCK_BYTES)
        final = len(step) < BLOCK_BYTES
        pending += step
        if pending:
            size, line_count = _prove(pending, line, shape, proof, final=final)
            pending, line = pending[size:], line + line_count
    return proof


def piece_frame(raw: bytes, piece: Piece, shape: Shape) -> pl.DataFrame:
    """The good rows of a proved piece: `line` and `c0` ... for every usual column, cleaned."""
    frame = None
    if piece.plain:
        frame = _plain_frame(raw, piece, shape)
    elif not piece.strict and (block := survey(raw, first_line=piece.first_line, shape=shape)):
        frame = _mixed_frame(block, shape)
    return _strict_frame(raw, piece.first_line, shape) if frame is None else frame


def _plain_frame(raw: bytes, piece: Piece, shape: Shape) -> pl.DataFrame | None:
    """All rows by polars; None should it count other rows than the survey."""
    text = normal_text(raw)[0]
    frame = _polars_frame(text, shape, quoted=piece.quoted)
    if frame.height != piece.rows:
        return None
    lines = pl.int_range(piece.first_line, piece.first_line + piece.rows, dtype=pl.Int64, eager=True)
    return cleaned(frame.with_columns(line=lines), strip=piece.strip)


def _prove(raw: bytes, line: int, shape: Shape, proof: Proof, *, final: bool) -> tuple[int, int]:
    """Add one block to the proof; returns the bytes and physical lines it took."""
    if b"\0" in raw:
        where = line + len((raw[: raw.index(b"\0")] + b"-").splitlines()) - 1
        raise UnreadableError(f"Line {where} holds NUL bytes; the file is damaged or is not text.")
    cut = cut_size(raw, final=final)
    block = survey(raw[:cut], first_line=line, shape=shape) if cut else None
    if block is not None:
        settled = _settle_odd(block, shape)
        rows = block.starts.size
        plain = bool(block.regular.all()) and block.line_count == rows
        proof.pieces.append(Piece(cut, line, rows, plain=plain, quoted=block.quoted, strip=block.strip))
        _add(proof, settled, rows=rows, code_page=block.code_page)
        return cut, block.line_count
    records = read_records(raw, first_line=line, separator=shape.separator, final=final)
    if not records.size:
        raise UnreadableError(f"Line {line}: a cell or line longer than 16 MB begins here; is a quote missing?")
    proof.pieces.append(Piece(records.size, line, len(records.rows), strict=True))
    _add(proof, _settle(records.rows, records.lines, shape), rows=len(records.rows), code_page=records.code_page)
    return records.size, records.line_count


def _add(proof: Proof, settled: _Settled, *, rows: int, code_page: Sequence[int]) -> None:
    proof.rows += rows
    proof.blank += settled.blank
    proof.ragged += settled.ragged
    proof.code_page += code_page
    if len(proof.ragged) > MAX_RAGGED:
        raise UnreadableError(
            f"More than {MAX_RAGGED:,} rows have another number of cells than the header, the first at line "
            f"{proof.ragged[0].line}. Check the separator and the header row."
        )


def _settle(rows: Sequence[Sequence[str]], lines: Sequence[int], shape: Shape) -> _Settled:
    settled = _Settled()
    for line, cells in zip(lines, rows, strict=True):
        kind = row_kind(cells, shape)
        if kind == "good":
            settled.lines.append(line)
            settled.good.append(fit(cells, shape.usual))
        elif kind == "ragged":
            settled.ragged.append(RaggedRow(line=line, cells=tuple(cells)))
        else:
            settled.blank += 1
    return settled


def _settle_odd(block: Block, shape: Shape) -> _Settled:
    """Settle the rows that polars must not read as they stand."""
    odd = np.flatnonzero(~block.regular)
    text = b"".join(block.text[block.starts[row] : block.ends[row]] + b"\n" for row in odd)
    records = read_records(text, first_line=1, separator=shape.separator, final=True)
    return _settle(records.rows, block.lines[odd].tolist(), shape)


def _mixed_frame(block: Block, shape: Shape) -> pl.DataFrame | None:
    """Regular rows by polars, the others one by one; None should polars count other rows than the survey."""
    settled = _settle_odd(block, shape)
    frame = cleaned(text_frame(settled.lines, settled.good, shape.usual))
    if not block.regular.any():
        return frame
    regular = _polars_frame(_regular_text(block), shape, quoted=block.quoted)
    if regular.height != int(block.regular.sum()):
        return None
    regular = regular.with_columns(line=pl.Series(block.lines[block.regular], dtype=pl.Int64))
    regular = cleaned(regular, strip=block.strip).select(frame.columns)
    return pl.concat([frame, regular]).sort("line") if frame.height else regular


def _regular_text(block: Block) -> bytes:
    """The regular rows' bytes, copied in runs."""
    edges = np.flatnonzero(np.diff(block.regular.astype(np.int8), prepend=0, append=0))
    begins = [*block.starts.tolist(), len(block.text)]
    return b"".join(
        block.text[begins[first] : begins[after]] for first, after in zip(edges[0::2], edges[1::2], strict=True)
    )


def _polars_frame(text: bytes, shape: Shape, *, quoted: bool) -> pl.DataFrame:
    columns = {f"c{index}": pl.String for index in range(shape.usual)}
    return pl.read_csv(
        text,
        has_header=False,
        schema=columns,
        separator=shape.separator,
        quote_char='"' if quoted else None,
        infer_schema=False,
    )


def _strict_frame(raw: bytes, first_line: int, shape: Shape) -> pl.DataFrame:
    records = read_records(raw, first_line=first_line, separator=shape.separator, final=True)
    settled = _settle(records.rows, records.lines, shape)
    return cleaned(text_frame(settled.lines, settled.good, shape.usual))
