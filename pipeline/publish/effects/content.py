"""All that the page on what moved extraction says, worked out from one commit."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import polars as pl

from analysis.channeling.seen import NotShown
from analysis.charts.brews import BrewMarks, brew_marks
from analysis.charts.coffees import CoffeeKey
from analysis.effects.by_method import effects_by_method
from analysis.next_brews.answer import next_brews
from analysis.next_brews.result import NextBrews
from analysis.outcomes.of_effects import Measuring
from pipeline.measurement.gather import Gathered
from pipeline.publish.effects.moves import MethodMoves, method_moves
from pipeline.publish.effects.next import method_states
from pipeline.publish.effects.studies import StudyAnswer, study_answers
from pipeline.store.model import Manifest
from pipeline.store.store import Store
from schemas.lab import LabSettings
from schemas.reports import FACT_COLUMNS


@dataclass(frozen=True)
class EffectsPage:
    """Everything the page is made from: one `MethodMoves` per method, the most brewed first."""

    settings: LabSettings
    manifest_number: int
    facts: pl.DataFrame
    flags: pl.DataFrame
    marks: BrewMarks
    moves: tuple[MethodMoves, ...]
    studies: tuple[StudyAnswer, ...] | NotShown
    next_brews: NextBrews

    @property
    def coffees(self) -> dict[str, CoffeeKey]:
        """Name and colour of each coffee."""
        return {coffee.coffee_id: coffee for coffee in self.marks.coffees}

    def studies_of(self, method: str) -> tuple[StudyAnswer, ...]:
        """The studies of one method; one that names none stands with the method brewed most."""
        if isinstance(self.studies, NotShown) or not self.moves:
            return ()
        first = self.moves[0].method
        return tuple(one for one in self.studies if (one.study.method or first) == method)


def effects_page(
    found: Gathered, flags: pl.DataFrame, *, lab_dir: Path, store: Store, manifest: Manifest
) -> EffectsPage:
    """Work out everything once."""
    facts = found.brews.select(FACT_COLUMNS)
    marks = brew_marks(facts)
    order = [panel.method for panel in marks.panels]
    effects = sorted(
        effects_by_method(facts, measuring=Measuring(found.instruments, found.settings)),
        key=lambda one: order.index(one.method) if one.method in order else len(order),
    )
    moves = tuple(method_moves(found, facts, one) for one in effects)
    studies = study_answers(lab_dir, store, manifest, found)
    declared = [] if isinstance(studies, NotShown) else [one.study for one in studies]
    return EffectsPage(
        settings=found.settings,
        manifest_number=manifest.number,
        facts=facts,
        flags=flags,
        marks=marks,
        moves=moves,
        studies=studies,
        next_brews=next_brews(method_states(facts, flags, moves, declared)),
    )
