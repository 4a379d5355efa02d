"""Extraction yield of clean and channeled brews, one panel per method."""

from __future__ import annotations

from typing import Any

import polars as pl

from analysis.charts.described import group_words
from analysis.charts.domain import Domain
from analysis.charts.group_rows import group_rows
from analysis.charts.palette import CHANNELING_STATES
from analysis.charts.panels import Panel


def channeling_rows(panel: Panel, brews: pl.DataFrame, yields: Domain) -> Any:
    """Chart of one panel: a row each for clean, channeled and not looked at, where `brews` has such brews."""
    present = set(brews["state"])
    order = [state for state in CHANNELING_STATES if state in present]
    about = f"{panel.title}: extraction yield of clean and channeled brews. {group_words('state', order, brews)}"
    return group_rows("state", order, yields, about)
