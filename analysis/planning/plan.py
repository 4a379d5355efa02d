"""Plans made: which settings on which coffee, by the design asked for."""

from __future__ import annotations

import numpy as np

from analysis.mixed.arrays import Floats
from analysis.planning.aliases import alias_sentences, resolution_words
from analysis.planning.arrange import arrange
from analysis.planning.candidates import grid, refuse_impossible
from analysis.planning.designs import fractional_factorial, full_factorial, response_surface
from analysis.planning.exchange import Chosen, choose_runs
from analysis.planning.factors import PlanFactor, coded_settings, natural_settings
from analysis.planning.model import PlanModel, all_crosses, plan_model
from analysis.planning.planned import Plan
from analysis.planning.request import PlanRequest, check_plan
from analysis.planning.square import plan_square
from analysis.words import listed

COARSE = 0.1
"""Share of the half range from which on rounding is worth a word."""


def make_plan(request: PlanRequest, *, rng: np.random.Generator) -> Plan:
    """Plan the brews; ProblemError says why when that cannot be done."""
    asked = check_plan(request)
    if asked.design == "square":
        return plan_square(asked, rng=rng)
    if asked.design == "optimal":
        model = plan_model(asked.factors, curves=asked.curves, crosses=asked.crosses)
        settings, coffees, chosen = choose_settings(asked, model, rng=rng)
        return arrange(asked, model, settings, coffees, rng=rng, notes=(_reached(chosen),))
    coded, model, aliases, notes = _classical(asked)
    settings = _natural(asked, coded)
    notes = (*notes, *_rounding(asked, coded, settings))
    refuse_impossible(settings, asked.factors, asked.impossible)
    every = np.tile(settings, (asked.replicates * len(asked.coffees), 1))
    coffees = [coffee for coffee in asked.coffees for _ in range(asked.replicates * len(settings))]
    return arrange(asked, model, every, coffees, rng=rng, aliases=aliases, notes=notes)


def _classical(asked: PlanRequest) -> tuple[Floats, PlanModel, tuple[str, ...], tuple[str, ...]]:
    """Coded runs of a design from the books, its terms, what it cannot tell apart, and remarks."""
    factors, k = asked.factors, len(asked.factors)
    crosses = all_crosses(factors)
    if asked.design == "fractional":
        coded = fractional_factorial(k, n_runs=asked.n_runs)
        nouns = [factor.noun for factor in factors]
        aliases = alias_sentences(coded, nouns)
        model = plan_model(factors, crosses=() if aliases else crosses)
        return coded, model, aliases, (resolution_words(coded),)
    if asked.design in ("composite", "box-behnken"):
        kind = asked.design
        names = tuple(factor.name for factor in factors)
        return response_surface(k, "composite" if kind == "composite" else "box-behnken"), plan_model(
            factors, curves=names, crosses=crosses
        ), (), ()  # fmt: skip
    levels = [len(_levels(factor)) for factor in factors]
    curved = tuple(f.name for f, n in zip(factors, levels, strict=True) if n > 2)
    return full_factorial(levels), plan_model(factors, curves=curved, crosses=crosses), (), ()


def _levels(factor: PlanFactor) -> tuple[float, ...]:
    return factor.levels(3 if factor.curve else 2)


def _natural(asked: PlanRequest, coded: Floats) -> Floats:
    """Settings (n, k) of coded runs; a full factorial takes each factor's own levels, however uneven."""
    if asked.design != "full":
        return natural_settings(coded, asked.factors)
    columns = []
    for j, factor in enumerate(asked.factors):
        own = np.array(_levels(factor))
        columns.append(own[np.rint((coded[:, j] + 1) / 2 * (own.size - 1)).astype(int)])
    return np.column_stack(columns)


def _rounding(asked: PlanRequest, coded: Floats, settings: Floats) -> tuple[str, ...]:
    """Which settings had to move noticeably to be settable, in words."""
    if asked.design == "full":
        return ()
    moved = np.abs(coded_settings(settings, asked.factors) - coded).max(axis=0)
    names = [factor.noun for factor, by in zip(asked.factors, moved, strict=True) if by > COARSE]
    if not names:
        return ()
    return (f"The {listed(names)} was rounded to what can be set, by more than a tenth of its half range.",)


def choose_settings(
    asked: PlanRequest, model: PlanModel, *, rng: np.random.Generator
) -> tuple[Floats, list[str], Chosen]:
    """D-optimal settings (n, k) and coffees for `n_runs` brews, coffees with levels of their own."""
    possible = grid(asked.factors, impossible=asked.impossible)
    terms = model.columns(coded_settings(possible, asked.factors))
    n_coffees = len(asked.coffees)
    levels = np.repeat(np.eye(n_coffees), len(possible), axis=0)
    candidates = np.column_stack([np.tile(terms, (n_coffees, 1)), levels])
    chosen = choose_runs(candidates, asked.n_runs or 0, rng=rng)
    settings = np.tile(possible, (n_coffees, 1))[chosen.rows]
    return settings, [asked.coffees[row // len(possible)] for row in chosen.rows], chosen


def _reached(chosen: Chosen) -> str:
    return (
        f"{chosen.reached} of {chosen.starts} random starts ended at equally good runs; where that is few, another "
        "seed may find slightly better ones."
    )
