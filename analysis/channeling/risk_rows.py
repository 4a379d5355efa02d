"""Rows and columns of the model of the risk of channeling, and the changes that its effects are stated for."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from analysis.channeling.firth import has_full_rank
from analysis.channeling.risk_factors import USUAL_STEPS, RiskFactors, level_words, levels_noun
from analysis.channeling.seen import refuse_one_sided
from analysis.effects.checks import check_enough, check_separable, check_variation
from analysis.effects.design import Design, Term, build_design
from analysis.effects.factors import DIAL, FACTORS, GROUPS
from analysis.effects.request import EffectsRequest
from analysis.effects.rows import choose_rows
from analysis.mixed.arrays import Floats
from schemas.problem import ProblemError

SHRUNK = (1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01)
ROUNDING = 1e-9


@dataclass(frozen=True)
class Change:
    """One change from the mean recipe: the rows (p,) of the design before and after, and its words.

    `beyond` is true where one step is more than the brews' whole range of that factor.
    """

    name: str
    said: str
    at: Floats
    to: Floats
    n_brews: int
    beyond: bool


@dataclass(frozen=True)
class RiskRows:
    """`y` (n,) of 0 and 1, `x` (n, p) with intercepts, `brews` (n rows), the changes, and what was left out."""

    brews: pl.DataFrame
    y: Floats
    x: Floats
    changes: tuple[Change, ...]
    dropped: str
    notes: tuple[str, ...]

    @property
    def rarer(self) -> int:
        """Brews of the rarer outcome."""
        channeled = int(self.y.sum())
        return min(channeled, self.y.size - channeled)


def risk_rows(
    facts: pl.DataFrame, factors: RiskFactors, *, method: str, steps: Mapping[str, float] | None = None
) -> RiskRows:
    """The complete brews looked at, their design and the changes from the mean recipe; refusals in plain words."""
    given = _checked_steps(steps or {}, factors)
    request = EffectsRequest("channeled", factors.numeric, method=method, steps=given)
    known = (
        facts.filter(pl.all_horizontal(pl.col(name).is_not_null() for name in factors.levels))
        if (factors.levels)
        else facts
    )
    if known.is_empty():
        raise ProblemError(f"No brew says its {GROUPS[factors.levels[0]]}; record it, or leave it out.")
    chosen = choose_rows(known, request)
    refuse_one_sided(chosen.brews, method)
    check_variation(chosen.brews, request)
    request = replace(request, steps=_steps_inside(chosen.brews, request, given))
    design = build_design(chosen.brews, request, chosen.grinders)
    design, levels, notes = _with_levels(chosen.brews, design, factors)
    check_enough(*design.x.shape)
    check_separable(design)
    changes = _changes(chosen.brews, request, design, levels)
    y = chosen.brews["channeled"].cast(pl.Float64).to_numpy()
    lost = facts.filter(pl.col("method") == method).height - known.filter(pl.col("method") == method).height
    dropped = f"{chosen.dropped}; {lost} more without {' or '.join(factors.levels)}" if lost else chosen.dropped
    return RiskRows(chosen.brews, y, design.x, changes, dropped, (*factors.notes, *notes))


def _checked_steps(steps: Mapping[str, float], factors: RiskFactors) -> dict[str, float]:
    """Steps of the factors in the model; one of a factor that was not asked for is refused where factors were named."""
    for name, step in steps.items():
        if factors.asked and name not in factors.numeric:
            raise ProblemError(f"A step is given for {name!r}, which is not among the factors; add it to them.")
        if not (math.isfinite(step) and step > 0):
            raise ProblemError(f"The step of {name} is {step:g}; it must be a number above 0.")
    return {name: step for name, step in steps.items() if name in factors.numeric}


def _steps_inside(brews: pl.DataFrame, request: EffectsRequest, given: Mapping[str, float]) -> dict[str, float]:
    """The steps given; a usual step that these brews do not span shrinks to half, a fifth, a tenth ... of it."""
    steps = dict(given)
    for name in set(request.factors) - set(given):
        values = brews[name].cast(pl.Float64)
        if name == DIAL:
            spans = brews.group_by("grinder_id").agg(span=pl.col(name).max() - pl.col(name).min())["span"]
        else:
            spans = pl.Series([float(np.ptp(values.to_numpy()))])
        usual, least = USUAL_STEPS.get(name, request.step(name)), float(spans.to_numpy().min())
        inside = (usual * part for part in SHRUNK if usual * part <= least + ROUNDING)
        steps[name] = next(inside, usual)
    return steps


@dataclass(frozen=True)
class _Level:
    name: str
    said: str
    rows: int


def _with_levels(
    brews: pl.DataFrame, design: Design, factors: RiskFactors
) -> tuple[Design, dict[int, _Level], list[str]]:
    """The design with a centred column for every level but the commonest, before the intercepts."""
    terms, columns = list(design.terms), list(design.x.T)
    levels: dict[int, _Level] = {}
    notes: list[str] = []
    every = np.ones(brews.height, dtype=bool)
    for name in factors.levels:
        counts = brews.group_by(name).len().sort(["len", name], descending=[True, False])
        reference, *others = counts[name].to_list()
        if not others:
            raise ProblemError(f"All complete brews are of one {GROUPS[name]}, {reference}; leave it out.")
        new = [(brews[name] == other).cast(pl.Float64).to_numpy() for other in others]
        if not factors.asked and not has_full_rank(np.column_stack([*columns, *new])):
            notes.append(f"The {levels_noun(name)} stayed out: they cannot be told apart from the other factors here.")
            continue
        for other, column in zip(others, new, strict=True):
            levels[len(columns)] = _Level(name, level_words(name, other, reference), int(column.sum()))
            columns.append(column - column.mean())
            terms.append(Term(f"{name} {other}", (name,), None, 1.0, "", every))
    return Design(np.column_stack(columns), tuple(terms)), levels, notes


def _changes(
    brews: pl.DataFrame, request: EffectsRequest, design: Design, levels: dict[int, _Level]
) -> tuple[Change, ...]:
    changes = []
    for k, term in enumerate(design.terms):
        if not term.factors:
            continue
        at = _middle(design, term)
        if k in levels:
            at, to = _between(brews, design, at, k, levels)
            changes.append(Change(levels[k].name, levels[k].said, at, to, brews.height, beyond=False))
            continue
        step = request.step(term.name)
        to = at + step * np.eye(at.size)[k]
        where = f" on {term.grinder}" if term.grinder else ""
        said = FACTORS[term.name].change_words(request.step(term.name)) + where
        reach = float(np.ptp(design.x[term.rows, k]))
        changes.append(Change(term.name, said, at, to, int(term.rows.sum()), beyond=step > reach + ROUNDING))
    return tuple(changes)


def _middle(design: Design, term: Term) -> Floats:
    """The row of the mean recipe: on the term's grinder where it has one, else at the brews' shares of intercepts."""
    at = np.zeros(len(design.terms))
    for k, other in enumerate(design.terms):
        if not other.factors:
            share = float(np.mean(design.x[:, k]))
            at[k] = share if term.grinder is None else float(other.grinder == term.grinder)
    return at


def _between(
    brews: pl.DataFrame, design: Design, at: Floats, k: int, levels: dict[int, _Level]
) -> tuple[Floats, Floats]:
    """The rows of the commonest level and of level `k` of the same group, all else at the mean recipe."""
    reference = at.copy()
    for j, level in levels.items():
        if level.name == levels[k].name:
            reference[j] = -level.rows / brews.height
    return reference, reference + np.eye(at.size)[k]
