"""What a project folder holds that a blind session must know: its brews and coffees, its sessions, their codes."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.words import listed
from pipeline.cupping.samples import Known
from pipeline.store.model import Manifest
from pipeline.store.read import current
from pipeline.store.store import Store
from schemas.problem import ProblemError


def known_samples(store: Store, manifest: Manifest) -> Known:
    """The brews and coffees of one state of the store."""
    return Known(current(store, manifest, "brews").collect(), current(store, manifest, "coffees").collect())


def taken(store: Store, manifest: Manifest, new_sessions: Sequence[str]) -> frozenset[str]:
    """The blind codes of all earlier sessions; ProblemError where a new session has the name of an earlier one."""
    rows = [
        current(store, manifest, table).select("session_id", "blind_code").unique().collect()
        for table in ("servings", "tastings")
    ]
    known = {session for frame in rows for session in frame["session_id"].drop_nulls()}
    if again := sorted(known & set(new_sessions)):
        raise ProblemError(
            f"Session {listed(again)} is in the project folder already. Choose another --session, or write its sheets "
            "again with `brewtrials cupping score-sheets`."
        )
    return frozenset(code for frame in rows for code in frame["blind_code"].drop_nulls())
