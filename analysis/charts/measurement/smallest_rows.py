"""The smallest difference worth talking about by method, and what more readings, samples and brews would buy."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from statistics import median_low

import polars as pl

from analysis.charts.measurement.method_budgets import MethodBudget
from analysis.measurement.drops import DropScatter, drop_scatter
from analysis.measurement.effort import Effort
from analysis.measurement.measured import MeasuredBrew
from analysis.measurement.same_recipe import RecipeScatter, recipe_scatter, with_recipe
from analysis.measurement.smallest_difference import (
    SmallestDifference,
    smallest_for_brews,
    smallest_for_recipes,
    typical_brew,
)
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
    `recipe_scatter` says how far brews to one recipe scatter; `wide` names a recipe that makes most of that, if any.
    """

    method: str
    instrument: str
    brews: tuple[Comparison, ...]
    recipes: tuple[Comparison, ...]
    no_brews: str
    no_recipes: str
    recipe_scatter: str
    wide: str

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
        brew = typical_brew(one.measured)
        instrument = brew.readings[0].instrument
        scatter = drop_scatter(readings, instrument_id=instrument or None, method=one.method)
    except ProblemError as problem:
        return MethodSmallest(one.method, "", (), (), str(problem), str(problem), "", "")
    effort = usual_effort(readings, instrument or None, one.method)
    brews, no_brews = _of_brews(brew, scatter, effort)
    try:
        recipes = recipe_scatter(facts, method=one.method)
        compared, no_recipes = _of_recipes(brew, scatter, recipes, effort)
        said, wide = _scatter_words(recipes), widest_recipe(facts, one.method)
    except ProblemError as problem:
        compared, no_recipes, said, wide = (), str(problem), "", ""
    return MethodSmallest(one.method, instrument, brews, compared, no_brews, no_recipes, said, wide)


def _scatter_words(recipes: RecipeScatter) -> str:
    return (
        f"Brews to one recipe scatter by {number(recipes.sd_pct, 2)} points (standard deviation; "
        f"{count(recipes.n_brews, 'brew')} of {count(recipes.n_recipes, 'recipe')})."
    )


def usual_effort(readings: pl.DataFrame, instrument: str | None, method: str) -> Effort:
    """How often brews of this method are sampled and read on the instrument: the lower middle of both."""
    used = readings.filter(
        pl.col("instrument_id").eq_missing(pl.lit(instrument, pl.String)),
        pl.col("method") == method,
        pl.col("strength_pct").is_not_null(),
        ~pl.col("is_void"),
    )
    brews = used.group_by("brew").agg(samples=pl.col("sample_no").n_unique(), n=pl.len())
    if brews.is_empty():
        return Effort()
    samples = median_low(brews["samples"].to_list())
    each = median_low((brews["n"] // samples).to_list())
    return Effort(samples=samples, readings_per_sample=max(each, 1))


def _of_brews(brew: MeasuredBrew, scatter: DropScatter, effort: Effort) -> tuple[tuple[Comparison, ...], str]:
    tries = (
        (f"Two brews, each {_measured_words(effort)}", effort),
        ("… with one more reading of each sample", effort.more("reading")),
        ("… with one more sample of each brew", effort.more("sample")),
    )
    return _tried(tries, lambda tried: smallest_for_brews(brew, scatter, effort=tried))


def _of_recipes(
    brew: MeasuredBrew, scatter: DropScatter, recipes: RecipeScatter, effort: Effort
) -> tuple[tuple[Comparison, ...], str]:
    tries = tuple(
        (f"Two recipes, {count(n, 'brew')} of each", Effort(n, effort.samples, effort.readings_per_sample))
        for n in BREWS_EACH
    )
    return _tried(tries, lambda tried: smallest_for_recipes(brew, scatter, recipes, effort=tried))


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
    ends = listed([ordered[0]["brew_id"], ordered[-1]["brew_id"]])
    share = round(100 * row["squares"] / whole)
    return (
        f"{share} % of the scatter of brews to one recipe is one recipe's, of {count(len(ordered), 'brew')}: {ends} "
        f"lie {number(row['high'] - row['low'], 1)} points apart. Check their records first."
    )
