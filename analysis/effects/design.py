"""The columns of a model: centred factors, squares and products of them, and the intercepts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from analysis.effects.factors import DIAL, FACTORS
from analysis.effects.fit import Floats
from analysis.effects.request import EffectsRequest
from analysis.words import method_word


@dataclass(frozen=True)
class Term:
    """One column of the design: which factors it multiplies, on which grinder, for which step it is stated.

    `rows` (n,) marks the brews the term speaks about: all, or those on its grinder or of its method. `step` is None for
    an intercept; `method` is None unless methods were pooled.
    """

    name: str
    factors: tuple[str, ...]
    grinder: str | None
    step: float | None
    per: str
    rows: NDArray[np.bool_]
    method: str | None = None

    @property
    def place(self) -> str:
        """Where the term holds, in words that follow its name: ' on G1', ' in pour over'; empty for everywhere."""
        return _place(self.method, self.grinder)


@dataclass(frozen=True)
class Design:
    """`x` (n, p), one column per term: factors first, then squares, products, and intercepts last.

    `silent` says which factors stood still in one of several methods and have no term there.
    """

    x: Floats
    terms: tuple[Term, ...]
    silent: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Cell:
    """Brews that share an intercept: all, those of one method, on one grinder, or both."""

    method: str | None
    grinder: str | None
    rows: NDArray[np.bool_]


@dataclass(frozen=True)
class _Variable:
    factor: str
    cell: _Cell
    values: Floats


def build_design(brews: pl.DataFrame, request: EffectsRequest, grinders: tuple[str, ...]) -> Design:
    """The design of complete brews; `grinders` lists them where each needs its own dial slope and intercept.

    Factors, yes/no included, are centred at their mean (dial steps at each grinder's own) before squares and
    products, so linear terms are slopes at the means and intercepts are levels there. Pooled methods each have their
    own slopes and intercept, centred at their own means.
    """
    variables = {name: _variables(brews, name, request, grinders) for name in request.factors}
    still = [v for group in variables.values() for v in group if _is_still(v)]
    variables = {name: [v for v in group if not _is_still(v)] for name, group in variables.items()}
    columns: list[tuple[Floats, Term]] = []
    for group in variables.values():
        columns += [(v.values, _term(request, v)) for v in group]
    for name in request.curves:
        columns += [(v.values * v.values, _term(request, v, v)) for v in variables[name]]
    for first, second in request.pairs():
        columns += [
            (a.values * b.values, _term(request, a, b))
            for a in variables[first]
            for b in variables[second]
            if a.cell.method == b.cell.method
        ]
    columns += [_intercept(cell) for cell in _cells(brews, request, grinders)]
    silent = tuple(f"{v.factor} stood still{_place_of(v.cell)}." for v in still)
    return Design(np.column_stack([values for values, _ in columns]), tuple(term for _, term in columns), silent)


def _cells(brews: pl.DataFrame, request: EffectsRequest, grinders: tuple[str, ...]) -> list[_Cell]:
    """Every method (where pooled) on every grinder (where listed) that has brews, in the order of their names."""
    methods: list[str | None] = sorted(brews["method"].unique()) if request.pool_methods else [None]
    cells = []
    for method in methods:
        for grinder in grinders or (None,):
            rows = np.ones(brews.height, dtype=bool)
            if method is not None:
                rows &= (brews["method"] == method).to_numpy()
            if grinder is not None:
                rows &= (brews["grinder_id"] == grinder).to_numpy()
            if rows.any():
                cells.append(_Cell(method, grinder, rows))
    return cells


def _variables(brews: pl.DataFrame, name: str, request: EffectsRequest, grinders: tuple[str, ...]) -> list[_Variable]:
    values = brews[name].cast(pl.Float64).to_numpy()
    cells = _cells(brews, request, grinders if name == DIAL else ())
    return [_Variable(name, cell, np.where(cell.rows, values - values[cell.rows].mean(), 0.0)) for cell in cells]


def _is_still(variable: _Variable) -> bool:
    """Whether a factor has one value among the brews of a method, so that it says nothing there."""
    return variable.cell.method is not None and bool(np.ptp(variable.values[variable.cell.rows]) == 0)


def _intercept(cell: _Cell) -> tuple[Floats, Term]:
    place = _place_of(cell)
    per = f"at the factors' means,{place}" if place else "at the factors' means"
    return cell.rows.astype(np.float64), Term("intercept", (), cell.grinder, None, per, cell.rows, cell.method)


def _term(request: EffectsRequest, *parts: _Variable) -> Term:
    names = tuple(part.factor for part in parts)
    steps = [request.step(name) for name in names]
    pers = [FACTORS[name].per(step) for name, step in zip(names, steps, strict=True)]
    grinder = next((part.cell.grinder for part in parts if part.cell.grinder), None)
    method = parts[0].cell.method
    square = len(names) == 2 and names[0] == names[1]
    label = f"{names[0]}^2" if square else ":".join(names)
    per = f"({pers[0]}) squared" if square else " x ".join(pers)
    rows = parts[0].cell.rows if len(parts) == 1 else parts[0].cell.rows & parts[1].cell.rows
    return Term(label, names, grinder, float(np.prod(steps)), f"{per}{_place(method, grinder)}", rows, method)


def _place_of(cell: _Cell) -> str:
    return _place(cell.method, cell.grinder)


def _place(method: str | None, grinder: str | None) -> str:
    return (f" on {grinder}" if grinder else "") + (f" in {method_word(method)}" if method else "")
