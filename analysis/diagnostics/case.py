"""The question as the checks see it: complete brews, slopes, and the levels that soak up coffees and grinders."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import polars as pl

from analysis.effects.checks import RANK_TOLERANCE
from analysis.effects.design import Design, Term, build_design
from analysis.effects.divisions import codes_of
from analysis.effects.factors import FACTORS, GROUPS, many, plural
from analysis.effects.fit import Floats, Ints
from analysis.effects.request import EffectsRequest, check_request
from analysis.effects.rows import ChosenRows, choose_rows


@dataclass(frozen=True)
class Case:
    """Complete brews with their design.

    `y` (n,) is the response, `slopes` (n, k) the columns of `terms` (those with factors), `levels` (n, r) an
    orthonormal basis of the intercepts of the groups and grinders, `codes` (n,) the group of each brew.
    """

    chosen: ChosenRows
    request: EffectsRequest
    design: Design
    y: Floats
    terms: tuple[Term, ...]
    slopes: Floats
    levels: Floats
    codes: Ints

    @property
    def brews(self) -> pl.DataFrame:
        """The complete brews, a row each."""
        return self.chosen.brews

    @property
    def n(self) -> int:
        """How many brews."""
        return self.chosen.brews.height

    @property
    def n_groups(self) -> int:
        """How many groups (coffees, unless asked otherwise)."""
        return int(self.codes.max()) + 1

    @property
    def word(self) -> str:
        """What a group is called: coffee, session, ..."""
        return GROUPS[self.request.group]

    @property
    def of(self) -> str:
        """The rows in words: '41 brews of 3 coffees'."""
        return f"{plural('brew', self.n)} of {plural(self.word, self.n_groups)}"

    @property
    def here(self) -> str:
        """The scope of every statement: these brews, of these coffees."""
        return f"for {'this' if self.n_groups == 1 else 'these'} {self.word if self.n_groups == 1 else many(self.word)}"

    @cached_property
    def within(self) -> Floats:
        """The slopes' columns less the levels of groups and grinders, shape (n, k)."""
        return less(self.slopes, self.levels)

    @cached_property
    def full(self) -> Floats:
        """Slopes and levels together, shape (n, k + r): least squares with every group at a level of its own."""
        return np.column_stack([self.slopes, self.levels])

    def ids(self, rows: Ints) -> tuple[str, ...]:
        """The brews at these row numbers."""
        names = self.brews["brew_id"]
        return tuple(str(names[int(row)]) for row in rows)


def make_case(facts: pl.DataFrame, request: EffectsRequest) -> Case:
    """The case that `facts` (FACT_COLUMNS) make for `request`; ProblemError when there is nothing to look at."""
    check_request(request)
    chosen = choose_rows(facts, request)
    brews = chosen.brews
    design = build_design(brews, request, chosen.grinders)
    places = [k for k, term in enumerate(design.terms) if term.factors]
    codes = codes_of(brews[request.group])
    starts = [k for k, term in enumerate(design.terms) if not term.factors]
    return Case(
        chosen=chosen,
        request=request,
        design=design,
        y=brews[request.response].cast(pl.Float64).to_numpy(),
        terms=tuple(design.terms[k] for k in places),
        slopes=design.x[:, places],
        levels=basis(np.column_stack([design.x[:, starts], dummies(codes)])),
        codes=codes,
    )


def dummies(codes: Ints) -> Floats:
    """One column of zeros and ones for each code, shape (n, levels)."""
    return np.asarray(codes[:, None] == np.arange(codes.max() + 1), dtype=np.float64)


def basis(x: Floats) -> Floats:
    """Orthonormal columns that span those of `x` (n, p), shape (n, rank); columns count alike whatever their unit."""
    length = np.sqrt(np.sum(x * x, axis=0))
    kept = x[:, length > 0] / length[length > 0]
    if kept.shape[1] == 0:
        return np.zeros((x.shape[0], 0))
    left, size, _ = np.linalg.svd(kept, full_matrices=False)
    return np.asarray(left[:, size > RANK_TOLERANCE], dtype=np.float64)


def less(x: Floats, levels: Floats) -> Floats:
    """`x` (n, k) or (n,) less what the orthonormal `levels` (n, r) explain of it."""
    return np.asarray(x - levels @ (levels.T @ x), dtype=np.float64)


def moving(x: Floats, whole: Floats) -> list[int]:
    """Columns of `x` that still move: their length is more than rounding beside that of `whole`, the column before."""
    size, before = np.sqrt(np.sum(x * x, axis=0)), np.sqrt(np.sum(whole * whole, axis=0))
    return [k for k in range(x.shape[1]) if size[k] > RANK_TOLERANCE * before[k] > 0]


def term_noun(term: Term) -> str:
    """A term in the words of the trade: 'grind', 'the curve of grind', 'grind with beverage ratio', 'grind on g1'."""
    nouns = [FACTORS[name].noun for name in term.factors]
    if len(nouns) == 1:
        return nouns[0] + term.place
    if term.factors[0] == term.factors[1]:
        return f"the curve of {nouns[0]}{term.place}"
    return f"{nouns[0]} together with {nouns[1]}{term.place}"


def named(ids: tuple[str, ...], *, most: int = 5) -> str:
    """The first brews by name and how many more.

    >>> named(("b1", "b2")), named(("b1", "b2", "b3"), most=2)
    ('b1, b2', 'b1, b2 and 1 more')
    """
    shown = ", ".join(ids[:most])
    return f"{shown} and {len(ids) - most} more" if len(ids) > most else shown
