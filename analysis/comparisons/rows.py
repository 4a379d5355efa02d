"""Which brews are compared, side by side, and how many were left out for what."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl

from analysis.comparisons.request import CompareRequest
from analysis.effects.factors import many
from analysis.effects.rows import missing
from analysis.known_names import check_known
from analysis.mixed.arrays import Ints
from analysis.words import count, listed, method_word
from schemas.problem import ProblemError

FEWEST = 2
"""Brews that a side needs: one brew has no scatter of its own."""


@dataclass(frozen=True)
class ComparedRows:
    """The brews of one method on the sides that are compared.

    `sides` in the order of the request, else by name; `codes` (n,) numbers the side of each brew; `left_out` says how
    many brews were left out for what.
    """

    brews: pl.DataFrame
    method: str
    sides: tuple[str, ...]
    codes: Ints
    left_out: tuple[str, ...]

    def counts(self) -> list[int]:
        """Brews on each side."""
        return [int(n) for n in np.bincount(self.codes, minlength=len(self.sides))]


def choose_sides(facts: pl.DataFrame, request: CompareRequest) -> ComparedRows:
    """Void brews out, then brews without a side or a value, then sides brewed once; each counted."""
    asked = _of_method(facts, request)
    sound = asked.filter(~pl.col("is_void").fill_null(value=False))
    needed = [request.by, request.response, "coffee_id", *request.adjust]
    whole = sound.filter(~pl.any_horizontal([missing(name, sound) for name in dict.fromkeys(needed)]))
    left_out = [f"{n} void" for n in (asked.height - sound.height,) if n]
    left_out += [f"{n} without {name}" for name in dict.fromkeys(needed) if (n := int(_missing_count(sound, name)))]
    sides, once = _sides(whole, request)
    left_out += [f"{request.word} {name} (brewed once)" for name in once]
    brews = whole.filter(pl.col(request.by).is_in(list(sides)))
    _refuse_methods(brews)
    if brews[request.response].n_unique() == 1:
        raise ProblemError(
            f"{request.response} is the same in all {count(brews.height, 'brew')}, so there is nothing to compare. "
            "Check how it was recorded."
        )
    codes = brews[request.by].replace_strict(list(sides), list(range(len(sides))), return_dtype=pl.Int64).to_numpy()
    return ComparedRows(brews, brews["method"][0], sides, codes, tuple(left_out))


def _of_method(facts: pl.DataFrame, request: CompareRequest) -> pl.DataFrame:
    if facts.is_empty():
        raise ProblemError("There are no brews yet; ingest some first.")
    asked = facts if request.method is None else facts.filter(pl.col("method") == request.method)
    if asked.is_empty() and request.method is not None:
        raise ProblemError(f"No brew is of the method {method_word(request.method)}.")
    return asked


def _missing_count(frame: pl.DataFrame, name: str) -> int:
    return int(frame.select(missing(name, frame).sum()).item())


def _sides(whole: pl.DataFrame, request: CompareRequest) -> tuple[tuple[str, ...], list[str]]:
    """Sides with enough brews, and those brewed once; refuses where fewer than two are left."""
    counts = dict(whole.group_by(request.by).len().sort(request.by).iter_rows())
    wanted = list(request.levels) or list(counts)
    if request.against is not None and request.against not in wanted:
        wanted = [request.against, *wanted]
    for name in wanted:
        check_known(request.word, name, list(counts))
    enough = tuple(name for name in wanted if counts[name] >= FEWEST)
    once = [name for name in wanted if counts[name] < FEWEST]
    if request.against is not None and request.against not in enough:
        raise ProblemError(
            f"{request.word} {request.against} was brewed once, so nothing can be compared with it. Brew it again."
        )
    if len(enough) < 2:
        there = ", ".join(f"{name} ({count(n, 'brew')})" for name, n in counts.items()) or "none"
        raise ProblemError(
            f"A comparison takes two {many(request.word)} brewed at least twice with {request.response} known; there "
            f"are: {there}."
        )
    return enough, once


def _refuse_methods(brews: pl.DataFrame) -> None:
    methods = sorted(brews["method"].unique())
    if len(methods) > 1:
        raise ProblemError(
            f"These brews are of {listed([method_word(name) for name in methods])}, and methods are not pooled: choose "
            "one with --method."
        )
