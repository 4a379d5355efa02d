"""A lab's methods: how good their yields are, the smallest difference worth talking about, and what would shrink it."""

from __future__ import annotations

import statistics
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

import polars as pl

from analysis.charts.measurement.method_budgets import MOST_BREWS, measured_brews, spread_out
from analysis.charts.measurement.smallest_rows import usual_effort, widest_recipe
from analysis.measurement.budget import brew_budget
from analysis.measurement.component import share_words
from analysis.measurement.drops import drop_scatter
from analysis.measurement.from_facts import measured_brew
from analysis.measurement.measured import MeasuredBrew, Scale
from analysis.measurement.same_recipe import recipe_scatter
from analysis.measurement.smallest_difference import (
    SmallestDifference,
    smallest_for_brews,
    smallest_for_recipes,
    typical_brew,
)
from analysis.words import capital, count, method_word, number
from pipeline.measurement.gather import Gathered, nearest
from schemas.problem import ProblemError

Found = TypeVar("Found")


@dataclass(frozen=True)
class MethodBudget:
    """One method: `n_brews` that are not void, `n_known` of them with an interval, the medians of these.

    `u`, `k` and `expanded_u` in points of yield. `shares` in words are those of a typical brew. What could not be found
    stands in `refusals`, in words.
    """

    method: str
    n_brews: int
    n_yields: int
    n_known: int
    u: float | None
    k: float | None
    expanded_u: float | None
    shares: str
    instrument: str
    n_slips: int
    wide: str
    corrected: str
    smallest: tuple[SmallestDifference, ...]
    refusals: tuple[str, ...]

    def summary(self) -> str:
        """How good the yields of the method are, in a sentence."""
        name = capital(method_word(self.method))
        if self.expanded_u is None:
            return f"{name}: {count(self.n_brews, 'brew')}, none with an interval. {' '.join(self.refusals)}".rstrip()
        return (
            f"{name}: {self.n_known} of {count(self.n_brews, 'brew')} have an interval; in the middle it reaches "
            f"{number(self.expanded_u, 2)} points of yield either way (95 %, coverage factor {number(self.k, 2)})"
            + (f", from {self.shares}" if self.shares else "")
            + "."
        )


def method_budget(gathered: Gathered, method: str, *, repeats: int = 1) -> MethodBudget:
    """Everything about one method; `repeats` is how often each of two recipes would be brewed."""
    brews = gathered.brews.filter((pl.col("method") == method) & ~pl.col("is_void"))
    if brews.is_empty():
        near = nearest(method, gathered.brews.filter(~pl.col("is_void"))["method"])
        raise ProblemError(f"There are no brews of the method {method}.{near}")
    known = brews.filter(pl.col("extraction_yield_expanded_u_pct").is_not_null())
    refusals: list[str] = []
    measured = _tried(lambda: _measured(gathered, brews), refusals)
    typical = _tried(lambda: typical_brew(measured), refusals) if measured else None
    shown = typical or (measured[(len(measured) - 1) // 2] if measured else None)
    shares = _tried(lambda: share_words(brew_budget(shown).shares()), refusals) if shown else None
    smallest = _smallest(gathered, typical, method, repeats, refusals) if typical and shares is not None else ()
    return MethodBudget(
        method=method,
        n_brews=brews.height,
        n_yields=brews["extraction_yield_pct"].count(),
        n_known=known.height,
        u=_median(known["extraction_yield_u_pct"]),
        k=_median(known["extraction_yield_k"]),
        expanded_u=_median(known["extraction_yield_expanded_u_pct"]),
        shares=shares or "",
        instrument=typical.readings[0].instrument if typical else "",
        n_slips=brews.filter(pl.col("brew_id").is_in(list(gathered.slips))).height,
        corrected=gathered.corrected_words(_instruments(gathered, method)),
        wide=widest_recipe(_believed(gathered), method),
        smallest=smallest,
        refusals=tuple(refusals),
    )


def _instruments(gathered: Gathered, method: str) -> set[str]:
    of_method = gathered.readings.filter((pl.col("method") == method) & pl.col("strength_pct").is_not_null())
    return set(of_method["instrument_id"].drop_nulls())


def _measured(gathered: Gathered, brews: pl.DataFrame) -> Sequence[MeasuredBrew]:
    """Brews with an interval; where none has one, those with a yield, of which a budget says what is missing."""
    known = brews.filter(pl.col("extraction_yield_expanded_u_pct").is_not_null())
    if not known.is_empty():
        return measured_brews(spread_out(known, MOST_BREWS), gathered.groups, gathered.settings)
    rows = brews.filter(pl.col("extraction_yield_pct").is_not_null())
    if rows.is_empty():
        raise ProblemError("No brew of it has a yield; `brewtrials flags` says what is in the way.")
    return [measured_brew(row, gathered.groups[row["brew"]], gathered.settings) for row in rows.iter_rows(named=True)]


def _smallest(
    gathered: Gathered, typical: MeasuredBrew, method: str, repeats: int, refusals: list[str]
) -> tuple[SmallestDifference, ...]:
    """The two numbers for brews that are measured and for recipes that are brewed, as far as the data say."""
    instrument = typical.readings[0].instrument or None
    readings = gathered.readings.filter(pl.col("strength_pct").is_not_null())
    scatter = drop_scatter(readings, instrument_id=instrument, method=method)
    effort = usual_effort(readings, instrument, method)
    recipes = _tried(lambda: recipe_scatter(_believed(gathered), method=method), refusals)
    same = {"one_instrument": instrument is not None, "one_scale": isinstance(typical.dose.scale, Scale)}
    if instrument is None:
        refusals.append("No instrument is named on the readings, so each brew counts as read on another one.")
    found = [_tried(lambda: smallest_for_brews(typical, scatter, effort=effort, **same), refusals)]
    if found[0] and recipes:
        brewed = replace(effort, brews=repeats)
        found.append(_tried(lambda: smallest_for_recipes(typical, scatter, recipes, effort=brewed, **same), refusals))
    return tuple(one for one in found if one)


def _believed(gathered: Gathered) -> pl.DataFrame:
    """Brews without those that are likely slips: one of them can be most of the scatter of a recipe."""
    return gathered.brews.filter(~pl.col("brew_id").is_in(list(gathered.slips)))


def _tried(make: Callable[[], Found], refusals: list[str]) -> Found | None:
    """What `make` gives; None where it refuses, with the reason among `refusals`."""
    try:
        return make()
    except ProblemError as problem:
        if str(problem) not in refusals:
            refusals.append(str(problem))
        return None


def _median(values: pl.Series) -> float | None:
    known = values.drop_nulls()
    return statistics.median_low(known.to_list()) if known.len() else None
