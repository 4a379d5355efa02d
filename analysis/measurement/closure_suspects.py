"""Likely weighing errors: brews whose weights stand apart, and which single weight would explain it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
import polars as pl

from analysis.measurement.closure_explain import Explanation, closing, refilling
from analysis.measurement.closure_masses import masses_of
from analysis.measurement.closure_usual import CUTOFF, Usual, UsualBrew, usual_brews, usual_of
from analysis.uncertainty import weighing_variance

Evidence = Literal["mass balance", "retained water"]
UNEXPLAINED_PCT = 5.0
"""With few brews of a method: more of the water than vapour and drops usually take. Chosen by us, no source."""
LEAST_STEPS = 5
"""A brew fewer steps of the display (or of the log) off is not offered, however alike the others are; our choice."""

NEEDED = (
    "brew_id",
    "method",
    "balance_used",
    "dose_g",
    "water_g",
    "evaporated_0_g",
    "before_bypass_g",
    "beverage_g",
    "spent_wet_g",
    "retained_g",
    "retained_ratio",
    "extraction_yield_pct",
    "residual_g",
    "residual_u_g",
    "residual_pct",
    "scale_standard_uncertainty",
    "step_g",
)
"""Columns that a judgement looks at; taking no others makes long logs quick."""


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
    residual_g: float | None
    usual: Usual
    explanations: tuple[Explanation, ...]


@dataclass(frozen=True, slots=True)
class Screen:
    """What was screened by the water a method's beds keep: brews judged, the limits, and what these rest on."""

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
    rows = rows.select(NEEDED)
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
        if judged.is_empty():
            continue
        kept = _no_keener_than_weighed(usual[method].retained, judged)
        screens.append(Screen(method, judged.height, kept))
        for row in judged.iter_rows(named=True):
            suspects += _by_retained(row, kept, usual[method])
    return Screening(tuple(suspects), tuple(screens))


def _by_residual(row: Mapping[str, Any], shares: Usual, usual: UsualBrew) -> Iterator[Suspect]:
    if shares.high is None:
        return
    u_pct = 100 * (row["residual_u_g"] or 0.0) / row["water_g"]
    middle, least = (0.0, shares.high) if shares.middle is None else (shares.middle, CUTOFF * (shares.spread or 0.0))
    steps_pct = 100 * LEAST_STEPS * row["step_g"] / row["water_g"]
    limit = max(least, (2.0 if shares.middle is None else CUTOFF) * u_pct, steps_pct)
    if limit == 0:
        limit = UNEXPLAINED_PCT
    off_pct = row["residual_pct"] - middle
    if abs(off_pct) <= limit or (masses := masses_of(row)) is None:
        return
    yield Suspect(
        brew_id=row["brew_id"],
        method=row["method"],
        evidence="mass balance",
        value=row["residual_pct"],
        middle=middle,
        limit=limit,
        off_g=off_pct * row["water_g"] / 100,
        residual_g=row["residual_g"],
        usual=shares,
        explanations=closing(masses, middle / 100, limit / 100, usual),
    )


def _by_retained(row: Mapping[str, Any], kept: Usual, usual: UsualBrew) -> Iterator[Suspect]:
    if kept.low is None or kept.high is None:
        return
    middle = (kept.low + kept.high) / 2
    limit = (kept.high - kept.low) / 2
    value = row["retained_ratio"]
    if limit == 0 or abs(value - middle) <= limit or (masses := masses_of(row)) is None:
        return
    yield Suspect(
        brew_id=row["brew_id"],
        method=row["method"],
        evidence="retained water",
        value=value,
        middle=middle,
        limit=limit,
        off_g=(value - middle) * row["dose_g"],
        residual_g=None,
        usual=kept,
        explanations=refilling(masses, middle, limit, usual),
    )


def _no_keener_than_weighed(kept: Usual, judged: pl.DataFrame) -> Usual:
    """The same with limits no narrower than weighing allows the brew in the middle, where brews are the basis.

    Where most brews tie, their own spread is 0, and every rounding would stand apart.
    """
    if kept.middle is None or kept.spread is None:
        return kept
    u_g, step_g = pl.col("scale_standard_uncertainty").fill_null(0.0), pl.col("step_g")
    of_two = (2 * weighing_variance(standard_uncertainty=u_g, resolution=step_g)).sqrt()
    weighing = judged.select(pl.max_horizontal(CUTOFF * of_two, LEAST_STEPS * step_g) / pl.col("dose_g")).to_series()
    half = max(CUTOFF * kept.spread, float(np.median(weighing)))
    return replace(kept, low=kept.middle - half, high=kept.middle + half)
