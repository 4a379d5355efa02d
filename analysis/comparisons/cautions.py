"""What a reader must know beside a comparison: settings that moved with the sides, and sides that scatter unlike."""

from __future__ import annotations

import numpy as np
import polars as pl
from scipy import stats

from analysis.comparisons.request import CompareRequest
from analysis.comparisons.rows import ComparedRows
from analysis.effects.factors import FACTORS, GROUPS, many
from analysis.words import listed
from schemas.methods import BALANCE_OF_METHOD

SETTINGS = ("water_temp_c", "dose_g", "days_off_roast", "pressure_bar")
RATIO = {"percolation": "beverage_ratio", "immersion": "water_ratio"}
SURE = 0.01
ENOUGH = 4


def other_settings(rows: ComparedRows, request: CompareRequest) -> list[str]:
    """Settings whose means differ between sides (one-way F, p under 0.01) and that are not held.

    A recipe is the sum of its settings, so nothing is said of recipes.
    """
    if request.by == "recipe_id":
        return []
    ratio = RATIO.get(BALANCE_OF_METHOD.get(rows.method, ""), "beverage_ratio")
    names = [name for name in (ratio, *SETTINGS) if name not in (*request.adjust, request.response)]
    moved = [name for name in names if _moved(rows, name)]
    if not moved:
        return []
    nouns = listed([FACTORS[name].noun for name in moved])
    hold = " ".join(f"--hold {name}" for name in moved)
    return [
        f"These {many(request.word)} also differ in {nouns}, so part of a difference may be that; to hold it: {hold}."
    ]


def _moved(rows: ComparedRows, name: str) -> bool:
    known = rows.brews.select(pl.col(name).cast(pl.Float64), side=pl.Series(rows.codes)).drop_nulls()
    groups = [part[name].to_numpy() for part in known.partition_by("side")]
    groups = [group for group in groups if group.size > 1]
    if len(groups) < 2 or 2 * known.height < rows.brews.height:
        return False
    if all(np.ptp(group) == 0 for group in groups):
        return len({float(group[0]) for group in groups}) > 1
    return float(stats.f_oneway(*groups).pvalue) < SURE


def partly_known(rows: ComparedRows, request: CompareRequest) -> list[str]:
    """Sessions and operators that only some brews name, so that their levels are not in the model."""
    n, said = rows.brews.height, []
    for column in ("session_id", "operator"):
        known = n - rows.brews[column].null_count()
        if column != request.by and 0 < known < n:
            said.append(f"The {GROUPS[column]} is known for only {known} of {n} brews: its levels are not modelled.")
    return said


def unlike_scatter(rows: ComparedRows, request: CompareRequest) -> list[str]:
    """Brown and Forsythe's test (1974) on deviations from the median of each side at its coffee."""
    brews = rows.brews.with_columns(side=pl.Series(rows.codes))
    cells = ("side",) if request.by == "coffee_id" else ("side", "coffee_id")
    away = brews.with_columns(away=(pl.col(request.response) - pl.col(request.response).median().over(cells)).abs())
    enough = away.filter(pl.len().over("side") > ENOUGH)
    groups = [part["away"].to_numpy() for part in enough.partition_by("side", maintain_order=True)]
    if len(groups) < 2 or any(np.ptp(group) == 0 for group in groups):
        return []
    if float(stats.f_oneway(*groups).pvalue) >= SURE:
        return []
    names = enough["side"].unique(maintain_order=True).to_list()
    means = {rows.sides[k]: float(group.mean()) for k, group in zip(names, groups, strict=True)}
    widest, narrowest = max(means, key=lambda one: means[one]), min(means, key=lambda one: means[one])
    return [
        f"Brews on {request.word} {widest} scatter more than on {narrowest} (Brown-Forsythe, p under 0.01), so "
        f"intervals with {widest} are somewhat too narrow and those without it too wide."
    ]
