"""Where two or more curves together have their top: the stationary point of a response surface, and its kind."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import polars as pl
from scipy import stats

from analysis.effects.design import Design
from analysis.effects.factors import FACTORS, plural
from analysis.effects.fit import CONFIDENCE, Fit, Floats
from analysis.effects.words import decimals, plain
from analysis.words import listed
from schemas.columns import COLUMNS

SurfaceKind = Literal["top", "bottom", "saddle", "not settled"]


@dataclass(frozen=True)
class Surface:
    """The stationary point of k curved factors, each in its own unit.

    `place`, `low`, `high` (k,): the point and its 95 % interval by the delta method, no interval where the kind is not
    settled. `bends` (k,): curvatures along the axes of the surface (eigenvalues of its matrix), in the response's unit
    per unit squared. `value`: the response there, other factors at their means.
    """

    factors: tuple[str, ...]
    kind: SurfaceKind
    place: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    bends: tuple[float, ...]
    value: float
    inside: bool
    sentence: str


def find_surface(brews: pl.DataFrame, design: Design, fit: Fit, response: str) -> Surface | None:
    """The surface of all factors that were let bend; None with fewer than two, or where terms differ by place."""
    squares = [k for k, term in enumerate(design.terms) if len(term.factors) == 2 and len(set(term.factors)) == 1]
    names = tuple(design.terms[k].factors[0] for k in squares)
    if len(names) < 2 or len(set(names)) < len(names) or any(term.place for term in design.terms):
        return None
    spots = _Spots.of(design, names)
    slope, bend = spots.slope(fit.estimate), spots.bend(fit.estimate)
    try:
        at = np.asarray(-np.linalg.solve(2 * bend, slope), dtype=np.float64)
    except np.linalg.LinAlgError:
        return None
    bends, axes = np.linalg.eigh(bend)
    critical = float(stats.t.ppf(0.5 + CONFIDENCE / 2, min(float(fit.df[k]) for k in squares)))
    kind = _kind(bends, [critical * spots.bend_error(axis, fit.covariance) for axis in axes.T])
    reach = critical * spots.place_error(at, bend, fit.covariance)
    centre = np.array([float(brews[name].cast(pl.Float64).to_numpy().mean()) for name in names])
    place = centre + at
    values = brews.select(names).cast(pl.Float64).to_numpy()
    inside = bool(np.all((values.min(axis=0) <= place) & (place <= values.max(axis=0))))
    level = fit.estimate[next(k for k, term in enumerate(design.terms) if not term.factors)]
    value = float(level + slope @ at / 2)
    settled = kind != "not settled"
    low, high = (tuple(map(float, place + sign * reach)) if settled else () for sign in (-1, 1))
    said = _said(names, kind, place, reach, value, response, inside=inside)
    said = f"{said}, {plural('brew', brews.height)} of {plural('coffee', brews['coffee_id'].n_unique())}"
    return Surface(names, kind, tuple(map(float, place)), low, high, tuple(map(float, bends)), value, inside, said)


@dataclass(frozen=True)
class _Spots:
    """Where the design has the terms of a surface: `line` (k,), and `pair` (k, k), -1 where a product was not asked."""

    line: list[int]
    pair: list[list[int]]

    @classmethod
    def of(cls, design: Design, names: tuple[str, ...]) -> _Spots:
        place = {frozenset(term.factors) if len(term.factors) == 2 else term.name: k
                 for k, term in enumerate(design.terms)}  # fmt: skip
        pair = [[place.get(frozenset((one, two)), -1) for two in names] for one in names]
        return cls([place[name] for name in names], pair)

    def slope(self, estimate: Floats) -> Floats:
        """Slopes at the means (k,)."""
        return np.asarray(estimate[self.line], dtype=np.float64)

    def bend(self, estimate: Floats) -> Floats:
        """The matrix of the quadratic form (k, k): squares on the diagonal, half of each product beside it."""
        k = len(self.line)
        found = np.zeros((k, k))
        for i in range(k):
            for j in range(k):
                if self.pair[i][j] >= 0:
                    found[i, j] = estimate[self.pair[i][j]] * (1.0 if i == j else 0.5)
        return found

    def _weights(self, matrix: Floats, size: int) -> Floats:
        """Weights (p,) of the estimates in sum_ij matrix_ij bend_ij."""
        weights = np.zeros(size)
        for i, row in enumerate(self.pair):
            for j, k in enumerate(row):
                if k >= 0:
                    weights[k] += matrix[i, j] * (1.0 if i == j else 0.5)
        return weights

    def bend_error(self, axis: Floats, covariance: Floats) -> float:
        """Standard error of the curvature along an axis, the axis taken as known (Bisgaard and Ankenman 1996)."""
        weights = self._weights(np.outer(axis, axis), covariance.shape[0])
        return float(np.sqrt(weights @ covariance @ weights))

    def place_error(self, at: Floats, bend: Floats, covariance: Floats) -> Floats:
        """Standard errors (k,) of at = -(2 bend)^-1 slope, which moves by -(2 bend)^-1 (d slope + 2 d bend at)."""
        size, turn = covariance.shape[0], np.linalg.inv(2 * bend)
        rows = np.zeros((at.size, size))
        for i in range(at.size):
            matrix = np.zeros_like(bend)
            matrix[i] = 2 * at
            rows[i] = self._weights(matrix, size)
            rows[i, self.line[i]] += 1.0
        moved = turn @ rows
        return np.asarray(np.sqrt(np.einsum("kp,pr,kr->k", moved, covariance, moved)))


def _kind(bends: Floats, reach: list[float]) -> SurfaceKind:
    if any(abs(bend) <= ends for bend, ends in zip(bends, reach, strict=True)):
        return "not settled"
    if bends.max() < 0:
        return "top"
    return "bottom" if bends.min() > 0 else "saddle"


def _said(
    names: tuple[str, ...],
    kind: SurfaceKind,
    place: Floats,
    reach: Floats,
    value: float,
    response: str,
    *,
    inside: bool,
) -> str:
    nouns = listed([FACTORS[name].noun for name in names])
    if kind == "not settled":
        return f"surface of {nouns}: these brews do not settle whether it has a top"
    if kind != "top":
        what = "it is a saddle, higher one way and lower another" if kind == "saddle" else "it bends up"
        return f"surface of {nouns}: no top inside the range you brewed; {what}"
    spots = []
    for name, at, half in zip(names, place, reach, strict=True):
        places = decimals(at - half, at + half)
        ends = f"{plain(at - half, places)} to {plain(at + half, places)}"
        spots.append(f"{FACTORS[name].noun} {plain(at, places)} {COLUMNS[name].unit} (95 % interval {ends})")
    unit = COLUMNS[response].unit
    where = (
        f"{value:.1f} {unit} there" if inside else "outside the range you brewed, so what it gives there is not said"
    )
    return f"surface of {nouns}: top at {listed(spots)}, {where}"
