"""The smallest difference worth talking about by method, and what more readings, samples and brews would buy."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import polars as pl

from analysis.charts.measurement.method_budgets import MethodBudget
from analysis.measurement.drops import widest_brew
from analysis.measurement.effort import Effort
from analysis.measurement.method_basis import MethodBasis, method_basis
from analysis.measurement.same_recipe import RecipeScatter, with_recipe
from analysis.measurement.smallest_difference import SmallestDifference
from analysis.words import count, listed, number
from schemas.problem import ProblemError

BREWS_EACH = (1, 3, 5)
USUAL_BREWS = 3
"""Brews of each recipe that the page speaks of first."""
WIDE_SHARE, WIDE_RATIO = 0.5, 2.0
FEWEST_FOR_WIDE = 4
"""A recipe that makes over half of the scatter, and over twice its part of the degrees of freedom, deserves a look."""


@dataclass(frozen=True, slots=True)
class Comparison:
    """One way of comparing, in words, and the smallest differences it can show."""

    words: str
    found: SmallestDifference


@dataclass(frozen=True, slots=True)
class MethodSmallest:
    """What two results of one method must differ by. `brews` compares two brews measured, `recipes` two recipes.

    Each list begins with what the lab does now; an empty one has its reason in `no_brews` or `no_recipes`.
    `recipe_scatter` says how far brews to one recipe scatter; `wide` names a recipe that makes most of that, if any,
    `wide_readings` a brew that makes most of the scatter of readings. `note` is what must be said of all of them.
    """

    method: str
    instrument: str
    brews: tuple[Comparison, ...]
    recipes: tuple[Comparison, ...]
    no_brews: str
    no_recipes: str
    recipe_scatter: str
    wide: str
    wide_readings: str = ""
    note: str = ""

    @property
    def measured(self) -> SmallestDifference | None:
        """Two brews, measured as usual."""
        return self.brews[0].found if self.brews else None

    @property
    def usual(self) -> SmallestDifference | None:
        """Two recipes, each brewed three times."""
        return next((row.found for row in self.recipes if row.found.effort.brews == USUAL_BREWS), None)

    @property
    def rows(self) -> tuple[Comparison, ...]:
        """All of them, in order."""
        return self.brews + self.recipes


def smallest_by_method(
    budgets: tuple[MethodBudget, ...], facts: pl.DataFrame, readings: pl.DataFrame
) -> tuple[MethodSmallest, ...]:
    """One entry per method with a budget; `readings` as `drop_scatter` wants them.

    `facts` are the `brew_facts` that may tell how brews to one recipe scatter: likely slips are left out of them.
    """
    return tuple(_of_method(one, facts, readings) for one in budgets)


def _of_method(one: MethodBudget, facts: pl.DataFrame, readings: pl.DataFrame) -> MethodSmallest:
    try:
        basis = method_basis(one.method, one.measured, facts, readings)
    except ProblemError as problem:
        return MethodSmallest(one.method, "", (), (), str(problem), str(problem), "", "")
    brews, no_brews = _of_brews(basis)
    compared, no_recipes = _of_recipes(basis)
    said = _scatter_words(basis.recipes) if basis.recipes else ""
    wide = widest_recipe(facts, one.method) if basis.recipes else ""
    instrument = basis.instrument
    odd = widest_brew(readings, instrument_id=instrument or None, method=one.method)
    return MethodSmallest(
        one.method, instrument, brews, compared, no_brews, no_recipes, said, wide, wide_readings=odd, note=basis.note
    )


def _scatter_words(recipes: RecipeScatter) -> str:
    return (
        f"Brews to one recipe scatter by {number(recipes.sd_pct, 2)} points (standard deviation; "
        f"{count(recipes.n_brews, 'brew')} of {count(recipes.n_recipes, 'recipe')})."
    )


def _of_brews(basis: MethodBasis) -> tuple[tuple[Comparison, ...], str]:
    effort = basis.effort
    tries = (
        (f"Two brews, {_measured_words(effort)}", effort),
        ("… one more reading a sample", effort.more("reading")),
        ("… one more sample a brew", effort.more("sample")),
    )
    return _tried(tries, basis.of_brews)


def _of_recipes(basis: MethodBasis) -> tuple[tuple[Comparison, ...], str]:
    tries = tuple((f"Two recipes, {count(n, 'brew')} of each", replace(basis.effort, brews=n)) for n in BREWS_EACH)
    return _tried(tries, basis.of_recipes)


def _tried(
    tries: tuple[tuple[str, Effort], ...], make: Callable[[Effort], SmallestDifference]
) -> tuple[tuple[Comparison, ...], str]:
    """Comparisons that the data allow, and why the first is not among them; later ones are then not tried."""
    found: list[Comparison] = []
    for words, effort in tries:
        try:
            found.append(Comparison(words, make(effort)))
        except ProblemError as problem:
            if not found:
                return (), str(problem)
    return tuple(found), ""


def _measured_words(effort: Effort) -> str:
    """How a brew is measured.

    >>> _measured_words(Effort(samples=1, readings_per_sample=3)), _measured_words(Effort(samples=2))
    ('1 sample read 3 times', '2 samples read once')
    """
    n = effort.readings_per_sample
    times = {1: "once", 2: "twice"}.get(n, f"{n} times")
    return f"{count(effort.samples, 'sample')} read {times}"


def widest_recipe(facts: pl.DataFrame, method: str) -> str:
    """A sentence on the recipe that makes most of the scatter of a method's brews; empty where none does."""
    y = pl.col("extraction_yield_pct")
    used = facts.filter((pl.col("method") == method) & ~pl.col("is_void") & y.is_not_null())
    groups = (
        with_recipe(used)
        .filter(pl.col("recipe_no").is_not_null())
        .group_by("recipe_no")
        .agg(
            squares=(y.var(ddof=1) * (pl.len() - 1)).fill_null(0.0),
            df=pl.len() - 1,
            low=y.min(),
            high=y.max(),
            brews=pl.struct("brew_id", "extraction_yield_pct"),
        )
        .sort("squares", "recipe_no", descending=[True, False])
    )
    whole, df = groups["squares"].sum(), int(groups["df"].sum())
    if df < FEWEST_FOR_WIDE or not whole:
        return ""
    row = groups.row(0, named=True)
    if row["squares"] / whole <= max(WIDE_SHARE, WIDE_RATIO * row["df"] / df):
        return ""
    ordered = sorted(row["brews"], key=lambda brew: (brew["extraction_yield_pct"], brew["brew_id"]))
    ends, n = listed([ordered[0]["brew_id"], ordered[-1]["brew_id"]]), count(len(ordered), "brew")
    share = round(100 * row["squares"] / whole)
    return (
        f"{share} % of the scatter of brews to one recipe comes from one recipe of {n}: {ends} "
        f"lie {number(row['high'] - row['low'], 1)} points apart. Check their records first."
    )
