"""Budgets of a whole frame of brews at once: effective degrees of freedom, coverage, interval, main uncertainty."""

from __future__ import annotations

import polars as pl

from analysis.facts.yield_uncertainty import immersion_slopes, input_u, percolation_slopes
from analysis.measurement.component import LEVEL, WHOLE, coverage_factor
from schemas.lab import LabSettings

GROUPS = {
    "tds": "TDS",
    "dose": "dose",
    "beverage": "beverage",
    "water": "water",
    "evaporated": "evaporated",
    "bypass": "bypass",
}
"""Inputs as `Sensitivities` names them, and the groups of a budget."""
BUDGET_COLUMNS = (
    "extraction_yield_df",
    "extraction_yield_k",
    "extraction_yield_expanded_u_pct",
    "main_uncertainty",
)


def scatter_quartic(groups: pl.DataFrame) -> pl.DataFrame:
    """Brew and tds_scatter_quartic, the strength's part of Welch-Satterthwaite: sum of (w^2 s^2 / n)^2 / df, in %^4.

    `groups` are the `reading_groups` of the facts; 0 where no scatter is known.
    """
    variance = pl.col("share") ** 2 * pl.col("scatter_pct") ** 2 / pl.col("n_repeats")
    quartic = (variance**2 / pl.col("scatter_df")).fill_null(0.0)
    return groups.group_by("brew", maintain_order=True).agg(tds_scatter_quartic=quartic.sum())


def with_yield_budget(brews: pl.DataFrame, settings: LabSettings, *, level: float = LEVEL) -> pl.DataFrame:
    """Brews with `BUDGET_COLUMNS`, null where the yield or its uncertainty is not known.

    Needs what `with_yield_uncertainty` needs, extraction_yield_u_pct that it adds, and tds_scatter_quartic. Degrees of
    freedom are infinite where no scatter counts; `main_uncertainty` is the largest part in words: "TDS 81 %".
    """
    parts = _variances(settings)
    helpers = [f"variance_of_{group}" for group in (*GROUPS, "strength")]
    percolation = pl.col("balance_used") == "percolation"
    per_strength = pl.when(percolation).then(percolation_slopes().tds).otherwise(immersion_slopes().tds)
    brews = brews.with_columns(*parts).with_columns(
        variance_of_strength=per_strength**4 * pl.col("tds_scatter_quartic").fill_null(0.0)
    )
    u = pl.col("extraction_yield_u_pct")
    df = pl.when(pl.col("variance_of_strength") > 0).then(u**4 / pl.col("variance_of_strength")).otherwise(float("inf"))
    brews = brews.with_columns(extraction_yield_df=pl.when(u.is_not_null()).then(df))
    factors = _factors(brews["extraction_yield_df"], level)
    brews = brews.with_columns(extraction_yield_k=factors).with_columns(
        extraction_yield_expanded_u_pct=pl.col("extraction_yield_k") * u, main_uncertainty=_main()
    )
    return brews.drop(helpers)


def _variances(settings: LabSettings) -> list[pl.Expr]:
    """One column per input: what it alone adds to the yield's variance, by the balance that applies."""
    u = input_u(settings)
    percolation, immersion = percolation_slopes(), immersion_slopes()
    return [
        pl.when(pl.col("balance_used") == "percolation")
        .then((getattr(percolation, name) * getattr(u, name)) ** 2)
        .otherwise((getattr(immersion, name) * getattr(u, name)) ** 2)
        .alias(f"variance_of_{name}")
        for name in GROUPS
    ]


def _main() -> pl.Expr:
    """The largest part in words; of equal parts the first of `GROUPS`; null where nothing is uncertain or known."""
    variances = [pl.col(f"variance_of_{name}").fill_null(0.0) for name in GROUPS]
    largest, whole = pl.max_horizontal(variances), pl.col("extraction_yield_u_pct") ** 2
    names = pl.coalesce(
        pl.when(variance == largest).then(pl.lit(word))
        for variance, word in zip(variances, GROUPS.values(), strict=True)
    )
    percent = (100 * largest / whole).round().cast(pl.Int64, strict=False)
    return pl.when(whole > 0).then(pl.format("{} {} %", names, percent))


def _factors(df: pl.Series, level: float) -> pl.Series:
    """Coverage factors: one quantile per distinct whole number of degrees of freedom."""
    whole = pl.when(df.is_finite()).then((df + WHOLE).floor().clip(lower_bound=1.0)).otherwise(df)
    cut = df.to_frame("df").select(whole=whole).to_series()
    known = cut.drop_nulls().unique().sort()
    factors = [coverage_factor(value, level=level) for value in known]
    return cut.replace_strict(known, pl.Series(factors, dtype=pl.Float64), default=None, return_dtype=pl.Float64)
