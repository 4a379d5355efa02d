"""What smallest differences of a method rest on: a real brew, how readings and brews scatter, and the usual effort."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median_low

import polars as pl

from analysis.measurement.drops import DropScatter, drop_scatter
from analysis.measurement.effort import Effort
from analysis.measurement.measured import MeasuredBrew, Scale
from analysis.measurement.same_recipe import RecipeScatter, recipe_scatter
from analysis.measurement.smallest_difference import (
    SmallestDifference,
    smallest_for_brews,
    smallest_for_recipes,
    typical_brew,
)
from schemas.problem import ProblemError

NOT_NAMED = "No instrument is named on the readings, so each brew counts as read on another one."


@dataclass(frozen=True, slots=True)
class MethodBasis:
    """The typical brew of a method and what is known around it; `no_recipes` says why `recipes` is not there."""

    brew: MeasuredBrew
    scatter: DropScatter
    effort: Effort
    recipes: RecipeScatter | None
    no_recipes: str

    @property
    def instrument(self) -> str:
        """The instrument that the method is mostly read on; empty where none is named."""
        return self.brew.readings[0].instrument

    @property
    def one_scale(self) -> bool:
        """Whether the weighing scale is named, so that two brews may share it."""
        return isinstance(self.brew.dose.scale, Scale)

    @property
    def note(self) -> str:
        """What must be said of every comparison; mostly nothing."""
        return "" if self.instrument else NOT_NAMED

    def of_brews(self, effort: Effort) -> SmallestDifference:
        """Two brews measured with this effort."""
        return smallest_for_brews(
            self.brew,
            self.scatter,
            effort=effort,
            one_instrument=bool(self.instrument),
            one_scale=self.one_scale,
        )

    def of_recipes(self, effort: Effort) -> SmallestDifference:
        """Two recipes, each brewed `effort.brews` times; ProblemError where no recipe was brewed twice."""
        if self.recipes is None:
            raise ProblemError(self.no_recipes)
        return smallest_for_recipes(
            self.brew,
            self.scatter,
            self.recipes,
            effort=effort,
            one_instrument=bool(self.instrument),
            one_scale=self.one_scale,
        )


def method_basis(
    method: str, measured: Sequence[MeasuredBrew], facts: pl.DataFrame, readings: pl.DataFrame
) -> MethodBasis:
    """The basis of one method; ProblemError where no brew of it was read on one instrument alone.

    `facts` are the `brew_facts` that may tell how brews to one recipe scatter, likely slips left out; `readings` as
    `drop_scatter` wants them.
    """
    brew = typical_brew(measured)
    instrument = brew.readings[0].instrument or None
    scatter = drop_scatter(readings, instrument_id=instrument, method=method)
    try:
        recipes, why = recipe_scatter(facts, method=method), ""
    except ProblemError as problem:
        recipes, why = None, str(problem)
    return MethodBasis(brew, scatter, usual_effort(readings, instrument, method), recipes, why)


def usual_effort(readings: pl.DataFrame, instrument: str | None, method: str) -> Effort:
    """How often brews of this method are sampled and read on the instrument by one reader: the lower middles."""
    used = readings.filter(
        pl.col("instrument_id").eq_missing(pl.lit(instrument, pl.String)),
        pl.col("method") == method,
        pl.col("strength_pct").is_not_null(),
        ~pl.col("is_void"),
    )
    brews = used.group_by("brew", "read_by").agg(samples=pl.col("sample_no").n_unique(), n=pl.len())
    if brews.is_empty():
        return Effort()
    samples = median_low(brews["samples"].to_list())
    each = median_low((brews["n"] // samples).to_list())
    return Effort(samples=samples, readings_per_sample=max(each, 1))
