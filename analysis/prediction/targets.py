"""The window that a lab or a study declared for a coffee's yield and strength."""

from __future__ import annotations

from datetime import date

import polars as pl

from analysis.facts.targets import RANK
from analysis.prediction.request import STRENGTH, YIELD, Window
from schemas.study import Study

QUANTITY = {YIELD: YIELD, STRENGTH: "tds_pct"}
"""What the targets table calls each response: its strength is the one in the cup."""
Ends = dict[str, tuple[float, float]]


def study_ends(study: Study) -> Ends:
    """The declared window of each response, by response; strength may be declared as cup_tds_pct or tds_pct."""
    found = {}
    for response, name in QUANTITY.items():
        target = study.target(response) or study.target(name)
        if target is not None:
            found[response] = (target.low, target.high)
    return found


def table_ends(targets: pl.DataFrame, *, method: str, coffee: str | None, on: date | None) -> Ends:
    """The most specific targets for brews of `method` (and `coffee`) on a day, by response.

    Those that name a recipe or a site speak for those alone and stay out; of equally specific ones the overlap holds.
    `targets`: coffee_id, method, recipe_id, site, valid_from, valid_to, quantity, low, high.
    """
    fits = pl.col("recipe_id").is_null() & pl.col("site").is_null()
    fits &= pl.col("method").is_null() | (pl.col("method") == method)
    fits &= pl.col("coffee_id").is_null() | pl.col("coffee_id").eq_missing(pl.lit(coffee, pl.String))
    if on is not None:
        fits &= pl.col("valid_from").is_null() | (pl.col("valid_from") <= on)
        fits &= pl.col("valid_to").is_null() | (pl.col("valid_to") >= on)
    rank = pl.sum_horizontal(
        pl.when(pl.col(name).is_not_null()).then(RANK[name]).otherwise(0) for name in ("coffee_id", "method")
    )
    fitting = targets.filter(fits).with_columns(rank=rank)
    best = fitting.filter(pl.col("rank") == pl.col("rank").max().over("quantity"))
    ends = best.group_by("quantity").agg(pl.col("low").max(), pl.col("high").min())
    found = {name: (low, high) for name, low, high in ends.iter_rows()}
    return {response: found[name] for response, name in QUANTITY.items() if name in found}


def window_of(ends: Ends, source: str = "") -> Window | None:
    """The window with these ends, open where there are none; None where there are none at all."""
    if not ends:
        return None
    whole = Window()
    return Window(*ends.get(YIELD, whole.ends(YIELD)), *ends.get(STRENGTH, whole.ends(STRENGTH)), source)
