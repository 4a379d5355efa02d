"""A lab's methods: how good their yields are, the smallest difference worth talking about, and what would shrink it."""

from __future__ import annotations

import statistics
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TypeVar

import polars as pl

from analysis.charts.measurement.method_budgets import NoBudget, budget_of_method
from analysis.charts.measurement.smallest_rows import widest_recipe
from analysis.measurement.budget import brew_budget
from analysis.measurement.component import share_words
from analysis.measurement.drops import widest_brew
from analysis.measurement.from_facts import measured_brew
from analysis.measurement.method_basis import MethodBasis, method_basis
from analysis.measurement.smallest_difference import SmallestDifference
from analysis.words import capital, count, method_word, number
from pipeline.measurement.gather import Gathered, nearest
from schemas.problem import ProblemError

Found = TypeVar("Found")


@dataclass(frozen=True)
class MethodBudget:
    """One method: `n_brews` that are not void, `n_known` of them with an interval, the medians of these.

    `without` says why the others have none; `u` and `expanded_u` in points of yield. `shares` in words are averaged
    over the brews. What could not be found stands in `refusals`, in words.
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
    wide_readings: str
    without: str
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
            + (f" Without one: {self.without}." if self.without else "")
        )


def method_budget(gathered: Gathered, method: str, *, repeats: int = 1) -> MethodBudget:
    """Everything about one method; `repeats` is how often each of two recipes would be brewed."""
    brews = gathered.brews.filter((pl.col("method") == method) & ~pl.col("is_void"))
    if brews.is_empty():
        near = nearest(method, gathered.brews.filter(~pl.col("is_void"))["method"])
        raise ProblemError(f"There are no brews of the method {method}.{near}")
    known = brews.filter(pl.col("extraction_yield_expanded_u_pct").is_not_null())
    yields = brews.filter(pl.col("extraction_yield_pct").is_not_null())
    found = budget_of_method(method, yields, gathered.groups, gathered.settings)
    believed = gathered.brews.filter(~pl.col("brew_id").is_in(list(gathered.slips)))
    refusals: list[str] = []
    basis = None
    if isinstance(found, NoBudget):
        _tried(lambda: _first_without(gathered, yields), refusals)
    else:
        basis = _tried(lambda: method_basis(method, found.measured, believed, gathered.readings), refusals)
    return MethodBudget(
        method=method,
        n_brews=brews.height,
        n_yields=yields.height,
        n_known=known.height,
        u=_median(known["extraction_yield_u_pct"]),
        k=_median(known["extraction_yield_k"]),
        expanded_u=None if isinstance(found, NoBudget) else found.half_width,
        shares="" if isinstance(found, NoBudget) else share_words(found.groups),
        instrument=basis.instrument if basis else "",
        n_slips=brews.filter(pl.col("brew_id").is_in(list(gathered.slips))).height,
        corrected=gathered.corrected_words(_instruments(gathered, method)),
        wide=widest_recipe(believed, method) if basis else "",
        wide_readings=_widest_brew(gathered, basis, method) if basis else "",
        without=without_words(brews),
        smallest=_smallest(basis, repeats, refusals) if basis else (),
        refusals=tuple(dict.fromkeys(refusals)),
    )


def without_words(brews: pl.DataFrame) -> str:
    """Brews of `brew_facts` without an interval, counted by the reason, the commonest first; empty where all have one.

    A yield without an uncertainty has its reason in `u_note`.
    """
    reason = (
        pl.when(pl.col("n_readings") == 0)
        .then(pl.lit("no reading of strength"))
        .when(pl.col("extraction_yield_pct").is_null())
        .then(pl.lit("a reading but no yield (`brewtrials flags` says why)"))
        .otherwise(pl.col("u_note").fill_null("no uncertainty stated"))
    )
    counted = (
        brews.filter(pl.col("extraction_yield_expanded_u_pct").is_null())
        .group_by(reason=reason)
        .len()
        .sort("len", "reason", descending=[True, False])
    )
    return "; ".join(f"{count(n, 'brew')}, {why}" for why, n in counted.iter_rows())


def _widest_brew(gathered: Gathered, basis: MethodBasis, method: str) -> str:
    return widest_brew(gathered.readings, instrument_id=basis.instrument or None, method=method)


def _instruments(gathered: Gathered, method: str) -> set[str]:
    of_method = gathered.readings.filter((pl.col("method") == method) & pl.col("strength_pct").is_not_null())
    return set(of_method["instrument_id"].drop_nulls())


def _first_without(gathered: Gathered, yields: pl.DataFrame) -> None:
    """Raise what stands in the way of a budget, by the brew in the middle."""
    if yields.is_empty():
        raise ProblemError("No brew of it has a yield; `brewtrials flags` says what is in the way.")
    row = yields.row((yields.height - 1) // 2, named=True)
    brew_budget(measured_brew(row, gathered.groups[row["brew"]], gathered.settings))


def _smallest(basis: MethodBasis, repeats: int, refusals: list[str]) -> tuple[SmallestDifference, ...]:
    """The two numbers for brews that are measured and for recipes that are brewed, as far as the data say."""
    refusals += [basis.note] if basis.note else []
    found = [_tried(lambda: basis.of_brews(basis.effort), refusals)]
    if found[0] or basis.recipes is None:
        found.append(_tried(lambda: basis.of_recipes(replace(basis.effort, brews=repeats)), refusals))
    return tuple(one for one in found if one)


def _tried(make: Callable[[], Found], refusals: list[str]) -> Found | None:
    """What `make` gives; None where it refuses, with the reason among `refusals`."""
    try:
        return make()
    except ProblemError as problem:
        refusals.append(str(problem))
        return None


def _median(values: pl.Series) -> float | None:
    known = values.drop_nulls()
    return statistics.median_low(known.to_list()) if known.len() else None
