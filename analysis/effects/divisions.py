"""How brews fall into operators, sessions, blocks and whole plots, and which of these divisions are the same."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl

from analysis.effects.factors import GROUPS, many
from analysis.mixed.arrays import Ints
from analysis.words import listed

BESIDE = ("operator", "session_id")
"""Columns that get a level of their own beside the group where they divide the brews in another way."""
FEWEST_LEVELS = 3
MOST_LEVELS = 300
"""More levels than this cost minutes and change little: said, and left out."""
COMPARED = {name: f" Look: brewtrials compare --by {name}." for name in ("operator", "session_id")}
"""Where a division can be looked at by itself."""


@dataclass(frozen=True)
class Division:
    """`codes` (n,) numbers the level of each brew, 0 upwards; `word` is what a level is called."""

    column: str
    word: str
    codes: Ints

    @property
    def count(self) -> int:
        """How many levels there are."""
        return int(self.codes.max()) + 1


def codes_of(values: pl.Series) -> Ints:
    """Numbers 0, 1, ... of the distinct values, in their order, shape (n,)."""
    return np.asarray(values.rank("dense").cast(pl.Int64).to_numpy() - 1, dtype=np.int64)


def same_division(first: Ints, second: Ints) -> bool:
    """Whether two numberings split the brews alike."""
    pairs = np.unique(np.column_stack([first, second]), axis=0).shape[0]
    return bool(pairs == first.max() + 1 == second.max() + 1)


def lies_within(inner: Ints, outer: Ints) -> bool:
    """Whether every level of `inner` belongs to one level of `outer`."""
    return bool(np.unique(np.column_stack([inner, outer]), axis=0).shape[0] == inner.max() + 1)


def find_divisions(brews: pl.DataFrame, group: str, blocks: tuple[str, ...]) -> tuple[list[Division], list[str]]:
    """Operator, session and `blocks` with at least three levels and repeats, and what is said of the others."""
    found: list[Division] = []
    notes: list[str] = []
    for column in dict.fromkeys((*BESIDE, *blocks)):
        if column == group or column not in brews.columns:
            continue
        word, known = GROUPS[column], brews.height - brews[column].null_count()
        if known == 0:
            continue
        if known < brews.height:
            notes.append(f"The {word} is known for only {known} of {brews.height} brews: its levels are not modelled.")
            continue
        one = Division(column, word, codes_of(brews[column]))
        if one.count in {1, brews.height}:
            continue
        if one.count < FEWEST_LEVELS:
            notes.append(
                f"{one.count} {many(word)} are too few to judge how far {many(word)} differ, so none has a level of "
                f"its own: a difference between them can pass for an effect.{COMPARED.get(column, '')}"
            )
        elif one.count > MOST_LEVELS:
            notes.append(f"{one.count} {many(word)} are too many to give each its own level, so none has one.")
        else:
            found.append(one)
    notes += _nested(found, brews, group)
    return found, notes


def _nested(found: list[Division], brews: pl.DataFrame, group: str) -> list[str]:
    """Divisions that lie one within the other, said."""
    everything = [Division(group, GROUPS[group], codes_of(brews[group])), *found]
    return [
        f"Every {inner.word} belongs to one {outer.word}: {many(inner.word)} are taken within {many(outer.word)}."
        for inner in everything
        for outer in everything
        if inner is not outer
        and outer.count > 1
        and inner.count > outer.count
        and lies_within(inner.codes, outer.codes)
    ]


def whole_plots(brews: pl.DataFrame, columns: tuple[str, ...]) -> tuple[list[Division], list[str]]:
    """Runs of neighbouring brews at the same hard-to-change settings, each a whole plot; one run a session at least."""
    there = [name for name in columns if name in brews.columns and brews[name].null_count() == 0]
    if not there:
        return [], [f"{listed(list(columns))} should mark the whole plots, and brews lack them."]
    place = next((name for name in ("session_id", "brewed_on") if brews[name].null_count() == 0), None)
    keys = [*there, *([place] if place else [])]
    changed = np.zeros(brews.height, dtype=bool)
    for name in keys:
        values = codes_of(brews[name])
        changed[1:] |= values[1:] != values[:-1]
    codes = np.asarray(np.cumsum(changed), dtype=np.int64)
    count, words = int(codes.max()) + 1, listed(there)
    if count == brews.height:
        return [], [f"{words} changed before every brew, so there are no whole plots."]
    if count < FEWEST_LEVELS:
        return [], [f"{words} was set only {count} times: too few whole plots to judge how far they differ."]
    if count > MOST_LEVELS:
        return [], [f"{count} whole plots are too many to give each its own level, so none has one."]
    return [Division("whole_plot", "whole plot", codes)], [
        f"{words} stayed put between neighbouring brews: {count} settings of it, each a whole plot."
    ]
