"""What each coffee answers to a change, and whether coffees answer alike."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl
from scipy import stats

from analysis.effects.design import Term
from analysis.effects.divisions import codes_of
from analysis.effects.factors import FACTORS, difference_unit, plural
from analysis.effects.fit import CONFIDENCE, Floats
from analysis.effects.model import Fitted
from analysis.effects.request import EffectsRequest
from analysis.effects.words import decimals, plain, signed
from analysis.mixed.compare import ComponentTest, component_test

SCHEMA = {
    "coffee_id": pl.String(),
    "term": pl.String(),
    "per": pl.String(),
    "step": pl.Float64(),
    "estimate": pl.Float64(),
    "std_error": pl.Float64(),
    "df": pl.Float64(),
    "low": pl.Float64(),
    "high": pl.Float64(),
    "n_brews": pl.Int64(),
}
"""One row per coffee and factor, the slope stated for the factor's step in the response's unit."""
TOLERANCE = 1e-7
SURE = 0.05


@dataclass(frozen=True)
class Alike:
    """Do coffees answer one change alike? `test` names what judged it; `sd` between coffees for the term's step.

    `test` is "F" (a slope each against one for all, `statistic` on `df_num` and `df_den`) where coffees are fewer
    than five, else "REML likelihood ratio" (chi-squared mixture, `statistic`, no degrees of freedom).
    """

    term: str
    place: str
    test: str
    statistic: float
    df_num: int | None
    df_den: float | None
    p_value: float
    sd: float | None

    @property
    def differs(self) -> bool:
        """Whether coffees were seen to answer differently."""
        return self.p_value < SURE


def slopes_by_coffee(brews: pl.DataFrame, fitted: Fitted) -> tuple[pl.DataFrame, tuple[Alike, ...]]:
    """A slope of every linear term for each coffee that was brewed at two settings of it, and whether they agree.

    Least squares with a level for each coffee, the other terms held alike; intervals from t(n - columns). These speak
    for the single coffees, however many there are.
    """
    coffees = codes_of(brews["coffee_id"])
    if coffees.max() == 0:
        return pl.DataFrame(schema=SCHEMA), ()
    names = sorted(brews["coffee_id"].unique())
    levels = np.eye(len(names))[coffees]
    rows, alike = [], []
    for k, term in enumerate(fitted.design.terms):
        if len(term.factors) != 1:
            continue
        own, shown = _own_columns(fitted.design.x[:, k], levels)
        if len(shown) < 2:
            continue
        found = _each(fitted, k, levels, own)
        if found is None:
            continue
        estimate, covariance, df = found
        rows += _rows(term, [names[c] for c in shown], estimate, covariance, df, brews)
        alike.append(_alike(fitted, k, term, estimate, covariance, df))
    return pl.DataFrame(rows, schema=SCHEMA, orient="row"), tuple(alike)


def _own_columns(values: Floats, levels: Floats) -> tuple[Floats, list[int]]:
    """The column split by coffee, (n, c), for the c coffees within which it varies, and their places."""
    shown = []
    for c in range(levels.shape[1]):
        inside = values[levels[:, c] == 1]
        if np.ptp(inside) > TOLERANCE * np.ptp(values):
            shown.append(c)
    return levels[:, shown] * values[:, None], shown


def _each(fitted: Fitted, k: int, levels: Floats, own: Floats) -> tuple[Floats, Floats, int] | None:
    """Estimates (c,), their covariance (c, c) and the residual degrees of freedom; None where brews do not suffice."""
    others = np.delete(fitted.x, k, axis=1)
    x = np.column_stack([own, levels, others])
    length = np.sqrt(np.sum(x * x, axis=0))
    x = x[:, length > 0] / length[length > 0]
    u, s, vt = np.linalg.svd(x, full_matrices=False)
    kept = s > TOLERANCE * s[0]
    df = x.shape[0] - int(kept.sum())
    if df < 1:
        return None
    inverse = vt[kept].T / s[kept]
    beta = inverse @ (u[:, kept].T @ fitted.y)
    residual = fitted.y - x @ beta
    c, scale = own.shape[1], length[: own.shape[1]]
    # A slope that the other columns could take over is no slope of that coffee alone.
    span = inverse @ inverse.T @ (x.T @ x)
    if np.max(np.abs(span[:c] - np.eye(c, x.shape[1]))) > 1e-6:
        return None
    covariance = (inverse @ inverse.T)[:c, :c] * (residual @ residual) / df / np.outer(scale, scale)
    return beta[:c] / scale, covariance, df


def _rows(
    term: Term, names: list[str], estimate: Floats, covariance: Floats, df: int, brews: pl.DataFrame
) -> list[dict[str, object]]:
    step = 1.0 if term.step is None else term.step
    reach = float(stats.t.ppf(0.5 + CONFIDENCE / 2, df)) * step
    counts = dict(brews.filter(term.rows).group_by("coffee_id").len().iter_rows())
    return [
        {
            "coffee_id": name,
            "term": term.name,
            "per": term.per,
            "step": step,
            "estimate": float(value) * step,
            "std_error": float(error) * step,
            "df": float(df),
            "low": float(value) * step - reach * float(error),
            "high": float(value) * step + reach * float(error),
            "n_brews": counts.get(name, 0),
        }
        for name, value, error in zip(names, estimate, np.sqrt(np.diag(covariance)), strict=True)
    ]


def _alike(fitted: Fitted, k: int, term: Term, estimate: Floats, covariance: Floats, df: int) -> Alike:
    name = fitted.structure.slopes.get(k)
    if name is not None:
        return _alike_at_random(fitted, name, term)
    contrast = np.column_stack([np.eye(estimate.size - 1), -np.ones(estimate.size - 1)])
    apart = contrast @ estimate
    statistic = float(apart @ np.linalg.solve(contrast @ covariance @ contrast.T, apart)) / apart.size
    p_value = float(stats.f.sf(statistic, apart.size, df))
    return Alike(term.name, term.place, "F", statistic, int(apart.size), float(df), p_value, None)


def _alike_at_random(fitted: Fitted, name: str, term: Term) -> Alike:
    """The spread of slopes against none; a spread that came out as zero needs no test."""
    kind = "REML likelihood ratio"
    if name in fitted.fit.components:
        kept = [part for part in fitted.parts if part.name in fitted.fit.components]
        # Where neighbours' likeness was taken out, the fit there is no measure for one without that.
        whole = fitted.fit.satterthwaite if fitted.order.rho is None else None
        found = component_test(fitted.y, fitted.x, kept, name=name, whole=whole)
        if isinstance(found, ComponentTest):
            sd = found.sd * (term.step or 1.0)
            return Alike(term.name, term.place, kind, found.statistic, None, None, found.p_value, sd)
    return Alike(term.name, term.place, kind, 0.0, None, None, 1.0, 0.0)


def coffee_sentences(slopes: pl.DataFrame, request: EffectsRequest) -> tuple[str, ...]:
    """One row of the slopes by coffee in words, for each coffee and factor."""
    unit = difference_unit(request.response)
    said = []
    for row in slopes.iter_rows(named=True):
        places = decimals(row["low"], row["high"])
        change = FACTORS[row["term"]].change_words(row["step"])
        place = row["per"].removeprefix(FACTORS[row["term"]].per(row["step"]))
        amount = f"{signed(row['estimate'], places)} {unit}".rstrip()
        interval = f"95 % interval {plain(row['low'], places)} to {plain(row['high'], places)}"
        brews = plural("brew", row["n_brews"])
        said.append(f"{row['coffee_id']}: {change}{place}: {amount}, {interval}, {brews}, for this coffee")
    return tuple(said)
