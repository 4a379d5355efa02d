"""Further brews that make the ones already made tell more: what moved together comes apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl

from analysis.mixed.arrays import Floats
from analysis.planning.arrange import arrange
from analysis.planning.candidates import grid
from analysis.planning.exchange import choose_runs
from analysis.planning.factors import PlanFactor, coded_settings
from analysis.planning.model import PlanModel, plan_model
from analysis.planning.noise import Noise
from analysis.planning.planned import Plan
from analysis.planning.request import PlanRequest, check_plan
from analysis.planning.strata import Layout, codes_of, correlations
from analysis.planning.tells import Tell, what_it_tells
from analysis.words import listed
from schemas.problem import ProblemError


@dataclass(frozen=True)
class Pair:
    """Two settings and how they moved together (correlation within coffees and sessions), before and after."""

    first: str
    second: str
    before: float
    after: float


@dataclass(frozen=True)
class Augmented:
    """The further brews, and every term before and after; `before` is None where the terms could not be told apart."""

    plan: Plan
    n_brewed: int
    before: tuple[Tell, ...] | None
    after: tuple[Tell, ...] | None
    pairs: tuple[Pair, ...]


def brewed_rows(
    facts: pl.DataFrame, factors: Sequence[PlanFactor], *, method: str, coffees: Sequence[str]
) -> pl.DataFrame:
    """The brews to build on: of the method and coffees, not void, every setting known; sessions by id, else by day."""
    named = [factor.name for factor in factors]
    lacking = [name for name in named if name not in facts.columns]
    if lacking:
        raise ProblemError(f"{listed(lacking)} is not known of any brew, so nothing can be added to what was brewed.")
    known = pl.all_horizontal(pl.col(name).is_not_null() for name in named)
    wanted = (pl.col("method") == method) & ~pl.col("is_void") & pl.col("coffee_id").is_in(list(coffees)) & known
    day = pl.col("brewed_at").dt.date().cast(pl.String)
    return facts.filter(wanted).select("brew_id", "coffee_id", *named, session=pl.coalesce("session_id", day))


def augment(
    request: PlanRequest,
    brewed: pl.DataFrame,
    noise: Noise,
    *,
    rng: np.random.Generator,
    difference: float | None = None,
) -> Augmented:
    """Choose `n_runs` further brews so that together with `brewed` (see `brewed_rows`) the terms are told best.

    D-optimal given the brews made, coffees and sessions with levels of their own; the new brews are in new sessions.
    """
    asked = check_plan(request)
    if brewed.is_empty():
        raise ProblemError(
            "No brew of this method and these coffees has all the settings to build on. Plan from nothing: leave out "
            "--add-to-brewed."
        )
    model = plan_model(asked.factors, curves=asked.curves, crosses=asked.crosses)
    old = coded_settings(brewed.select([f.name for f in asked.factors]).to_numpy().astype(np.float64), asked.factors)
    settings, coffees = _choose(asked, model, old, brewed, rng)
    plan = arrange(asked, model, settings, coffees, rng=rng)
    before = Layout(model.columns(old), codes_of(brewed["coffee_id"].to_list()), codes_of(brewed["session"].to_list()))
    after = _together(plan, old, brewed)
    return Augmented(
        plan,
        brewed.height,
        what_it_tells(model, before, noise, difference=difference),
        what_it_tells(model, after, noise, difference=difference),
        _pairs(model, before, after),
    )


def _choose(
    asked: PlanRequest, model: PlanModel, old: Floats, brewed: pl.DataFrame, rng: np.random.Generator
) -> tuple[Floats, list[str]]:
    possible = grid(asked.factors, impossible=asked.impossible)
    n, coffees = len(possible), asked.coffees
    settings = np.tile(possible, (len(coffees), 1))
    names = [coffee for coffee in coffees for _ in range(n)]
    terms = np.vstack([model.columns(old), model.columns(coded_settings(settings, asked.factors))])
    of_coffee = [*brewed["coffee_id"].to_list(), *names]
    of_session = [*brewed["session"].to_list(), *[None] * len(names)]
    levels = np.column_stack([_levels(of_coffee), _levels(of_session)])
    rows = np.column_stack([terms, levels[:, _independent(levels)]])
    chosen = choose_runs(rows[len(old) :], asked.n_runs or 0, rng=rng, fixed=rows[: len(old)])
    return settings[chosen.rows], [names[row] for row in chosen.rows]


def _levels(values: Sequence[object]) -> Floats:
    codes = codes_of(values)
    return np.asarray((codes[:, None] == np.unique(codes)[None, :]).astype(np.float64))


def _independent(columns: Floats) -> list[int]:
    """Numbers of the columns that say something new, from the left."""
    kept: list[int] = []
    basis = np.empty((columns.shape[0], 0))
    for place in range(columns.shape[1]):
        column = columns[:, place]
        rest = column - basis @ (basis.T @ column)
        if np.linalg.norm(rest) > 1e-8 * np.linalg.norm(column):
            kept.append(place)
            basis = np.column_stack([basis, rest / np.linalg.norm(rest)])
    return kept


def _together(plan: Plan, old: Floats, brewed: pl.DataFrame) -> Layout:
    """Brews made and planned as one."""
    coded = np.vstack([old, plan.coded()])
    coffees = [*brewed["coffee_id"].to_list(), *(run.coffee_id for run in plan.runs)]
    sessions = [*(("old", name) for name in brewed["session"]), *(("new", run.session) for run in plan.runs)]
    return Layout(plan.model.columns(coded), codes_of(coffees), codes_of(sessions))


def _pairs(model: PlanModel, before: Layout, after: Layout) -> tuple[Pair, ...]:
    slopes = [place for place, term in enumerate(model.terms) if len(term) == 1]
    was, will = correlations(before), correlations(after)
    pairs = [
        Pair(model.names[a], model.names[b], float(was[a, b]), float(will[a, b]))
        for k, a in enumerate(slopes)
        for b in slopes[k + 1 :]
    ]
    return tuple(sorted(pairs, key=lambda pair: -abs(np.nan_to_num(pair.before))))
