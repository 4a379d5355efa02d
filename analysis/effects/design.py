"""The columns of a model: centred factors, squares and products of them, and the intercepts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from analysis.effects.factors import DIAL, FACTORS
from analysis.effects.fit import Floats
from analysis.effects.request import EffectsRequest


@dataclass(frozen=True)
class Term:
    """One column of the design: which factors it multiplies, on which grinder, for which step it is stated.

    `rows` (n,) marks the brews the term speaks about: all, or those on its grinder. `step` is None for an intercept.
    """

    name: str
    factors: tuple[str, ...]
    grinder: str | None
    step: float | None
    per: str
    rows: NDArray[np.bool_]


@dataclass(frozen=True)
class Design:
    """`x` (n, p), one column per term: factors first, then squares, products, and intercepts last."""

    x: Floats
    terms: tuple[Term, ...]


@dataclass(frozen=True)
class _Variable:
    factor: str
    grinder: str | None
    values: Floats
    rows: NDArray[np.bool_]


def build_design(brews: pl.DataFrame, request: EffectsRequest, grinders: tuple[str, ...]) -> Design:
    """The design of complete brews; `grinders` lists them where each needs its own dial slope and intercept.

    Factors, yes/no included, are centred at their mean (dial steps at each grinder's own) before squares and
    products, so linear terms are slopes at the means and intercepts are levels there.
    """
    variables = {name: _variables(brews, name, grinders) for name in request.factors}
    columns: list[tuple[Floats, Term]] = []
    for group in variables.values():
        columns += [(v.values, _term(request, v)) for v in group]
    for name in request.curves:
        columns += [(v.values * v.values, _term(request, v, v)) for v in variables[name]]
    for first, second in request.pairs():
        columns += [(a.values * b.values, _term(request, a, b)) for a in variables[first] for b in variables[second]]
    columns += _intercepts(brews, grinders)
    return Design(np.column_stack([values for values, _ in columns]), tuple(term for _, term in columns))


def _variables(brews: pl.DataFrame, name: str, grinders: tuple[str, ...]) -> list[_Variable]:
    values = brews[name].cast(pl.Float64).to_numpy()
    if name != DIAL or not grinders:
        return [_Variable(name, None, values - values.mean(), np.ones(values.size, dtype=bool))]
    return [
        _Variable(name, grinder, np.where(rows, values - values[rows].mean(), 0.0), rows)
        for grinder, rows in _rows_by_grinder(brews, grinders)
    ]


def _intercepts(brews: pl.DataFrame, grinders: tuple[str, ...]) -> list[tuple[Floats, Term]]:
    per = "at the factors' means"
    if not grinders:
        every = np.ones(brews.height, dtype=bool)
        return [(every.astype(np.float64), Term("intercept", (), None, None, per, every))]
    return [
        (rows.astype(np.float64), Term("intercept", (), grinder, None, f"{per}, on {grinder}", rows))
        for grinder, rows in _rows_by_grinder(brews, grinders)
    ]


def _rows_by_grinder(brews: pl.DataFrame, grinders: tuple[str, ...]) -> list[tuple[str, NDArray[np.bool_]]]:
    return [(grinder, (brews["grinder_id"] == grinder).to_numpy()) for grinder in grinders]


def _term(request: EffectsRequest, *parts: _Variable) -> Term:
    names = tuple(part.factor for part in parts)
    steps = [request.step(name) for name in names]
    pers = [FACTORS[name].per(step) for name, step in zip(names, steps, strict=True)]
    grinder = next((part.grinder for part in parts if part.grinder), None)
    square = len(names) == 2 and names[0] == names[1]
    label = f"{names[0]}^2" if square else ":".join(names)
    per = f"({pers[0]}) squared" if square else " x ".join(pers)
    rows = parts[0].rows if len(parts) == 1 else parts[0].rows & parts[1].rows
    return Term(label, names, grinder, float(np.prod(steps)), f"{per} on {grinder}" if grinder else per, rows)
