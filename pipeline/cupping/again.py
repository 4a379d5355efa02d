"""Cups that have their codes already, from the file of a key or from the stored servings."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import polars as pl

from analysis.words import listed
from pipeline.cupping.folder import known_samples
from pipeline.cupping.key import of_session, read_key
from pipeline.cupping.plan import Cup
from pipeline.cupping.samples import Sample, choose_samples
from pipeline.store.model import Manifest
from pipeline.store.read import current
from pipeline.store.store import Store
from schemas.lab import LabSettings
from schemas.problem import ProblemError


@dataclass(frozen=True)
class Again:
    """The sessions of a key with their cups, and how the coffee is served."""

    sessions: tuple[tuple[str, tuple[Cup, ...]], ...]
    served_as: str


def cups_again(
    lab_dir: Path,
    store: Store,
    manifest: Manifest,
    settings: LabSettings,
    *,
    key: Path | None,
    session_id: str | None,
) -> Again:
    """Read the key, from its file where one is named; ProblemError where it does not say what is in the cups."""
    if key is None and session_id is None:
        raise ProblemError(
            "Which cups? Name the key by --key FILE, or a session whose key was ingested by --session ID."
        )
    if key is not None:
        rows = read_key(key, lab_dir, settings)
        rows = rows if session_id is None else of_session(rows, session_id)
    else:
        rows = of_session(current(store, manifest, "servings").collect(), str(session_id))
    served = sorted(rows["served_as"].drop_nulls().unique())
    if len(served) > 1:
        raise ProblemError(f"The key serves {listed(served)}: write sheets of one way with --session ID.")
    brews, coffees = (rows[name].drop_nulls().unique().sort().to_list() for name in ("brew_id", "coffee_id"))
    only_coffee = rows.filter(pl.col("brew_id").is_null())["coffee_id"].unique().sort().to_list()
    chosen = choose_samples(known_samples(store, manifest), brews=brews, coffees=only_coffee if brews else coffees)
    brew_of = {one.id: one for one in chosen.samples if one.kind == "brew"}
    coffee_of = {one.id: one for one in chosen.samples if one.kind == "coffee"}
    sessions = []
    for name in rows["session_id"].unique(maintain_order=True):
        cups = []
        seen: dict[Sample, int] = {}
        for row in rows.filter(pl.col("session_id") == name).sort("blind_code").iter_rows(named=True):
            sample = brew_of[row["brew_id"]] if row["brew_id"] else coffee_of[row["coffee_id"]]
            seen[sample] = seen.get(sample, 0) + 1
            cups.append(Cup(row["blind_code"], sample, row["cup_no"] or seen[sample]))
        sessions.append((name, tuple(cups)))
    return Again(tuple(sessions), served[0] if served else "black")
