"""The session (else the day) of each brew and its place in it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl

from analysis.effects.divisions import codes_of
from analysis.effects.fit import Floats, Ints


@dataclass(frozen=True)
class Sittings:
    """`codes` (n,) number the session of each brew, `place` (n,) its place there from 1; `names` by code.

    `word` is "session" or "day".
    """

    codes: Ints
    place: Floats
    names: tuple[str, ...]
    word: str

    @property
    def count(self) -> int:
        """How many sessions."""
        return len(self.names)


def find_sittings(brews: pl.DataFrame) -> Sittings | None:
    """The sessions of these brews where every brew names one, else their days; None where neither is known.

    Order is by `run_order` where it numbers each brew of a session once, else by time; rows of one time stay as they
    are in the facts, which is the order they were logged in.
    """
    column = next((name for name in ("session_id", "brewed_on") if brews[name].null_count() == 0), None)
    if column is None:
        return None
    codes = codes_of(brews[column])
    numbered = not brews["run_order"].null_count() and not brews.select(column, "run_order").is_duplicated().any()
    order = brews["run_order" if numbered else "brewed_at"].rank("dense").fill_null(0).to_numpy()
    place = np.zeros(codes.size)
    for code in range(int(codes.max()) + 1):
        rows = np.flatnonzero(codes == code)
        place[rows[np.argsort(order[rows], kind="stable")]] = np.arange(1.0, rows.size + 1)
    names = tuple(str(name) for name in brews[column].unique().sort())
    return Sittings(codes, place, names, "session" if column == "session_id" else "day")
