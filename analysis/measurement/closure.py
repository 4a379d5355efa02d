"""Mass closure of a lab: residuals, what each method leaves unaccounted for, and brews whose weights stand apart."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from analysis.measurement.closure_residuals import MethodClosure, closure_rows, method_closures, with_scales
from analysis.measurement.closure_suspects import Screen, Suspect, screen
from schemas.lab import LabSettings

RESIDUAL_COLUMNS = (
    "brew_id",
    "method",
    "residual_g",
    "residual_u_g",
    "residual_pct",
    "closes",
    "closure_note",
)


@dataclass(frozen=True, slots=True)
class Closure:
    """Whether weights add up.

    `residuals` has `RESIDUAL_COLUMNS`, one row per brew whose spent grounds were weighed, by brew. `methods` pool them;
    `screens` say what the other brews were judged by; `suspects` are likely weighing errors. `n_not_judged` counts
    brews without spent grounds whose retained water is not known. Void brews are nowhere.
    """

    residuals: pl.DataFrame
    methods: tuple[MethodClosure, ...]
    screens: tuple[Screen, ...]
    suspects: tuple[Suspect, ...]
    n_not_judged: int


def mass_closure(facts: pl.DataFrame, instruments: pl.DataFrame, *, settings: LabSettings) -> Closure:
    """Judge the weights of every brew; `facts` are `brew_facts`, `instruments` the instruments table."""
    rows = closure_rows(with_scales(facts, instruments), settings)
    found = screen(rows)
    unjudged = pl.col("residual_g").is_null() & pl.col("retained_ratio").is_null()
    return Closure(
        residuals=rows.filter(pl.col("spent_wet_g").is_not_null()).select(RESIDUAL_COLUMNS).sort("brew_id"),
        methods=method_closures(rows, {one.brew_id for one in found.suspects}),
        screens=found.screens,
        suspects=found.suspects,
        n_not_judged=rows.filter(unjudged).height,
    )
