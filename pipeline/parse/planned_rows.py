"""Rows of a run sheet that nobody has brewed yet: filled in by the plan, nothing typed; they count as blank."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

import polars as pl

from pipeline.parse.model import Interpretation
from pipeline.sources.model import RawSheet
from schemas.run_sheet import FILLED_IN, PLANNED, PURGE

WAITING = "planned brews not brewed yet, counted as blank"
PURGES = "purges of the run sheet, counted as blank"


def without_unbrewed(sheet: RawSheet, how: Interpretation) -> RawSheet:
    """The sheet without planned rows whose own cells are all empty, these counted as blank and told of.

    A row is planned when one of the run sheet's own columns is filled. Any other filled cell, one under an unknown
    header included, makes it a row like others, so that nothing typed can go by unseen; a purge that says no more
    than the sheet wrote is no brew.
    """
    planned = [one.position for one in how.columns if one.column in PLANNED]
    if how.table != "brews" or not planned:
        return sheet
    waiting, purge = _waiting(how, len(sheet.header)), _purge(how)
    return counted_as_blank(sheet, {WAITING: waiting & ~purge, PURGES: waiting & purge})


def counted_as_blank(sheet: RawSheet, kinds: Mapping[str, pl.Expr]) -> RawSheet:
    """The sheet without the rows of these kinds, which count as blank; notes tell how many of each there were."""
    counts = {words: sum(batch.filter(kind).height for batch in sheet.batches()) for words, kind in kinds.items()}
    if not any(counts.values()):
        return sheet
    blank = pl.any_horizontal(kinds.values())

    def batches() -> Iterator[pl.DataFrame]:
        for batch in sheet.batches():
            rest = batch.filter(~blank)
            if rest.height:
                yield rest

    notes = [f"{words}: {n}" for words, n in counts.items() if n]
    return replace(sheet, batches=batches, blank=sheet.blank + sum(counts.values()), notes=(*sheet.notes, *notes))


def _waiting(how: Interpretation, width: int) -> pl.Expr:
    """Planned rows in which nothing is typed."""
    own = {one.position for one in how.columns if one.column in FILLED_IN}
    planned = [one.position for one in how.columns if one.column in PLANNED]
    reason = _void_reason(how)
    typed = [filled(place, how) for place in range(width) if place not in own and place != reason]
    if reason is not None:
        typed.append(filled(reason, how) & ~_purge(how))
    return pl.any_horizontal(filled(place, how) for place in planned) & ~pl.any_horizontal(pl.lit(value=False), *typed)


def _purge(how: Interpretation) -> pl.Expr:
    reason = _void_reason(how)
    return pl.lit(value=False) if reason is None else pl.col(f"c{reason}").eq_missing(pl.lit(PURGE))


def _void_reason(how: Interpretation) -> int | None:
    return next((one.position for one in how.columns if one.column == "void_reason"), None)


def filled(place: int, how: Interpretation) -> pl.Expr:
    """Whether a row's cell at this place holds anything, what stands for an empty cell apart."""
    cell = pl.col(f"c{place}")
    return cell.is_not_null() & ~cell.is_in(list(how.missing)) if how.missing else cell.is_not_null()
