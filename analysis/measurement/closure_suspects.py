"""Likely weighing errors: brews whose weights stand apart, and which single weight would explain it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Literal

import polars as pl

from analysis.measurement.closure_explain import Explanation, closing, refilling
from analysis.measurement.closure_masses import masses_of
from analysis.measurement.closure_usual import CUTOFF, Usual, UsualBrew, usual_brews, usual_of

Evidence = Literal["mass balance", "retained water"]
UNEXPLAINED_PCT = 5.0
"""With few brews of a method: more of the water than vapour and drops usually take. Chosen by us, no source."""


@dataclass(frozen=True, slots=True)
class Suspect:
    """A brew to look at: how far its weights stand from what is usual, and what would explain it, likeliest first.

    `value` and `middle` are in % of the water (mass balance) or g per g of dose (retained water), `limit` the distance
    that was allowed; `off_g` is the distance in g. `usual` says what the judgement rests on.
    """

    brew_id: str
    method: str
    evidence: Evidence
    value: float
    middle: float
    limit: float
    off_g: float
    usual: Usual
    explanations: tuple[Explanation, ...]


@dataclass(frozen=True, slots=True)
class Screen:
    """What was screened by the water a method's beds keep: brews judged, and what the limits rest on."""

    method: str
    n_judged: int
    usual: Usual


@dataclass(frozen=True, slots=True)
class Screening:
    """All suspects, by method and brew, and the screens that brews without a residual went through."""

    suspects: tuple[Suspect, ...]
    screens: tuple[Screen, ...]


def screen(rows: pl.DataFrame) -> Screening:
    """Judge every brew of `closure_rows`: by its residual where it has one, else by the water its bed kept."""
    usual = usual_brews(rows)
    suspects: list[Suspect] = []
    screens = []
    for (name,), brews in sorted(rows.group_by("method"), key=lambda group: str(group[0][0])):
        method = str(name)
        closed, open_ = (brews.filter(pl.col("residual_g").is_null() == missing) for missing in (False, True))
        shares = usual_of(closed["residual_pct"], otherwise=(-UNEXPLAINED_PCT, UNEXPLAINED_PCT))
        for row in closed.sort("brew_id").iter_rows(named=True):
            suspects += _by_residual(row, shares, usual[method])
        judged = open_.filter(pl.col("retained_ratio").is_not_null()).sort("brew_id")
        if not judged.is_empty():
            screens.append(Screen(method, judged.height, usual[method].retained))
        for row in judged.iter_rows(named=True):
            suspects += _by_retained(row, usual[method])
    return Screening(tuple(suspects), tuple(screens))


def _by_residual(row: Mapping[str, Any], shares: Usual, usual: UsualBrew) -> Iterator[Suspect]:
    masses = masses_of(row)
    if masses is None or shares.high is None:
        return
    u_pct = 100 * (row["residual_u_g"] or 0.0) / row["water_g"]
    middle, least = (0.0, shares.high) if shares.middle is None else (shares.middle, CUTOFF * (shares.spread or 0.0))
    limit = max(least, (2.0 if shares.middle is None else CUTOFF) * u_pct)
    if limit == 0:
        limit = UNEXPLAINED_PCT
    off_pct = row["residual_pct"] - middle
    if abs(off_pct) <= limit:
        return
    yield Suspect(
        brew_id=row["brew_id"],
        method=row["method"],
        evidence="mass balance",
        value=row["residual_pct"],
        middle=middle,
        limit=limit,
        off_g=off_pct * row["water_g"] / 100,
        usual=shares,
        explanations=closing(masses, middle / 100, limit / 100, usual),
    )


def _by_retained(row: Mapping[str, Any], usual: UsualBrew) -> Iterator[Suspect]:
    masses, kept = masses_of(row), usual.retained
    if masses is None or kept.low is None or kept.high is None:
        return
    middle = (kept.low + kept.high) / 2
    limit = (kept.high - kept.low) / 2
    if kept.middle is not None:
        limit = max(limit, CUTOFF * _retained_u(row))
    value = row["retained_ratio"]
    if limit == 0 or abs(value - middle) <= limit:
        return
    yield Suspect(
        brew_id=row["brew_id"],
        method=row["method"],
        evidence="retained water",
        value=value,
        middle=middle,
        limit=limit,
        off_g=(value - middle) * row["dose_g"],
        usual=kept,
        explanations=refilling(masses, middle, limit, usual),
    )


def _retained_u(row: Mapping[str, Any]) -> float:
    """Standard uncertainty of retained water per dose, from water and beverage on the brew's weighing scale."""
    u_g, step_g = row["scale_standard_uncertainty"] or 0.0, row["scale_resolution"] or 0.0
    return float((2 * (u_g**2 + 2 * step_g**2 / 12)) ** 0.5 / row["dose_g"])
