"""The within-coffee terms once more, with errors that ask for nothing but independent coffees (CR2)."""

from __future__ import annotations

import numpy as np
import polars as pl

from analysis.effects.design import Term
from analysis.effects.divisions import codes_of
from analysis.effects.factors import difference_unit
from analysis.effects.fit import Floats, Ints, NoFit
from analysis.effects.model import Fitted
from analysis.effects.words import decimals, plain
from analysis.mixed.cluster_robust import LEAST_DF, ClusterRobust, cluster_robust

SCHEMA = {
    "term": pl.String(),
    "per": pl.String(),
    "estimate": pl.Float64(),
    "std_error": pl.Float64(),
    "df": pl.Float64(),
    "low": pl.Float64(),
    "high": pl.Float64(),
    "refused": pl.String(),
}
"""One row per term that varies within coffees, for its step; no interval where `refused` says why."""
TOLERANCE = 1e-7
MUCH_WIDER = 1.5
MOST_BREWS = 1000
"""Of one coffee: its block of the errors is squared, and with so many the check would take minutes."""


def cluster_check(brews: pl.DataFrame, fitted: Fitted) -> pl.DataFrame:
    """CR2 with Satterthwaite's degrees of freedom, coffees as clusters, every coffee at a level of its own.

    Bell and McCaffrey 2002; Pustejovsky and Tipton 2018, whose theorem 2 lets the levels be taken out first.
    """
    coffees = codes_of(brews["coffee_id"])
    if coffees.max() == 0 or np.bincount(coffees).max() > MOST_BREWS:
        return pl.DataFrame(schema=SCHEMA)
    within = _within(fitted.x, coffees)
    shown = _independent(within, fitted)
    if not shown:
        return pl.DataFrame(schema=SCHEMA)
    robust = cluster_robust(_within(fitted.y[:, None], coffees)[:, 0], within[:, shown], coffees)
    if isinstance(robust, NoFit):
        return pl.DataFrame(schema=SCHEMA)
    terms = fitted.design.terms
    rows = [_row(terms[k], robust, place) for place, k in enumerate(shown) if k < len(terms) and terms[k].factors]
    return pl.DataFrame(rows, schema=SCHEMA, orient="row")


def _row(term: Term, robust: ClusterRobust, place: int) -> dict[str, object]:
    step = term.step or 1.0
    estimate, half = float(robust.estimate[place]) * step, robust.half_width(place)
    few = f"{robust.df[place]:.2f} degrees of freedom, and {LEAST_DF} are needed"
    return {
        "term": term.name,
        "per": term.per,
        "estimate": estimate,
        "std_error": float(robust.std_error[place]) * step,
        "df": float(robust.df[place]),
        "low": None if half is None else estimate - half * step,
        "high": None if half is None else estimate + half * step,
        "refused": few if half is None else None,
    }


def _within(x: Floats, codes: Ints) -> Floats:
    """Columns less their coffee's mean."""
    sums = np.zeros((int(codes.max()) + 1, x.shape[1]))
    np.add.at(sums, codes, x)
    return np.asarray(x - (sums / np.bincount(codes)[:, None])[codes], dtype=np.float64)


def _independent(within: Floats, fitted: Fitted) -> list[int]:
    """Columns that vary within coffees and are not made up of those before them: levels of grinders among them."""
    kept: list[int] = []
    total = np.sqrt(np.sum(fitted.x**2, axis=0))
    for k in range(within.shape[1]):
        if np.sqrt(np.sum(within[:, k] ** 2)) <= TOLERANCE * total[k]:
            continue
        unit = within[:, [*kept, k]] / np.sqrt(np.sum(within[:, [*kept, k]] ** 2, axis=0))
        if np.linalg.svd(unit, compute_uv=False)[-1] > TOLERANCE:
            kept.append(k)
    return kept


def disagreements(check: pl.DataFrame, fitted: Fitted, response: str) -> list[str]:
    """Notes on terms whose interval the check would widen past zero, or by half and more."""
    notes = []
    unit = difference_unit(response)
    place = {(term.name, term.per): k for k, term in enumerate(fitted.design.terms)}
    for row in check.filter(pl.col("refused").is_null()).iter_rows(named=True):
        k = place[row["term"], row["per"]]
        step = fitted.design.terms[k].step or 1.0
        estimate, half = float(fitted.fit.estimate[k]) * step, fitted.fit.half_width(k) * step
        settled = abs(estimate) > half
        check_settles = row["low"] > 0 or row["high"] < 0
        wider = (row["high"] - row["low"]) / 2 > MUCH_WIDER * half
        if (settled and not check_settles) or wider:
            places = decimals(row["low"], row["high"])
            ends = f"{plain(row['low'], places)} to {plain(row['high'], places)} {unit}".rstrip()
            also = ", which does not settle the direction" if settled and not check_settles else ""
            notes.append(
                f"{row['term']}: a check that asks only for independent coffees (CR2) gives {ends}{also}; the interval "
                "above leans on the model."
            )
    return notes
