"""Where a curve has its top: the ratio -b1 / (2 b2) with Fieller's interval, which may be open, or no top at all."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
import polars as pl
from scipy import stats

from analysis.effects.design import Design, Term
from analysis.effects.factors import FACTORS, plural
from analysis.effects.fit import CONFIDENCE, Fit
from analysis.effects.structure import Scope
from analysis.effects.words import decimals, plain

TopKind = Literal["inside", "outside", "not settled", "none"]


@dataclass(frozen=True)
class Top:
    """The top of one curve, in the factor's unit.

    `kind`: "inside" or "outside" the settings brewed (`brewed_low` to `brewed_high`); "not settled" where the brews do
    not show whether the curve bends; "none" where it bends the other way. `low` and `high` are the 95 % interval, None
    on a side that is open; both None and no `place` where nothing is settled.
    """

    factor: str
    where: str
    kind: TopKind
    place: float | None
    low: float | None
    high: float | None
    brewed_low: float
    brewed_high: float
    sentence: str


def find_tops(brews: pl.DataFrame, design: Design, fit: Fit, scopes: tuple[Scope, ...]) -> tuple[Top, ...]:
    """One answer per curve that was asked for, each grinder and method its own."""
    tops = []
    for square, term in enumerate(design.terms):
        if len(term.factors) != 2 or term.factors[0] != term.factors[1]:
            continue
        line = next(
            k for k, other in enumerate(design.terms) if other.factors == term.factors[:1] and other.place == term.place
        )
        tops.append(_top(brews, term, fit, line, square, scopes[square]))
    return tuple(tops)


def fieller(
    first: float, second: float, var_first: float, var_second: float, covariance: float, *, critical: float
) -> tuple[float, float] | None:
    """Ends of the interval of first / second, or None where it is not bounded (second may be zero).

    All r with (first - r second)^2 <= critical^2 var(first - r second): Fieller (1954), Journal of the Royal
    Statistical Society B 16:175.

    >>> fieller(1.0, 2.0, 0.0, 0.0, 0.0, critical=2.0)
    (0.5, 0.5)
    """
    a = second**2 - critical**2 * var_second
    b = first * second - critical**2 * covariance
    c = first**2 - critical**2 * var_first
    inside = b * b - a * c
    if a <= 0:
        return None
    reach = math.sqrt(max(inside, 0.0))
    return (b - reach) / a, (b + reach) / a


def _top(brews: pl.DataFrame, term: Term, fit: Fit, line: int, square: int, scope: Scope) -> Top:
    name = term.factors[0]
    values = brews.filter(term.rows)[name].cast(pl.Float64).to_numpy()
    centre, low, high = float(values.mean()), float(values.min()), float(values.max())
    b1, b2 = float(fit.estimate[line]), float(fit.estimate[square])
    of = f", {plural('brew', values.size)}, {scope}"
    span = f"{low:g} to {high:g} {_unit(name)}"
    if abs(b2) <= fit.half_width(square):
        said = f"{_curve(term)}: these brews do not settle whether it has a top{of}"
        return Top(name, term.place, "not settled", None, None, None, low, high, said)
    if b2 > 0:
        said = f"{_curve(term)}: no top inside the range you brewed ({span}); it bends up{of}"
        return Top(name, term.place, "none", None, None, None, low, high, said)
    place = centre - b1 / (2 * b2)
    ends = fieller(
        -b1,
        2 * b2,
        float(fit.covariance[line, line]),
        4 * float(fit.covariance[square, square]),
        -2 * float(fit.covariance[line, square]),
        critical=float(stats.t.ppf(0.5 + CONFIDENCE / 2, _df_at(fit, line, square, place - centre))),
    )
    bottom, top = (None, None) if ends is None else (centre + ends[0], centre + ends[1])
    kind: TopKind = "inside" if low <= place <= high else "outside"
    return Top(
        name, term.place, kind, place, bottom, top, low, high, _said(term, kind, place, bottom, top, low, high, of)
    )


def _df_at(fit: Fit, line: int, square: int, offset: float) -> float:
    """Degrees of freedom of the slope at the top, b1 + 2 b2 offset: those that judge whether it is zero there."""
    if fit.satterthwaite is None:
        return float(fit.df[line])
    contrast = np.zeros(fit.satterthwaite.estimate.size)
    contrast[[line, square]] = 1.0, 2 * offset
    return max(fit.satterthwaite.df(contrast), 1.0)


def _said(
    term: Term, kind: TopKind, place: float, bottom: float | None, top: float | None, low: float, high: float, of: str
) -> str:
    unit = _unit(term.factors[0])
    head = _curve(term)
    if kind == "outside":
        side = "highest" if place > high else "lowest"
        inside = bottom is None or top is None or (bottom <= high and top >= low)
        maybe = (
            "" if not inside else f"; the 95 % interval of the top reaches into that range{_ends(bottom, top, unit)}"
        )
        span = f"{low:g} to {high:g} {unit}"
        return f"{head}: no top inside the range you brewed ({span}); it is best at the {side} setting there{maybe}{of}"
    if bottom is None or top is None or (bottom < low and top > high):
        return f"{head}: top at {place:.3g} {unit}, but these brews do not bound where it lies{of}"
    places = decimals(max(bottom, low), min(top, high))
    said = f"{head}: top at {plain(place, places)} {unit}"
    if top > high:
        ends = f"above {plain(bottom, places)}, up to beyond the highest setting brewed ({high:g})"
    elif bottom < low:
        ends = f"below {plain(top, places)}, down to beyond the lowest setting brewed ({low:g})"
    else:
        return f"{said}{_ends(bottom, top, unit)}{of}"
    return f"{said}, 95 % interval {ends}{of}"


def _ends(bottom: float | None, top: float | None, unit: str) -> str:
    if bottom is None or top is None:
        return ""
    places = decimals(bottom, top)
    return f", 95 % interval {plain(bottom, places)} to {plain(top, places)}"


def _curve(term: Term) -> str:
    return f"curve of {FACTORS[term.factors[0]].noun}{term.place}"


def _unit(name: str) -> str:
    """What a setting of this factor is counted in: 'steps finer', 'C'."""
    if name == "grind_steps_finer":
        return "steps finer than the reference"
    if name == "grind_um_finer":
        return "um finer than the reference"
    return FACTORS[name].per(2).removeprefix("2 ")
