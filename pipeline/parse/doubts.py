"""Columns whose cells look like another notation than the header gives: what to say of each cell, and what to write."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.parse.found import Found
from pipeline.parse.one_header import remedy
from pipeline.parse.survey import ColumnFacts
from schemas.column import Column


@dataclass(frozen=True)
class Doubt:
    """What the cells look like, and which header or line makes them readable; both empty without a doubt."""

    doubt: str = ""
    remedy: str = ""


def doubt_of(one: Found, column: Column, facts: ColumnFacts, *, typed: bool) -> Doubt:
    """What to say when half the cells of a duration are written with a colon and the header names no such unit."""
    if column.unit != "s" or one.conversion in ("mm_ss", "h_mm_ss", "clock_as_mm_ss", "clock_as_h_mm_ss"):
        return Doubt()
    if not facts.clocks or facts.clocks * 2 < facts.filled:
        return Doubt()
    share = f"{facts.clocks} of {facts.filled} cells of {one.header!r} look like"
    if facts.clocks_with_seconds * 2 > facts.clocks:
        return Doubt(f"{share} hours:minutes:seconds", remedy(one.header, column.name, "h:mm:ss"))
    if facts.clocks_in_full * 2 > facts.clocks and not typed:
        return Doubt(
            f"{share} times of day",
            f"Write minutes and seconds, such as 0:28. {remedy(one.header, column.name, 'mm:ss')}",
        )
    return Doubt(f"{share} minutes:seconds", remedy(one.header, column.name, "mm:ss"))
