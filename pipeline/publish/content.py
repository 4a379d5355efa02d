"""What goes into a page, and what a section of it is made of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import polars as pl

from analysis.charts.brews import BrewMarks
from analysis.charts.effects_input import MethodEffects
from analysis.charts.panels import Panel
from analysis.next_brews.result import NextBrews
from schemas.lab import LabSettings

FEWEST_FOR_PANEL = 5
"""Brews with a yield that a method needs for a panel of its own, unless no method has as many."""


@dataclass(frozen=True)
class PageInput:
    """Everything a page is made from. `targets` is the targets table, if there is one.

    `with_measurement`, `with_effects`: the pages of how good the numbers are, of what moved them, lie beside this one.
    `next_brews`: what to brew next and why, or what stands in the way.
    """

    facts: pl.DataFrame
    flags: pl.DataFrame
    set_aside: pl.DataFrame
    effects: Sequence[MethodEffects]
    settings: LabSettings
    manifest_number: int
    targets: pl.DataFrame | None
    marks: BrewMarks
    next_brews: NextBrews
    with_measurement: bool = False
    with_effects: bool = False

    @property
    def void(self) -> pl.DataFrame:
        """Brews that are left out of every analysis."""
        return self.facts.filter(pl.col("is_void").fill_null(value=False))

    @property
    def panels(self) -> tuple[Panel, ...]:
        """Panels worth drawing: those of at least five brews with a yield, or all where none has as many."""
        return tuple(panel for panel in self.marks.panels if panel.key in self._often) or self.marks.panels

    @property
    def seldom(self) -> tuple[Panel, ...]:
        """Panels that a line of words serves better."""
        shown = self.panels
        return tuple(panel for panel in self.marks.panels if panel not in shown)

    @property
    def _often(self) -> set[str]:
        counts = self.with_yield["panel"].value_counts()
        return set(counts.filter(pl.col("count") >= FEWEST_FOR_PANEL)["panel"])

    @property
    def with_yield(self) -> pl.DataFrame:
        """Brews with an extraction yield, void ones left out."""
        return self.marks.all.filter(pl.col("y").is_not_null())


@dataclass(frozen=True)
class Drawing:
    """A chart and where its rows come from.

    `data` names the page's data it draws ("" when its values stand in the chart), `panel` the part of it, `needs`
    the columns that a row must have; `brush` tells whether the reader can mark brews on it. `row_field`: the column
    whose values are the rows of a chart that grows with them.
    """

    chart_id: str
    chart: Any
    data: str = ""
    panel: str = ""
    needs: tuple[str, ...] = ()
    brush: bool = False
    row_field: str = ""


@dataclass(frozen=True)
class Section:
    """A piece of the page: its HTML, its charts, and further data that they draw from."""

    html: str
    drawings: tuple[Drawing, ...] = ()
    data: dict[str, pl.DataFrame] = field(default_factory=dict)
