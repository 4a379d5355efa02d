"""Brews of the same settings and coffee: what they say of pure scatter, and whether the model misses a shape."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import polars as pl
from scipy import stats

from analysis.diagnostics.case import Case, basis, dummies, less
from analysis.diagnostics.least_squares import NO_SCATTER
from analysis.effects.divisions import codes_of
from analysis.effects.fit import Floats, Ints
from analysis.measurement.same_recipe import DOSE_WITHIN_G

ALIKE: Mapping[str, float] = {
    "water_temp_c": 0.5,
    "beverage_ratio": 0.05,
    "water_ratio": 0.1,
    "total_water_ratio": 0.1,
    "dose_g": DOSE_WITHIN_G,
    "water_g": 2.0,
    "beverage_g": 1.0,
    "bypass_g": 1.0,
    "pressure_bar": 0.2,
    "preinfusion_s": 1.0,
    "first_drip_s": 1.0,
    "brew_time_s": 1.0,
}
"""How far two brews to the same setting may lie apart, in the factor's unit (common practice, no source).

Dial settings, days and yes/no must be equal. The test below is exact whatever these are.
"""
EQUAL = 1e-9


@dataclass(frozen=True, slots=True)
class LackOfFit:
    """Squares beyond the model between settings, against squares among repeats, in the response's unit squared.

    `statistic` is F on `df_misfit` and `df_pure`; `pure_sd` is the scatter of repeats, in the response's unit.
    """

    ss_misfit: float
    ss_pure: float
    df_misfit: int
    df_pure: int
    statistic: float
    p_value: float

    @property
    def pure_sd(self) -> float:
        """Scatter of brews to the same settings, in the response's unit."""
        return float(np.sqrt(self.ss_pure / self.df_pure))


def alike(case: Case, tolerance: Mapping[str, float]) -> Ints:
    """A number (n,) for each brew, equal for brews of the same group, grinder and settings within `tolerance`.

    Each brew joins the first cluster whose first brew it is alike, in the order of the rows.
    """
    names = case.request.factors
    values = case.brews.select(pl.col(name).cast(pl.Float64) for name in names).to_numpy()
    reach = np.array([max(tolerance.get(name, 0.0), EQUAL) for name in names]) * (1 + EQUAL)
    grinder = codes_of(case.brews["grinder_id"].fill_null(""))
    first: list[int] = []
    out = np.zeros(case.n, dtype=np.int64)
    for row in range(case.n):
        for number, head in enumerate(first):
            near = np.all(np.abs(values[row] - values[head]) <= reach)
            if near and case.codes[row] == case.codes[head] and grinder[row] == grinder[head]:
                out[row] = number
                break
        else:
            out[row] = len(first)
            first.append(row)
    return out


def pure_df(x: Floats, clusters: Ints) -> int:
    """Degrees of freedom of the scatter among repeats: rows less the rank of the model and the clusters together."""
    return int(x.shape[0] - basis(np.column_stack([x, dummies(clusters)])).shape[1])


def lack_of_fit(y: Floats, x: Floats, clusters: Ints) -> LackOfFit | None:
    """Test of `x` (n, p) against a level for each cluster of alike rows; None without repeats or spare settings.

    With rows exactly alike this is the classical test against pure error (Montgomery, Design and Analysis of
    Experiments, section 11.2); with rows nearly alike the clusters come on top of `x`, which keeps the F exact
    (Christensen 1989, Annals of Statistics 17:673).
    """
    model = basis(x)
    both = basis(np.column_stack([x, dummies(clusters)]))
    df_misfit, df_pure = both.shape[1] - model.shape[1], y.size - both.shape[1]
    middle = y - y.mean()
    outer, inner = less(middle, model), less(middle, both)
    ss_pure = float(inner @ inner)
    ss_misfit = float(outer @ outer) - ss_pure
    if df_misfit < 1 or df_pure < 1 or ss_pure <= NO_SCATTER * float(middle @ middle):
        return None
    statistic = max(ss_misfit, 0.0) / df_misfit / (ss_pure / df_pure)
    return LackOfFit(
        ss_misfit, ss_pure, df_misfit, df_pure, statistic, float(stats.f.sf(statistic, df_misfit, df_pure))
    )
