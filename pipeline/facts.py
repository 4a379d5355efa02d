"""`brew_facts` and `flags` of one commit: joins in DuckDB, arithmetic in `analysis.facts`."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from analysis.facts.derive import derive_facts
from analysis.facts.flags.find import find_flags
from analysis.measurement.calibration import read_checks
from analysis.measurement.doubt import all_doubts
from analysis.resemblance import near_miss_flags
from pipeline.database import connect, run_sql
from pipeline.store.model import Manifest
from pipeline.store.read import current
from pipeline.store.store import Store
from schemas.lab import LabSettings
from schemas.stubs import LACKS

TABLES = ("brews", "coffees", "lots", "grinders", "instruments", "readings", "targets")


@dataclass(frozen=True)
class FactInputs:
    """Joined rows as `analysis.facts.derive` wants them: `brews`, `readings` and `targets` of one commit."""

    brews: pl.DataFrame
    readings: pl.DataFrame
    targets: pl.DataFrame


def read_inputs(store: Store, manifest: Manifest) -> FactInputs:
    """Run the joins over the current rows of a commit."""
    con = connect(store, manifest, tables=TABLES)
    try:
        return FactInputs(run_sql(con, "fact_brews"), run_sql(con, "fact_readings"), run_sql(con, "fact_targets"))
    finally:
        con.close()


def brew_facts(
    store: Store, manifest: Manifest, settings: LabSettings, *, inputs: FactInputs | None = None
) -> pl.DataFrame:
    """`brew_facts` of a commit: one row per brew, columns `FACT_COLUMNS`; `inputs` saves reading them again."""
    inputs = inputs or read_inputs(store, manifest)
    return derive_facts(inputs.brews, inputs.readings, inputs.targets, settings=settings)


def brew_flags(
    store: Store,
    manifest: Manifest,
    settings: LabSettings,
    facts: pl.DataFrame | None = None,
    *,
    inputs: FactInputs | None = None,
) -> pl.DataFrame:
    """`flags` of a commit: one row per kept row and reason to look at it, columns `FLAG_COLUMNS`."""
    inputs = inputs or read_inputs(store, manifest)
    if facts is None:
        facts = brew_facts(store, manifest, settings, inputs=inputs)
    parents = {table: current(store, manifest, table).collect() for table in LACKS}
    named = {"brews": inputs.brews, "readings": inputs.readings}
    near = near_miss_flags(named, parents, settings=settings)
    checks = read_checks(current(store, manifest, "calibrations").collect(), parents["instruments"])
    doubts = all_doubts(checks, settings)
    found = find_flags(facts, inputs.brews, inputs.readings, settings=settings, doubts=doubts)
    return pl.concat([found, near]).sort("source_file", "sheet", "line", "column", "rule", nulls_last=True)
