"""Difference tests of a commit as a report, and how many palates a next test takes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import polars as pl

from analysis.known_names import check_known
from analysis.multiple import holm
from analysis.sensory.difference.answers import Answers, read_answers
from analysis.sensory.difference.judge import Judged, judge
from analysis.sensory.difference.kinds import KIND_WORDS, Kind, check_level, check_share
from analysis.sensory.difference.known_answer import Strength, asks_strength
from analysis.sensory.difference.words import distance_words, p_words, percent, percent_span, sentences
from analysis.words import count, listed
from pipeline.cupping.difference_size import size_data, size_part
from pipeline.facts import brew_facts
from pipeline.report import Part, Report, as_data
from pipeline.store.model import Manifest
from pipeline.store.read import current
from pipeline.store.store import Store
from schemas.lab import LabSettings
from schemas.problem import ProblemError

HEADERS = (
    "test",
    "kind",
    "answers",
    "palates",
    "right or picked",
    "p",
    "share, 95 %",
    "tell them apart, 95 %",
    "d-prime",
)
RIGHT = ("answers", "palates", "right or picked", "p")
FRAME = {
    "test_id": pl.String(),
    "kind": pl.String(),
    "question": pl.String(),
    "counted": pl.String(),
    "n_answers": pl.Int64(),
    "n_palates": pl.Int64(),
    "n_counted": pl.Int64(),
    "n_expected": pl.Float64(),
    "level": pl.Float64(),
    "p": pl.Float64(),
    "p_holm": pl.Float64(),
    "shown": pl.Boolean(),
    "share_pct": pl.Float64(),
    "share_low_pct": pl.Float64(),
    "share_high_pct": pl.Float64(),
    "interval_of": pl.String(),
    "tell_pct": pl.Float64(),
    "tell_low_pct": pl.Float64(),
    "tell_high_pct": pl.Float64(),
    "d_prime": pl.Float64(),
    "d_prime_low": pl.Float64(),
    "d_prime_high": pl.Float64(),
    "similarity_margin_pct": pl.Float64(),
    "similarity_upper_pct": pl.Float64(),
    "similar": pl.Boolean(),
    "reason": pl.String(),
}
"""One row per test; `reason` says why a test could not be judged."""
NONE = "No difference test is on record: the choices table has one row per answer (`brewtrials template` shows it)."


@dataclass(frozen=True)
class Refused:
    """A test that could not be judged, and why."""

    test_id: str
    kind: str
    reason: str


def difference_report(
    store: Store,
    manifest: Manifest,
    settings: LabSettings,
    *,
    test_id: str | None = None,
    level: float = 0.05,
    similarity: float | None = None,
    power: float | None = None,
) -> Report:
    """Judge every test, or `test_id`; `similarity` is a share of palates, `power` the chance wanted of a next test.

    A test that cannot be judged is listed with its reason, and refused (ProblemError) where it was asked for by name.
    """
    check_level(level)
    for what, share in (("The share of palates for similarity", similarity), ("The power", power)):
        if share is not None:
            check_share(share, what=what)
    choices = current(store, manifest, "choices").collect()
    known = choices["test_id"].unique(maintain_order=True).to_list()
    if test_id is not None and not known:
        raise ProblemError(NONE)
    if test_id is not None:
        check_known("test on record", test_id, known)
    names = known if test_id is None else [test_id]
    strengths = _strengths(store, manifest, settings, choices.filter(pl.col("test_id").is_in(names)))
    outcomes = [
        _judged(choices.filter(pl.col("test_id") == name), strengths, level, similarity, alone=test_id is not None)
        for name in names
    ]
    return _report(outcomes, level=level, power=power)


def _strengths(store: Store, manifest: Manifest, settings: LabSettings, choices: pl.DataFrame) -> dict[str, Strength]:
    """Strength in the cup by brew, gathered only where a question asks for it."""
    if not any(asks_strength(question) for question in choices["question"].unique().to_list()):
        return {}
    facts = brew_facts(store, manifest, settings).select("brew_id", "cup_tds_pct", "tds_u_pct")
    return {brew_id: Strength(tds_pct, u_pct) for brew_id, tds_pct, u_pct in facts.iter_rows()}


def _judged(
    choices: pl.DataFrame, strengths: dict[str, Strength], level: float, similarity: float | None, *, alone: bool
) -> Judged | Refused:
    try:
        answers: Answers = read_answers(choices, strengths=strengths)
        # Asked of all tests, similarity goes to those that can be asked.
        asked = similarity if alone or answers.aim == "right" else None
        return judge(answers, level=level, similarity=asked)
    except ProblemError as problem:
        if alone:
            raise
        return Refused(str(choices["test_id"][0]), str(choices["kind"][0]), str(problem))


def _report(outcomes: Sequence[Judged | Refused], *, level: float, power: float | None) -> Report:
    judged = [one for one in outcomes if isinstance(one, Judged)]
    refused = [one for one in outcomes if isinstance(one, Refused)]
    adjusted = dict(zip((one.test_id for one in judged), holm([one.p for one in judged]).tolist(), strict=True))
    parts = [Part(_title(one), sentences(one)) for one in judged]
    if len(judged) > 1:
        parts.insert(0, _overview(judged, adjusted, level))
    if refused:
        parts.append(Part("Not judged", [one.reason for one in refused]))
    if power is not None:
        parts.append(size_part(_kinds(judged), judged, power=power, level=level))
    rows = [_row(one, adjusted) for one in outcomes]
    data: dict[str, Any] = {
        "level": level,
        "tests": [_data(one, adjusted[one.test_id]) for one in judged],
        "not_judged": [as_data(one) for one in refused],
    }
    if power is not None:
        data["palates_needed"] = as_data(size_data(_kinds(judged), power=power, level=level))
    return Report(parts, pl.DataFrame(rows, schema=FRAME, orient="row"), data, NONE)


def _kinds(judged: Sequence[Judged]) -> tuple[tuple[Kind, str], ...]:
    """The kinds and aims to plan for: those on record, else a triangle test."""
    found = dict.fromkeys((one.kind, one.aim) for one in judged)
    return tuple((kind, str(aim)) for kind, aim in found) or (("triangle", "right"),)


def _title(one: Judged) -> str:
    pair = f"{one.pairs[0][0]} and {one.pairs[0][1]}" if len(one.pairs) == 1 else f"{len(one.pairs)} pairs of brews"
    return f"{one.test_id}: {KIND_WORDS[one.kind]} test, {pair}"


def _overview(judged: Sequence[Judged], adjusted: dict[str, float], level: float) -> Part:
    left = [one.test_id for one in judged if adjusted[one.test_id] <= level]
    said = (
        f"{count(len(judged), 'test')}: with so many one may come out by chance; allowing for that (Holm), "
        f"{listed(left) if left else 'none'} shown at the level {level:g}."
    )
    return Part("Difference tests", [said], HEADERS, [_cells(one) for one in judged], RIGHT)


def _cells(one: Judged) -> list[str]:
    interval = one.in_general or one.own
    return [
        one.test_id,
        KIND_WORDS[one.kind],
        str(one.n),
        str(one.palates),
        str(one.hits),
        p_words(one.p).removeprefix("p "),
        f"{percent(one.hits / one.n)} % ({percent_span(interval)})",
        _able_cell(one),
        distance_words(one.d_prime).replace("95 % interval ", "") if one.d_prime else "",
    ]


def _able_cell(one: Judged) -> str:
    if one.able is not None:
        return f"{percent(one.able.share)} % ({percent_span(one.able)})"
    return "check the key" if one.key_in_doubt else "no right answer"


def _row(one: Judged | Refused, adjusted: dict[str, float]) -> dict[str, object]:
    row: dict[str, object] = dict.fromkeys(FRAME)
    if isinstance(one, Refused):
        return row | {"test_id": one.test_id, "kind": one.kind, "reason": one.reason}
    interval = one.in_general or one.own
    row |= {
        "test_id": one.test_id,
        "kind": one.kind,
        "question": one.question,
        "counted": one.task,
        "n_answers": one.n,
        "n_palates": one.palates,
        "n_counted": one.hits,
        "n_expected": one.n * one.chance,
        "level": one.level,
        "p": one.p,
        "p_holm": adjusted[one.test_id],
        "shown": one.shown,
        "share_pct": 100 * one.hits / one.n,
        "share_low_pct": 100 * interval.low,
        "share_high_pct": 100 * interval.high,
        "interval_of": "palates like these" if one.in_general else "these palates",
    }
    if one.able and one.d_prime:
        row |= {"tell_pct": 100 * one.able.share, "tell_low_pct": 100 * one.able.low}
        row |= {"tell_high_pct": 100 * one.able.high, "d_prime": one.d_prime.share}
        row |= {"d_prime_low": one.d_prime.low, "d_prime_high": one.d_prime.high}
    if one.similarity:
        row |= {"similarity_margin_pct": 100 * one.similarity.margin}
        row |= {"similarity_upper_pct": 100 * one.similarity.upper, "similar": one.similarity.passed}
    return row


def _data(one: Judged, p_holm: float) -> dict[str, Any]:
    told = as_data(one)
    return {**told, "shown": one.shown, "p_holm": p_holm, "sentences": list(sentences(one))}
