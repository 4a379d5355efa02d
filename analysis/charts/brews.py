"""The brews as marks: one shared table that all charts of a page draw from."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from analysis.charts.brewing_days import with_bars
from analysis.charts.coffees import CoffeeKey, coffee_keys
from analysis.charts.panels import Panel, panels, with_panel

Z95 = 1.959964
"""Half width of a 95 % interval in standard uncertainties (normal distribution)."""
MOST_MARKS = 1_500
SAMPLE_ABOVE = 2_000
GOLDEN = 0.618034


@dataclass(frozen=True)
class BrewMarks:
    """All that charts need of the brews that are not void.

    `all`: every such brew, `drawn`: those with a mark (a sample when there are over 2,000); both have `i` (number
    of the brew), `c` (hue), `coffee` (label), `panel`, `y`, `y_low`, `y_high` (yield, %), `s`, `s_low`, `s_high`
    (strength in the cup, %), `state` (clean, channeled, not looked at), `w` (brews that this mark stands for), `at`,
    `at_end` (its bar in time).
    """

    all: pl.DataFrame
    drawn: pl.DataFrame
    coffees: tuple[CoffeeKey, ...]
    panels: tuple[Panel, ...]

    @property
    def is_sample(self) -> bool:
        """Whether some brews have no mark of their own."""
        return self.drawn.height < self.all.height


def brew_marks(facts: pl.DataFrame, *, sample_above: int = SAMPLE_ABOVE, most_marks: int = MOST_MARKS) -> BrewMarks:
    """Marks of the brews that are not void; above `sample_above` brews about `most_marks` of them stand for all."""
    kept = with_panel(facts.filter(~pl.col("is_void").fill_null(value=False)))
    coffees = coffee_keys(kept)
    every = _measured(kept).with_columns(_named(coffees)).with_row_index("i").with_columns(pl.col("i").cast(pl.Int64))
    every = with_bars(every.with_columns(_jitter(), pl.lit(1.0).alias("w")))
    drawn = _sampled(every, most_marks) if every.height > sample_above else every
    return BrewMarks(every, drawn, coffees, panels(kept))


def _named(coffees: tuple[CoffeeKey, ...]) -> list[pl.Expr]:
    """Label and hue of each brew's coffee."""
    ids = pl.col("coffee_id")
    labels, hues = {c.coffee_id: c.label for c in coffees}, {c.coffee_id: c.hue for c in coffees}
    return [
        ids.replace_strict(labels, return_dtype=pl.String).alias("coffee"),
        ids.replace_strict(hues, return_dtype=pl.Int64).alias("c"),
    ]


def _measured(frame: pl.DataFrame) -> pl.DataFrame:
    """Yield, strength in the cup, their 95 % ends (first order: bypass scales strength and its uncertainty alike)."""
    y, u_y = pl.col("extraction_yield_pct"), Z95 * pl.col("extraction_yield_u_pct")
    s = pl.coalesce("cup_tds_pct", "tds_pct")
    u_s = Z95 * pl.col("tds_u_pct") * s / pl.col("tds_pct")
    state = pl.when(pl.col("channeled")).then(pl.lit("channeled")).when(~pl.col("channeled")).then(pl.lit("clean"))
    ends = {"y": y, "y_low": y - u_y, "y_high": y + u_y, "s": s, "s_low": s - u_s, "s_high": s + u_s}
    return frame.with_columns(
        *(value.round(3).alias(name) for name, value in ends.items()),
        state.otherwise(pl.lit("not looked at")).alias("state"),
    )


def _jitter() -> pl.Expr:
    """A place across the row, 0 to 1, spread evenly and the same at every run."""
    turn = pl.int_range(pl.len()).over("panel", "coffee_id")
    return ((turn * GOLDEN) % 1).round(3).alias("j")


def _sampled(every: pl.DataFrame, most: int) -> pl.DataFrame:
    """Every k-th brew in order of time within panel and coffee; `w` says how many brews a mark stands for."""
    step = -(-every.height // most)
    group = ("panel", "coffee_id")
    chosen = every.filter(pl.int_range(pl.len()).over(group) % step == 0)
    sizes = every.group_by(group).agg(pl.len().alias("n_group"))
    stands_for = (pl.col("n_group") / pl.len().over(group)).alias("w")
    return chosen.join(sizes, on=group, how="left", maintain_order="left").with_columns(stands_for).drop("n_group")
