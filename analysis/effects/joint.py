"""Several terms of one factor judged together: its line and its curve, its slopes on several grinders or in methods."""

from __future__ import annotations

import numpy as np
import polars as pl
from scipy import stats

from analysis.effects.design import Design
from analysis.effects.fit import Fit, Floats
from analysis.mixed.fit import FTest

SCHEMA = {
    "factor": pl.String(),
    "question": pl.String(),
    "statistic": pl.Float64(),
    "df_num": pl.Int64(),
    "df_den": pl.Float64(),
    "p_value": pl.Float64(),
}
"""One row per question that takes more than one number to answer; F with Satterthwaite's degrees of freedom."""


def joint_tests(design: Design, fit: Fit) -> pl.DataFrame:
    """F for every factor with several terms ("nothing at all"), and for its slopes being equal across methods."""
    rows = []
    for factor in dict.fromkeys(name for term in design.terms for name in term.factors):
        of = [k for k, term in enumerate(design.terms) if factor in term.factors]
        if len(of) > 1:
            rows.append(_row(factor, "all its terms together", f_test(fit, np.eye(len(design.terms))[of])))
        lines = [k for k in of if len(design.terms[k].factors) == 1 and design.terms[k].method is not None]
        if len({design.terms[k].method for k in lines}) > 1:
            chosen = np.eye(len(design.terms))[lines]
            rows.append(_row(factor, "the same in every method", f_test(fit, chosen[:-1] - chosen[-1])))
    return pl.DataFrame(rows, schema=SCHEMA, orient="row")


def f_test(fit: Fit, contrasts: Floats) -> FTest:
    """All `contrasts` (r, p) zero at once: Satterthwaite's F of a mixed model, else Wald's F on n - p."""
    if fit.satterthwaite is not None:
        missing = fit.satterthwaite.estimate.size - contrasts.shape[1]
        return fit.satterthwaite.f_test(np.pad(contrasts, ((0, 0), (0, missing))))
    value = contrasts @ fit.estimate
    statistic = float(value @ np.linalg.solve(contrasts @ fit.covariance @ contrasts.T, value)) / len(value)
    df = float(fit.df[0])
    return FTest(statistic, len(value), df, float(stats.f.sf(statistic, len(value), df)))


def _row(factor: str, question: str, found: FTest) -> dict[str, object]:
    return {
        "factor": factor,
        "question": question,
        "statistic": found.statistic,
        "df_num": found.df_num,
        "df_den": found.df_den,
        "p_value": found.p_value,
    }
