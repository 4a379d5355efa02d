"""Settings that moved along with one that was asked about, and are not held."""

from __future__ import annotations

import numpy as np
import polars as pl
from numpy.typing import NDArray

from analysis.effects.factors import FACTORS, plural
from analysis.effects.fit import Ints
from analysis.effects.model import Groups
from analysis.effects.request import EffectsRequest

USUAL = ("grind_steps_finer", "water_temp_c", "beverage_ratio", "water_ratio", "dose_g")
ALIKE = (
    {"grind_steps_finer", "grind_um_finer"},
    {"beverage_ratio", "water_ratio", "total_water_ratio"},
)
"""Settings of which one stands for the others."""
MOVED_ALONG = 0.5
"""Correlation within groups from which a setting that is not held can make much of another's effect."""
MOSTLY_KNOWN = 0.8
STOOD_STILL = 1e-9


def not_held(brews: pl.DataFrame, request: EffectsRequest, groups: Groups) -> list[str]:
    """Usual settings that were varied and known but not asked for, and moved along with one that was, within groups."""
    held = {name.removeprefix("planned_") for name in request.factors}
    codes = groups.codes
    notes = []
    for other in USUAL:
        if other == request.response or any(other in alike and held & alike for alike in ALIKE) or other in held:
            continue
        known = brews[other].is_not_null().to_numpy()
        if known.sum() < MOSTLY_KNOWN * brews.height:
            continue
        for name in request.factors:
            r = _within_correlation(brews, name, other, codes, known)
            if FACTORS[name].role == "setting" and abs(r) >= MOVED_ALONG:
                more = ",".join((*request.factors, other))
                notes.append(
                    f"{other} moved along with {name} (r = {r:.2f}, {plural('brew', int(known.sum()))}) and is not "
                    f"held, so part of this effect may be its own. Add it: --factors {more}."
                )
                break
    return notes


def _within_correlation(brews: pl.DataFrame, first: str, second: str, codes: Ints, rows: NDArray[np.bool_]) -> float:
    """Correlation of two columns of the known rows about the means of their groups; 0 where one stood still."""
    parts = []
    for name in (first, second):
        values = brews[name].cast(pl.Float64).to_numpy()[rows]
        own = codes[rows]
        means = np.bincount(own, weights=values, minlength=codes.max() + 1) / np.maximum(
            np.bincount(own, minlength=codes.max() + 1), 1
        )
        parts.append(values - means[own])
    lengths = [float(np.sqrt(part @ part)) for part in parts]
    return float(parts[0] @ parts[1]) / (lengths[0] * lengths[1]) if min(lengths) > STOOD_STILL else 0.0
