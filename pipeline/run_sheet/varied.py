"""Which settings of a log were varied on purpose: what they did is no noise."""

from __future__ import annotations

import polars as pl

from analysis.measurement.same_recipe import DOSE_WITHIN_G, RATIO_WITHIN
from pipeline.run_sheet.asked import STEPS
from schemas.methods import PRESSURISED_METHODS


def varied_settings(facts: pl.DataFrame, method: str, first: tuple[str, ...]) -> list[str]:
    """Settings that differ between brews of the method and are known of nearly all of them, `first` ones first."""
    brews = facts.filter((pl.col("method") == method) & ~pl.col("is_void"))
    ratio = "beverage_ratio" if method in PRESSURISED_METHODS else "water_ratio"
    # Dial steps of two grinders are different units, and on one grinder micrometres are the same grind over again.
    grind = STEPS if brews["grinder_id"].n_unique() < 2 or STEPS in first else "grind_um_finer"
    others = (grind, "water_temp_c", ratio, "dose_g", "preinfusion_s", "pressure_bar")
    known = [name for name in others if brews[name].is_not_null().sum() >= 0.9 * brews.height]
    return list(dict.fromkeys([*first, *(name for name in known if _moved(brews[name]))]))


def _moved(values: pl.Series) -> bool:
    """Whether a setting was varied on purpose: weights and ratios by more than brews to one recipe may differ."""
    seen = values.drop_nulls().to_list()
    room = {"dose_g": 2 * DOSE_WITHIN_G}.get(values.name, 0.0)
    if values.name in ("beverage_ratio", "water_ratio"):
        room = 2 * RATIO_WITHIN * min(seen, default=0.0)
    return max(seen, default=0.0) - min(seen, default=0.0) > room
