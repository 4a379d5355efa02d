"""Brews to the same recipe, and how far their yields scatter: brew-to-brew repeatability."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import polars as pl

from analysis.words import count, listed, method_word, number
from schemas.problem import ProblemError

DOSE_WITHIN_G = 0.3
RATIO_WITHIN = 0.05
ROUNDING = 1e-9
"""Ratios as brewed to one target: the highest at most this share above the lowest."""
NAMED = "the same recipe_id"
BY_SETTINGS = "the same coffee, method, grinder and dial setting, doses within 0.3 g and ratios within 5 %"
PLACE = ("coffee_id", "method", "grinder_id", "grind_setting")


@dataclass(frozen=True, slots=True)
class RecipeScatter:
    """Pooled standard deviation of the yields of brews to one recipe, in points, with its degrees of freedom."""

    sd_pct: float
    df: int
    n_recipes: int
    n_brews: int
    rule: str

    def sentence(self) -> str:
        """What it rests on."""
        return (
            f"Brews to one recipe scatter by {number(self.sd_pct, 2)} points ({count(self.n_brews, 'brew')} of "
            f"{count(self.n_recipes, 'recipe')}, {count(self.df, 'degree')} of freedom; same recipe: {self.rule})."
        )


def with_recipe(facts: pl.DataFrame) -> pl.DataFrame:
    """Facts with recipe_no, equal for brews to the same recipe, and recipe_rule, how that was told; null if it cannot.

    The same `recipe_id` of one coffee and method, else `BY_SETTINGS`. No column holds a target ratio, so ratios as
    brewed stand in: of water where it was weighed, else of beverage.
    """
    ratio = pl.coalesce("water_ratio", "beverage_ratio")
    named = pl.col("recipe_id").is_not_null()
    told = pl.all_horizontal(pl.col(name).is_not_null() for name in PLACE) & ratio.is_not_null()
    marked = facts.with_row_index("row").with_columns(
        ratio=ratio,
        by_water=pl.col("water_ratio").is_not_null(),
        recipe_rule=pl.when(named).then(pl.lit(NAMED)).when(told).then(pl.lit(BY_SETTINGS)),
    )
    ids = marked.filter(named).select("row", recipe_no=pl.struct("coffee_id", "method", "recipe_id").rank("dense"))
    runs = marked.filter(~named & told).select("row", *PLACE, "by_water", "dose_g", "ratio")
    runs = _with_runs(runs, (*PLACE, "by_water"), "dose_g", "dose_run", longest=lambda start: DOSE_WITHIN_G)
    runs = _with_runs(
        runs, (*PLACE, "by_water", "dose_run"), "ratio", "recipe_no", longest=lambda start: RATIO_WITHIN * start
    )
    after_ids = ids["recipe_no"].n_unique()
    numbers = pl.concat(
        [
            ids.select("row", pl.col("recipe_no").cast(pl.Int64)),
            runs.select("row", pl.col("recipe_no") + after_ids),
        ]
    )
    return marked.join(numbers, on="row", how="left", maintain_order="left").drop("row", "ratio", "by_water")


def _with_runs(
    rows: pl.DataFrame, keys: tuple[str, ...], column: str, name: str, *, longest: Callable[[float], float]
) -> pl.DataFrame:
    """Rows with `name` = 1, 2, ...: runs of `column` within `keys` that reach no further than `longest(first)`."""
    ordered = rows.sort(*keys, column, "row")
    last: tuple[object, ...] | None = None
    end, run, numbers = -math.inf, 0, list[int]()
    for *key, value in ordered.select(*keys, column).iter_rows():
        if tuple(key) != last or value > end:
            run += 1
            last, end = tuple(key), value + longest(value) + ROUNDING
        numbers.append(run)
    return ordered.with_columns(pl.Series(name, numbers, pl.Int64))


def recipe_scatter(facts: pl.DataFrame, *, method: str, result: str = "extraction_yield_pct") -> RecipeScatter:
    """Pool a method's results within recipes; void brews and brews without the result stay out."""
    used = facts.filter((pl.col("method") == method) & ~pl.col("is_void") & pl.col(result).is_not_null())
    groups = (
        with_recipe(used)
        .filter(pl.col("recipe_no").is_not_null())
        .group_by("recipe_no", maintain_order=True)
        .agg(pl.first("recipe_rule"), n=pl.len(), variance=pl.col(result).var(ddof=1))
        .filter(pl.col("n") > 1)
    )
    df = int((groups["n"] - 1).sum())
    if df == 0:
        raise ProblemError(
            f"No recipe of {method_word(method)} was brewed twice ({count(used.height, 'brew')} with a yield), so "
            "nothing is known of how brews to one recipe scatter. Brew one recipe several times."
        )
    squares = math.fsum(variance * (n - 1) for n, variance in groups.select("n", "variance").iter_rows())
    rules = listed(sorted(groups["recipe_rule"].unique(), reverse=True), last="or else")
    return RecipeScatter(math.sqrt(squares / df), df, groups.height, int(groups["n"].sum()), rules)
