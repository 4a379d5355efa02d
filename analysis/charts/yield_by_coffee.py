"""Extraction yield of each coffee, one panel per method, all panels on one scale."""

from __future__ import annotations

from typing import Any

import polars as pl

from analysis.charts.coffees import CoffeeKey
from analysis.charts.described import group_words
from analysis.charts.domain import Domain, around, inside_fence
from analysis.charts.group_rows import group_rows
from analysis.charts.panels import Panel


def yield_domain(brews: pl.DataFrame) -> Domain:
    """One range of yield (%) for all panels, at least four points wide; values far from their panel's do not count."""
    return around(near_their_panel(brews)["y"].to_list(), least=4.0)


def near_their_panel(brews: pl.DataFrame) -> pl.DataFrame:
    """Brews whose yield lies near the others of their panel."""
    parts = brews.partition_by("panel", maintain_order=True)
    return pl.concat([brews.head(0), *(part.filter(inside_fence("y", part["y"])) for part in parts)])


def yield_by_coffee(panel: Panel, brews: pl.DataFrame, coffees: tuple[CoffeeKey, ...], yields: Domain) -> Any:
    """Chart of one panel: a row per coffee among its `brews`, most brewed first."""
    present = set(brews["coffee"])
    order = [coffee.label for coffee in coffees if coffee.label in present]
    about = f"{panel.title}: extraction yield of each coffee. {group_words('coffee', order, brews)}"
    return group_rows("coffee", order, yields, about)
