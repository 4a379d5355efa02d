"""What a chart shows, for those who do not see it: counts, ranges and means in words."""

from __future__ import annotations

from collections.abc import Sequence

import polars as pl

from analysis import words

MOST_GROUPS = 8


def range_words(name: str, values: pl.Series, digits: int, unit: str) -> str:
    """The middle and both ends of some values, none of them null.

    >>> range_words("yield", pl.Series([18.0, 19.0, 22.0]), 1, "%")
    'yield 18.0 to 22.0 %, median 19.0 %'
    >>> range_words("yield", pl.Series([18.0]), 1, "%")
    'yield 18.0 %'
    """
    low, middle, high = (float(values.quantile(q, interpolation="linear") or 0.0) for q in (0.0, 0.5, 1.0))
    if values.len() < 2:
        return f"{name} {words.number(low, digits)} {unit}"
    return f"{name} {words.span(low, high, digits)} {unit}, median {words.number(middle, digits)} {unit}"


def group_words(field: str, order: Sequence[str], brews: pl.DataFrame) -> str:
    """Mean yield (column `y`, %) and number of brews of each group, in this order; the rest is counted.

    >>> group_words("coffee", ["a", "b"], pl.DataFrame({"coffee": ["a", "a", "b"], "y": [18.0, 20.0, 21.0]}))
    'a: mean 19.0 %, 2 brews; b: mean 21.0 %, 1 brew.'
    """
    means = brews.group_by(field).agg(pl.col("y").mean().alias("mean"), pl.col("y").count().alias("n"))
    found = {row[field]: row for row in means.iter_rows(named=True)}
    parts = [
        f"{name}: mean {words.number(found[name]['mean'], 1)} %, {words.count(found[name]['n'], 'brew')}"
        for name in order[:MOST_GROUPS]
    ]
    more = len(order) - MOST_GROUPS
    return "; ".join([*parts, *([f"and {more} more"] if more > 0 else [])]) + "."
