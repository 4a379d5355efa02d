"""Extraction yield of clean and channeled brews, one panel per method."""

from __future__ import annotations

from typing import Any

import polars as pl

from analysis.charts.domain import Domain
from analysis.charts.group_rows import group_rows
from analysis.charts.palette import CHANNELING_STATES
from analysis.charts.panels import Panel


def channeling_rows(panel: Panel, brews: pl.DataFrame, yields: Domain) -> Any:
    """Chart of one panel: a row each for clean, channeled and not looked at, where `brews` has such brews."""
    present = set(brews["state"])
    about = f"{panel.title}: extraction yield in percent of clean and channeled brews, one mark per brew."
    return group_rows("state", [state for state in CHANNELING_STATES if state in present], yields, about)
