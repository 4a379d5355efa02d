"""Which coffee gets which name and colour on a page."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from analysis.charts import palette


@dataclass(frozen=True, slots=True)
class CoffeeKey:
    """One coffee of the page: `hue` is its colour number, the last number is the grey of the rest."""

    coffee_id: str
    label: str
    hue: int
    n_brews: int

    @property
    def is_grey(self) -> bool:
        """Whether this coffee shares the grey of the less brewed ones."""
        return self.hue == len(palette.HUES)


def coffee_keys(facts: pl.DataFrame) -> tuple[CoffeeKey, ...]:
    """Coffees by number of brews, most first; two coffees of one name carry their id too."""
    ranked = (
        facts.group_by("coffee_id")
        .agg(pl.len().alias("n"), pl.col("coffee_name").drop_nulls().first().alias("name"))
        .with_columns(pl.coalesce("name", "coffee_id").alias("name"))
        .with_columns(pl.len().over("name").alias("same"))
        .sort(["n", "coffee_id"], descending=[True, False])
    )
    return tuple(
        CoffeeKey(
            coffee_id=row["coffee_id"],
            label=row["name"] if row["same"] == 1 else f"{row['name']} ({row['coffee_id']})",
            hue=palette.hue_number(rank),
            n_brews=row["n"],
        )
        for rank, row in enumerate(ranked.iter_rows(named=True))
    )
