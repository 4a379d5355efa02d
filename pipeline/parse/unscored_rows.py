"""Rows of a score sheet that nobody has scored yet: filled in by the plan, nothing typed; they count as blank."""

from __future__ import annotations

import polars as pl

from pipeline.parse.model import Interpretation
from pipeline.parse.planned_rows import counted_as_blank, filled
from pipeline.sources.model import RawSheet

GIVEN = ("session_id", "blind_code", "assessor", "attribute", "position")
"""Cells that a score sheet fills in on every row."""
GIVEN_TOO = ("served_as", "milk_g")
UNSCORED = "scores not given yet, counted as blank"


def without_unscored(sheet: RawSheet, how: Interpretation) -> RawSheet:
    """The sheet without rows that say which cup and scale a place is for and nothing more, these counted and told of.

    Any other filled cell, a note or one under an unknown header, makes it a row like others: a cup that was tasted and
    not scored is told of, not passed over.
    """
    place = {one.column: one.position for one in how.columns if one.role == "value"}
    if how.table != "tastings" or not {*GIVEN, "score"} <= set(place):
        return sheet
    given = [place[name] for name in GIVEN]
    own = {place[name] for name in (*GIVEN, *GIVEN_TOO) if name in place}
    typed = [filled(one, how) for one in range(len(sheet.header)) if one not in own]
    unscored = pl.all_horizontal(filled(one, how) for one in given) & ~pl.any_horizontal(typed)
    return counted_as_blank(sheet, {UNSCORED: unscored})
