"""Boxes on strength against yield: the published one for hot drip coffee, and the lab's own targets."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from analysis.charts.panels import Panel


@dataclass(frozen=True, slots=True)
class TargetBox:
    """A box in yield (%) and strength (%), and where it comes from."""

    yield_low: float
    yield_high: float
    strength_low: float
    strength_high: float
    source: str
    is_own: bool


PUBLISHED_HOT_DRIP = TargetBox(
    yield_low=18.0,
    yield_high=22.0,
    strength_low=1.15,
    strength_high=1.35,
    source="published for hot drip coffee: SCAA Standard, Golden Cup, 2015, after E. E. Lockhart, 1957",
    is_own=False,
)


def boxes_for(panel: Panel, targets: pl.DataFrame | None) -> tuple[TargetBox, ...]:
    """Boxes of one panel: the published one where it applies, then the lab's own for this method as a whole.

    A target that names a coffee, a recipe, a site or an end date is narrower than a panel and stays off the chart.
    """
    own = () if targets is None else _own_boxes(panel, targets)
    return (*((PUBLISHED_HOT_DRIP,) if panel.is_hot_drip else ()), *own)


def _own_boxes(panel: Panel, targets: pl.DataFrame) -> tuple[TargetBox, ...]:
    narrower = pl.any_horizontal(pl.col("coffee_id", "recipe_id", "site", "valid_to").is_not_null())
    general = targets.filter(~narrower, pl.col("method") == panel.method).sort("target_id")
    ends = {
        quantity: general.filter(pl.col("quantity") == quantity).select("low", "high").rows()
        for quantity in ("extraction_yield_pct", "tds_pct")
    }
    if any(len(rows) != 1 for rows in ends.values()):
        return ()
    (y_low, y_high), (s_low, s_high) = ends["extraction_yield_pct"][0], ends["tds_pct"][0]
    return (TargetBox(y_low, y_high, s_low, s_high, f"the project's own target for {panel.title.lower()}", True),)
