"""Was a study declared before its data? Told from the store's own order, without any clock."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import polars as pl

from analysis.study.changes import changes
from analysis.study.choose import CHOICE_COLUMNS, choose_brews
from pipeline.store.durable import sha256_of
from pipeline.store.model import Manifest
from pipeline.store.read import all_versions, current
from pipeline.store.store import Store
from pipeline.study.normal import study_sha256
from pipeline.study.read import STUDY_FILE, studies_of
from pipeline.study.record import recorded
from schemas.problem import ProblemError
from schemas.study import Study

State = Literal["not recorded", "no data yet", "before the data", "partly before the data", "after the data"]


@dataclass(frozen=True)
class Declaration:
    """How a study's declaration and its brews (exclusions left out) lie in the order of ingests.

    `first_seen_manifest` kept the study first, `current_seen` the version that stands in the file now; None: not yet.
    `n_brews_before` came in at an earlier ingest than `first_seen_manifest`, `n_brews_after` at it or later,
    `n_brews_with` of these at that very one. `planned` is the version recorded last before (or with) the first brew;
    None where a brew was there first. `changed_since` tells what the file says now against what was recorded first
    or, where there is one, against `planned`.
    """

    study_id: str
    state: State
    first_seen_manifest: int | None
    current_seen: int | None
    n_brews_before: int
    n_brews_with: int
    n_brews_after: int
    planned: Study | None
    changed_since: tuple[str, ...]


def declared(store: Store, manifest: Manifest, study: Study) -> Declaration:
    """When `study` was declared, by the state of a commit; ProblemError when a kept `study.toml` is damaged."""
    versions = recorded(store, manifest).filter(pl.col("study_id") == study.study_id)
    came = _arrivals(store, manifest, study)
    n = came.len()
    if versions.is_empty():
        return Declaration(study.study_id, "not recorded", None, None, n, 0, 0, None, ())
    first = int(versions["first_seen"][0])
    before, same = int((came < first).sum()), int((came == first).sum())
    early = versions.filter(pl.col("first_seen") <= came.min()) if n else versions
    plan = _version(store, (early if early.height else versions.head(1)).row(-1, named=True), study.study_id)
    same_content = versions.filter(pl.col("sha256") == study_sha256(study))
    state: State = "no data yet" if not n else "before the data" if not before else "partly before the data"
    return Declaration(
        study_id=study.study_id,
        state="after the data" if before and before == n else state,
        first_seen_manifest=first,
        current_seen=int(same_content["first_seen"][0]) if same_content.height else None,
        n_brews_before=before,
        n_brews_with=same,
        n_brews_after=n - before,
        planned=None if before else plan,
        changed_since=changes(plan, study),
    )


def _arrivals(store: Store, manifest: Manifest, study: Study) -> pl.Series:
    """For each brew of the study, exclusions left out, the ingest that brought its first version."""
    brews = current(store, manifest, "brews").select(CHOICE_COLUMNS).collect()
    excluded = [exclusion.brew_id for exclusion in study.exclusions]
    mine = choose_brews(brews, study).brews.filter(~pl.col("brew_id").is_in(excluded))
    first = all_versions(store, manifest, "brews").group_by("brew_id").agg(pl.col("commit_no").min()).collect()
    return mine.join(first, on="brew_id", how="left")["commit_no"]


def _version(store: Store, row: dict[str, str], study_id: str) -> Study:
    """A study as it stood in a `study.toml` kept earlier."""
    path = store.original_path(row["original"])
    try:
        right = sha256_of(path) == row["original"]
    except OSError:
        right = False
    if not right:
        raise ProblemError(
            f"{path}, a {STUDY_FILE} kept at ingest {row['first_seen']}, is missing or damaged. "
            "Run `brewtrials verify` and restore it from a backup."
        )
    return next(study for study in studies_of(path.read_bytes(), path) if study.study_id == study_id)
