"""A report as every command hands it over: words and tables for the screen, rows for a file, an object for programs."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import polars as pl

from analysis.words import digits_for, number


@dataclass(frozen=True)
class Part:
    """One heading: sentences, then a table of text whose columns in `right` hold numbers; `block` is text to copy."""

    title: str
    sentences: Sequence[str]
    headers: Sequence[str] = ()
    rows: Sequence[Sequence[str]] = ()
    right: Sequence[str] = ()
    block: str = ""


@dataclass(frozen=True)
class Report:
    """`parts` for the screen, `frame` for csv, `data` for JSON; `none` is said of an empty report."""

    parts: Sequence[Part]
    frame: pl.DataFrame
    data: Any
    none: str = field(default="")


FINDING = {
    "about": pl.String(),
    "subject": pl.String(),
    "quantity": pl.String(),
    "value": pl.Float64(),
    "low": pl.Float64(),
    "high": pl.Float64(),
    "unit": pl.String(),
    "n": pl.Int64(),
    "basis": pl.String(),
}
"""Numbers of unlike kinds in one list: what about, of what, its 95 % interval, its unit, and what n counts."""


def findings(rows: Sequence[tuple[Any, ...]]) -> pl.DataFrame:
    """Rows of `FINDING` as a frame."""
    return pl.DataFrame(rows, schema=FINDING, orient="row")


def as_data(value: object, timezone: str = "UTC") -> Any:
    """A result as plain lists, objects and numbers: what is not finite is null, times tell the zone's offset."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        fields = {part.name: getattr(value, part.name) for part in dataclasses.fields(value)}
        return as_data(fields, timezone)
    if isinstance(value, Mapping):
        return {" ".join(key) if isinstance(key, tuple) else str(key): as_data(v, timezone) for key, v in value.items()}
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, list | tuple):
        return [as_data(one, timezone) for one in value]
    if isinstance(value, datetime):
        value = value.astimezone(ZoneInfo(timezone)).isoformat()
    return value if value is None or isinstance(value, str | int | bool) else str(value)


def figures(value: float | None, *, most: int = 4) -> str:
    """A number to two significant figures, with at most `most` decimals; nothing for what is not there.

    >>> figures(0.01155), figures(16.04), figures(0.0), figures(0.0002, most=3), figures(None)
    ('0.012', '16', '0', 'under 0.001', '')
    """
    if value is None or not math.isfinite(value):
        return ""
    if value and round(value, most) == 0:
        return f"under {10.0**-most:.{most}f}"
    return number(value, digits_for([value], most=most)) if value else "0"


def freedom(df: float | None) -> str:
    """Degrees of freedom as people read them.

    >>> freedom(12.9), freedom(math.inf), freedom(None)
    ('12', 'no limit', '')
    """
    if df is None:
        return ""
    return f"{math.floor(df + 1e-9):,}" if math.isfinite(df) else "no limit"
