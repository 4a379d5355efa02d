"""A plan of brews: its runs in the order of brewing, and what they look like to the analysis."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.mixed.arrays import Floats
from analysis.planning.factors import PlanFactor, coded_settings
from analysis.planning.model import PlanModel
from analysis.planning.request import PlanRequest
from analysis.planning.strata import Layout, codes_of


@dataclass(frozen=True, slots=True)
class PlannedRun:
    """One brew: `settings` in the order of the plan's factors; `session`, `whole_plot`, `place` count from 1."""

    coffee_id: str
    settings: tuple[float, ...]
    session: int
    whole_plot: int
    place: int


@dataclass(frozen=True)
class Plan:
    """The runs as they are brewed, the terms they are made for, and what to know about them.

    `hard` names what stays put within a whole plot; `notes` are sentences.
    """

    request: PlanRequest
    model: PlanModel
    runs: tuple[PlannedRun, ...]
    hard: tuple[str, ...]
    aliases: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def factors(self) -> tuple[PlanFactor, ...]:
        """The settings that are varied."""
        return self.request.factors

    def coded(self) -> Floats:
        """Coded settings (n, k) in the order of brewing."""
        return coded_settings(np.array([run.settings for run in self.runs]), self.factors)

    def layout(self) -> Layout:
        """What the plan looks like to the analysis."""
        return Layout(
            self.model.columns(self.coded()),
            codes_of([run.coffee_id for run in self.runs]),
            codes_of([run.session for run in self.runs]),
            codes_of([run.whole_plot for run in self.runs]) if self.hard_factors else None,
        )

    @property
    def hard_factors(self) -> tuple[str, ...]:
        """The varied settings that stay put within a whole plot."""
        return tuple(name for name in self.hard if name != "coffee_id")
