"""Do the weights of a brew add up? Where the spent grounds were weighed: what went in less what came out, in grams.

Dissolved matter cancels: it leaves the dose and stands in beverage or grounds. What remains is vapour, drops left in
the brewer, and weighing errors.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import polars as pl
from scipy.special import stdtrit

from analysis.facts.masses import EVAPORATION_MISSING, with_bypass
from analysis.number import Number
from analysis.uncertainty import weighing_variance
from schemas.lab import LabSettings

VERDICT_U = 2.0
"""A balance closes within this many standard uncertainties."""
LEVEL = 0.95
WEIGHED = ("dose_g", "water_g", "beverage_g", "spent_wet_g")
"""Masses without which there is no residual, in the order they are weighed."""
DEFAULT_OF = {
    "dose_g": "dose_g",
    "water_g": "water_g",
    "beverage_g": "beverage_g",
    "spent_wet_g": "water_g",
    "evaporated_g": "water_g",
    "bypass_g": "water_g",
}
"""The lab's default uncertainty that each mass takes where no weighing scale is named."""
WRITTEN_IN = (1.0, 0.1)
WRITTEN = ("water_g", "beverage_g")
WRITTEN_SHARE = 0.9
"""Weights of a method are written in a step if nine of ten are whole multiples of it; chosen by us, no source."""


@dataclass(frozen=True, slots=True)
class MethodClosure:
    """What the brews of one method leave unaccounted for, suspects left out: mean with its 95 % interval.

    In g, and in % of the brew water. `low` and `high` are null with fewer than two brews. `calibration_u_g` is the
    standard uncertainty that what is left of the weighing scales' calibration gives every residual alike, null where
    none is stated. `n_closed` of `n_judged` brews close within their own uncertainty.
    """

    method: str
    n_brews: int
    n_left_out: int
    n_judged: int
    n_closed: int
    mean_g: float
    low_g: float | None
    high_g: float | None
    mean_pct: float
    low_pct: float | None
    high_pct: float | None
    calibration_u_g: float | None


def mass_residual_g(
    *, dose_g: Number, water_g: Number, evaporated_g: Number, beverage_g: Number, spent_wet_g: Number
) -> Number:
    """What went in less what came out; `beverage_g` is before bypass.

    >>> mass_residual_g(dose_g=15.0, water_g=250.0, evaporated_g=0.0, beverage_g=220.0, spent_wet_g=43.0)
    2.0
    """
    return dose_g + water_g - evaporated_g - beverage_g - spent_wet_g


def with_scales(facts: pl.DataFrame, instruments: pl.DataFrame) -> pl.DataFrame:
    """`brew_facts` with scale_standard_uncertainty and scale_resolution of each brew's weighing scale."""
    scales = instruments.select(
        scale_id="instrument_id",
        scale_standard_uncertainty="standard_uncertainty",
        scale_resolution="resolution",
    )
    return facts.join(scales, on="scale_id", how="left", maintain_order="left")


def closure_rows(brews: pl.DataFrame, settings: LabSettings) -> pl.DataFrame:
    """Brews that are not void with residual_g, residual_u_g, residual_pct (of the water), closes and closure_note.

    `brews` come from `with_scales`. The residual is null where a mass is missing, with `closure_note` saying which if
    the spent grounds were weighed. residual_u_g is null where nothing is known of the weighings; calibration_u_g is the
    part of it that all brews on the scale share. `closes` is null without a residual or an uncertainty. step_g is the
    larger of the scale's display step and the step that the method's weights are written in.
    """
    rows = with_bypass(brews.filter(~pl.col("is_void"))).with_columns(step_g=_step())
    known = ~EVAPORATION_MISSING & pl.all_horizontal(pl.col(WEIGHED).is_not_null()) & (pl.col("water_g") > 0)
    residual = mass_residual_g(
        dose_g=pl.col("dose_g"),
        water_g=pl.col("water_g"),
        evaporated_g=pl.col("evaporated_0_g"),
        beverage_g=pl.col("before_bypass_g"),
        spent_wet_g=pl.col("spent_wet_g"),
    )
    rows = rows.with_columns(residual_g=pl.when(known).then(residual))
    has, u = pl.col("residual_g").is_not_null(), _u(settings, resolution=True)
    rows = rows.with_columns(
        residual_u_g=pl.when(has & (u > 0)).then(u),
        calibration_u_g=pl.when(has & (u > 0)).then(_u(settings, resolution=False)),
        residual_pct=100 * pl.col("residual_g") / pl.col("water_g"),
    )
    return rows.with_columns(
        closes=pl.col("residual_g").abs() <= VERDICT_U * pl.col("residual_u_g"), closure_note=_note(settings)
    )


def _step() -> pl.Expr:
    """A log in whole grams knows a weight no better than that, however fine the display was."""
    written = pl.lit(0.0)
    for step in reversed(WRITTEN_IN):
        whole = [((pl.col(name) / step).round() * step - pl.col(name)).abs() < step / 1000 for name in WRITTEN]
        known = pl.sum_horizontal(pl.col(name).count() for name in WRITTEN)
        share = pl.sum_horizontal(one.sum() for one in whole) / known
        written = pl.when(((known > 0) & (share >= WRITTEN_SHARE)).over("method")).then(step).otherwise(written)
    return pl.max_horizontal(pl.col("scale_resolution").fill_null(0.0), written)


def _u(settings: LabSettings, *, resolution: bool) -> pl.Expr:
    """Standard uncertainty of a residual: every mass that was weighed counts once, independent of the others."""
    optional = {"evaporated_g": pl.col("evaporated_g").is_not_null(), "bypass_g": pl.col("included") == 1}
    parts = []
    for name, default in DEFAULT_OF.items():
        step = pl.col("scale_resolution").fill_null(0.0) if name == "dose_g" else pl.col("step_g")
        named = weighing_variance(
            standard_uncertainty=pl.col("scale_standard_uncertainty"), resolution=step if resolution else pl.lit(0.0)
        )
        variance = (
            pl.when(pl.col("scale_id").is_null()).then(settings.default_u.get(default, 0.0) ** 2).otherwise(named)
        )
        parts.append(pl.when(optional.get(name, pl.lit(True))).then(variance).otherwise(0.0))
    return pl.sum_horizontal(parts, ignore_nulls=False).sqrt()


def _note(settings: LabSettings) -> pl.Expr:
    """Why a brew with weighed spent grounds has no residual or no verdict, in words; else what counts as exact."""
    weighed = pl.col("spent_wet_g").is_not_null()
    has = pl.col("residual_g").is_not_null()
    missing = pl.concat_str(
        *(pl.when(pl.col(name).is_null()).then(pl.lit(f"{name} is empty")) for name in WEIGHED),
        separator="; ",
        ignore_nulls=True,
    )
    exact = [name for name, default in DEFAULT_OF.items() if name in WEIGHED and default not in settings.default_u]
    nameless = pl.col("scale_id").is_null()
    return (
        pl.when(weighed & (missing != ""))
        .then(missing)
        .when(weighed & EVAPORATION_MISSING)
        .then(pl.lit("a boiled brew without evaporated_g"))
        .when(weighed & ~has)
        .then(pl.lit("bypass_included is empty, or the bypass is more than the beverage"))
        .when(has & nameless & pl.lit(len(exact) == len(WEIGHED)))
        .then(pl.lit("no scale_id and no lab default: no uncertainty, so no verdict"))
        .when(has & nameless & pl.lit(bool(exact)))
        .then(pl.lit(f"no scale_id and no lab default for {', '.join(exact)}: counted as exact"))
        .when(has & ~nameless & pl.col("scale_standard_uncertainty").is_null())
        .then(pl.format("{} has no standard_uncertainty: no verdict", "scale_id"))
    )


def method_closures(rows: pl.DataFrame, suspects: set[str]) -> tuple[MethodClosure, ...]:
    """The pooled residual of every method, in the order of their names; `suspects` are brews to leave out of means."""
    found = []
    closed = rows.filter(pl.col("residual_g").is_not_null())
    for (method,), brews in sorted(closed.group_by("method"), key=lambda group: str(group[0][0])):
        kept = brews.filter(~pl.col("brew_id").is_in(list(suspects)))
        if kept.is_empty():
            continue
        grams, percent = _interval(kept["residual_g"]), _interval(kept["residual_pct"])
        shared = kept["calibration_u_g"].drop_nulls()
        found.append(
            MethodClosure(
                method=str(method),
                n_brews=kept.height,
                n_left_out=brews.height - kept.height,
                n_judged=kept["closes"].count(),
                n_closed=int(kept["closes"].sum()),
                mean_g=grams[0],
                low_g=grams[1],
                high_g=grams[2],
                mean_pct=percent[0],
                low_pct=percent[1],
                high_pct=percent[2],
                calibration_u_g=_root_mean_square(shared) if shared.len() else None,
            )
        )
    return tuple(found)


def _interval(values: pl.Series) -> tuple[float, float | None, float | None]:
    """Mean with its interval by Student's t over brews; no interval for a single brew."""
    n, mean = values.len(), math.fsum(values) / values.len()
    if n < 2:
        return mean, None, None
    spread = math.sqrt(math.fsum((value - mean) ** 2 for value in values) / (n - 1))
    half = float(stdtrit(n - 1, (1 + LEVEL) / 2)) * spread / math.sqrt(n)
    return mean, mean - half, mean + half


def _root_mean_square(values: pl.Series) -> float:
    return math.sqrt(math.fsum(value**2 for value in values) / values.len())
