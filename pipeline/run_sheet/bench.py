"""What a project folder knows that a plan needs: its brews, its grinders, the references it declares."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from pipeline.facts import brew_facts
from pipeline.store.model import Manifest
from pipeline.store.read import current
from pipeline.store.store import Store
from schemas.lab import GrindReference, LabSettings


@dataclass(frozen=True)
class Bench:
    """`facts` of the brews (FACT_COLUMNS), the rows of `grinders`, and the declared grind references."""

    facts: pl.DataFrame
    grinders: pl.DataFrame
    references: tuple[GrindReference, ...]


def bench_of(store: Store, manifest: Manifest, settings: LabSettings) -> Bench:
    """Read it from one state of the store."""
    facts = brew_facts(store, manifest, settings)
    return Bench(facts, current(store, manifest, "grinders").collect(), settings.grind_references)
