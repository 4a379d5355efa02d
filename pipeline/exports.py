"""Frames leave the toolkit as CSV, JSON, a workbook or Parquet, in one piece or not at all."""

from __future__ import annotations

import io
import json
import os
import re
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Literal, get_args

import polars as pl

from schemas.problem import ProblemError

ByteFile = io.BufferedWriter | io.BytesIO
Format = Literal["table", "csv", "json", "xlsx", "parquet"]
FORMATS: tuple[Format, ...] = get_args(Format)
FORMAT_OF_SUFFIX: dict[str, Format] = {".csv": "csv", ".json": "json", ".xlsx": "xlsx", ".parquet": "parquet"}
_STARTS_A_FORMULA = "'*[=+\\-@\\t\\r]"


def escape_cell(text: str) -> str:
    """A text that spreadsheets would take for a formula, with an apostrophe before it.

    >>> escape_cell("=1+1"), escape_cell("plain"), escape_cell("'=1")
    ("'=1+1", 'plain', "''=1")
    """
    return f"'{text}" if re.match(_STARTS_A_FORMULA, text) else text


def unescape_cell(text: str) -> str:
    """The text that `escape_cell` was given.

    >>> unescape_cell("'=1+1"), unescape_cell("'quoted'"), unescape_cell("''=1")
    ('=1+1', "'quoted'", "'=1")
    """
    return text[1:] if re.match(f"'{_STARTS_A_FORMULA}", text) else text


def choose_format(asked: str | None, out: Path | None, *, allowed: tuple[Format, ...] = FORMATS) -> Format:
    """The format asked for, else the one the file name of `out` says, else a table."""
    by_suffix = FORMAT_OF_SUFFIX.get(out.suffix.lower()) if out else None
    if asked is None and out and by_suffix is None:
        raise ProblemError(f"{out} does not say which format to write. Add --format with one of {', '.join(allowed)}.")
    chosen = asked or by_suffix or "table"
    for known in allowed:
        if chosen == known:
            return known
    raise ProblemError(f"{chosen} is not a format of this list; choose one of {', '.join(allowed)}.")


def export(frame: pl.DataFrame, form: Format, out: Path | None, *, timezone: str = "UTC") -> None:
    """Write the frame to a file, whole or not at all, or to standard output; times are told in `timezone`."""
    if out is not None:
        replace_file(out, lambda file: write_frame(frame, form, file, timezone=timezone))
        return
    if form in ("xlsx", "parquet") and sys.stdout.isatty():
        raise ProblemError(f"{form} is not for reading on screen. Add --out FILE.{form}.")
    buffer = io.BytesIO()
    write_frame(frame, form, buffer, timezone=timezone)
    sys.stdout.flush()
    sys.stdout.buffer.write(buffer.getbuffer())


def write_frame(frame: pl.DataFrame, form: Format, file: ByteFile, *, timezone: str = "UTC") -> None:
    """Write the frame in one of the file formats."""
    if form == "csv":
        _escaped(told_plainly(frame, timezone)).write_csv(file)
    elif form == "json":
        told_plainly(frame, timezone).write_json(file)
        file.write(b"\n")
    elif form == "xlsx":
        from pipeline.export_workbook import write_workbook

        write_workbook(finite(frame), file, timezone=timezone)
    elif form == "parquet":
        frame.write_parquet(file)
    else:
        raise ProblemError(f"{form} cannot be written to a file; choose csv, json, xlsx or parquet.")


def replace_file(out: Path, write: Callable[[ByteFile], None]) -> None:
    """Write a file beside `out`, then put it in its place, so that nobody meets half a file."""
    try:
        handle, name = tempfile.mkstemp(dir=out.parent, prefix=f".{out.name}.")
        spare = Path(name)
        try:
            with os.fdopen(handle, "wb") as file:
                write(file)
                file.flush()
                os.fsync(file.fileno())
            spare.chmod(0o666 & ~_umask())
            spare.replace(out)
        except BaseException:
            spare.unlink(missing_ok=True)
            raise
    except FileNotFoundError as error:
        raise ProblemError(f"{out} was not written: there is no folder {out.parent}.") from error
    except OSError as error:
        raise ProblemError(f"{out} was not written: {error.strerror or error}.") from error


def write_bytes(out: Path, content: bytes) -> None:
    """Write these bytes to a file, whole or not at all."""

    def write(file: ByteFile) -> None:
        file.write(content)

    replace_file(out, write)


def finite(frame: pl.DataFrame) -> pl.DataFrame:
    """The frame with every number that is not finite left empty."""
    floats = pl.selectors.float()
    return frame.with_columns(pl.when(floats.is_finite()).then(floats))


def told_plainly(frame: pl.DataFrame, timezone: str = "UTC") -> pl.DataFrame:
    """Times as ISO 8601 text with the zone's offset, odd types as text, numbers finite: what CSV and JSON can say."""
    return finite(frame.with_columns(_plain(name, kind, timezone) for name, kind in frame.schema.items()))


def _plain(name: str, kind: pl.DataType, timezone: str) -> pl.Expr:
    column = pl.col(name)
    told = column.cast(pl.String())
    if isinstance(kind, pl.Datetime):
        zoned = column.dt.convert_time_zone(timezone) if kind.time_zone else column
        told = zoned.dt.to_string("%Y-%m-%dT%H:%M:%S%.f" + ("%:z" if kind.time_zone else ""))
    elif isinstance(kind, pl.Date | pl.Time | pl.Duration):
        told = column.dt.to_string("iso")
    elif kind.is_decimal() or kind in (pl.Int128, pl.UInt128):
        told = column.cast(pl.Float64())
    elif isinstance(kind, pl.Binary):
        told = column.bin.encode("hex")
    elif kind.is_nested():
        told = column.map_elements(_nested, return_dtype=pl.String())
    elif kind.is_numeric() or kind == pl.Boolean:
        told = column
    return told


def _nested(value: object) -> str:
    return json.dumps(value.to_list() if isinstance(value, pl.Series) else value, default=str)


def _escaped(frame: pl.DataFrame) -> pl.DataFrame:
    texts = pl.selectors.string()
    safe = frame.with_columns(texts.str.replace(f"^({_STARTS_A_FORMULA})", "'${1}"))
    return safe.rename({name: escape_cell(name) for name in safe.columns})


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
