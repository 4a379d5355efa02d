"""Is a project folder fit to be relied on? Each limit of `lab.toml` checked once, with its numbers."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, Literal

import polars as pl

from analysis.words import count
from pipeline.facts import brew_facts
from pipeline.lab import load_settings
from pipeline.store.read import read_set_aside
from pipeline.store.store import Store
from pipeline.store.verify import Verification, verify
from schemas.lab import GateLimits
from schemas.problem import ProblemError

Result = Literal["pass", "fail", "not asked"]
MOST_DIGITS = 6
A_ROW = ("source_file", "sheet", "line", "table", "row_json")


@dataclass(frozen=True, slots=True)
class Check:
    """One check: what was measured, what was asked for, both in `unit`, and the sentence that says so."""

    name: str
    result: Result
    measured: float | None
    limit: float | None
    unit: str
    sentence: str


@dataclass(frozen=True, slots=True)
class GateReport:
    """All checks of one state of a project folder."""

    manifest_number: int
    checks: tuple[Check, ...]

    @property
    def met(self) -> bool:
        """Whether no check failed."""
        return all(check.result != "fail" for check in self.checks)

    def to_json(self) -> dict[str, Any]:
        """The report as plain JSON values."""
        checks = [asdict(check) for check in self.checks]
        return {"met": self.met, "manifest_number": self.manifest_number, "checks": checks}


def check_lab(folder: Path, *, now: datetime) -> GateReport:
    """Check the newest state of a project folder; `now` (aware) decides how old the newest brew is.

    A damaged store fails `hashes_intact`; what can then not be counted fails too, and says so.
    """
    settings = load_settings(folder)
    store = Store(folder)
    intact = hashes_intact(verify(store))
    try:
        manifest = store.head()
        facts = brew_facts(store, manifest, settings)
        facts = facts.with_columns(pl.col("brewed_at").dt.convert_time_zone(settings.timezone))
        set_aside = read_set_aside(store, manifest)
    except ProblemError:
        if intact.result == "pass":
            raise
        return GateReport(0, (intact, *_not_countable(settings.gate)))
    checks = (
        intact,
        enough_brews(facts, settings.gate),
        little_set_aside(set_aside, settings.gate),
        fresh_enough(facts, settings.gate, now),
        targets_met(facts, settings.gate),
    )
    return GateReport(manifest.number, checks)


def hashes_intact(found: Verification) -> Check:
    """Every stored file is still what was written."""
    wrong, files = len(found.findings), found.manifests + found.data_files + found.originals
    first = f"; the first is {found.findings[0].file}. Run: brewtrials verify" if wrong else ""
    sentence = f"{files - wrong:,} of {files:,} stored files are as they were written{first}."
    if wrong:
        sentence = f"{count(wrong, 'thing is', 'things are')} wrong among {count(files, 'stored file')}{first}."
    return Check("hashes_intact", "fail" if wrong else "pass", wrong, 0, "files", sentence)


def enough_brews(facts: pl.DataFrame, limits: GateLimits) -> Check:
    """At least `min_brews` brews, void ones left out."""
    brews, void = facts.filter(~pl.col("is_void")).height, facts.filter("is_void").height
    left_out = f" ({void:,} void left out)" if void else ""
    sentence = f"{count(brews, 'brew')}{left_out}; at least {limits.min_brews:,} asked for."
    return _check("enough_brews", brews >= limits.min_brews, brews, limits.min_brews, "brews", sentence)


def little_set_aside(set_aside: pl.DataFrame, limits: GateLimits) -> Check:
    """At most `max_set_aside` rows stand on the set-aside list; a row counts once, however many reasons it has.

    Files of different folders or weeks may share a name, so a row is told by what stood in it, too.
    """
    rows = set_aside.select(*A_ROW).n_unique() if set_aside.height else 0
    sentence = f"{count(rows, 'row is', 'rows are')} set aside; at most {limits.max_set_aside:,} allowed."
    return _check("little_set_aside", rows <= limits.max_set_aside, rows, limits.max_set_aside, "rows", sentence)


def fresh_enough(facts: pl.DataFrame, limits: GateLimits, now: datetime) -> Check:
    """The newest brew is at most `max_age_days` old."""
    name, unit, limit = "fresh_enough", "days", limits.max_age_days
    if limit is None:
        return _not_asked(name, unit, "No limit is set (max_age_days in lab.toml).")
    newest = facts.filter(~pl.col("is_void"))["brewed_at"].max()
    if not isinstance(newest, datetime):
        return Check(name, "fail", None, limit, unit, f"There is no brew to be fresh; at most {_days(limit)} allowed.")
    age = (now - newest) / timedelta(days=1)
    when = newest.isoformat(sep=" ", timespec="minutes")
    told = _told_apart(max(age, 0), limit, digits=1)
    sentence = f"The newest brew ({when}) is {told} days old; at most {_days(limit)} allowed."
    return _check(name, age <= limit, round(age, 3), limit, unit, sentence)


def targets_met(facts: pl.DataFrame, limits: GateLimits) -> Check:
    """At least `min_in_target_share` of the brews that a target applies to meet it."""
    name, unit, limit = "targets_met", "share", limits.min_in_target_share
    if limit is None:
        return _not_asked(name, unit, "No limit is set (min_in_target_share in lab.toml).")
    judged = facts.filter(~pl.col("is_void") & pl.col("in_target").is_not_null())
    if judged.is_empty():
        sentence = f"No brew can be judged against a target; {100 * limit:g} % asked for. Hand in a targets table."
        return Check(name, "fail", None, limit, unit, sentence)
    met = judged.filter("in_target").height
    share = met / judged.height
    told = _told_apart(100 * share, 100 * limit, digits=1)
    sentence = f"{met:,} of {judged.height:,} judged brews ({told} %) meet their targets; {100 * limit:g} % asked for."
    return _check(name, share >= limit, round(share, 6), limit, unit, sentence)


def _days(number: float) -> str:
    return f"{number:g} day{'' if number == 1 else 's'}"


def _told_apart(measured: float, limit: float, *, digits: int) -> str:
    """The measured number with as many digits as show on which side of the limit it lies."""
    while digits < MOST_DIGITS and measured != limit and round(measured, digits) == round(limit, digits):
        digits += 1
    return f"{measured:.{digits}f}"


def _check(name: str, holds: bool, measured: float, limit: float, unit: str, sentence: str) -> Check:
    return Check(name, "pass" if holds else "fail", measured, limit, unit, sentence)


def _not_asked(name: str, unit: str, why: str) -> Check:
    return Check(name, "not asked", None, None, unit, why)


def _not_countable(limits: GateLimits) -> tuple[Check, ...]:
    sentence = "Cannot be told while stored files are damaged."
    asked = (
        ("enough_brews", limits.min_brews, "brews"),
        ("little_set_aside", limits.max_set_aside, "rows"),
        ("fresh_enough", limits.max_age_days, "days"),
        ("targets_met", limits.min_in_target_share, "share"),
    )
    return tuple(
        _not_asked(name, unit, "No limit is set.")
        if limit is None
        else Check(name, "fail", None, limit, unit, sentence)
        for name, limit, unit in asked
    )
