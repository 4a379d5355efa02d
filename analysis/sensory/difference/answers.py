"""The answers of one difference test: what counts as right or as picked, and which rows cannot count."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, cast

import numpy as np
import polars as pl

from analysis.sensory.difference.binomial import Counts
from analysis.sensory.difference.kinds import KIND_WORDS, TASK, Kind
from analysis.sensory.difference.known_answer import RightBrew, Strength, asks_strength, right_brew
from analysis.sensory.difference.palates import Palates
from analysis.words import capital, count, listed
from schemas.problem import ProblemError

Aim = Literal["right", "pick"]
"""Answers are right or wrong, or one of two cups is picked and neither is right."""


@dataclass(frozen=True)
class Answers:
    """`rows` are the rows that count, with `hit` (right, or the cup of `task` picked); `left_out` counts others by why.

    `pairs` are the pairs of brews compared, `notes` what was decided on the way, one sentence each.
    """

    test_id: str
    kind: Kind
    aim: Aim
    question: str | None
    task: str
    rows: pl.DataFrame
    pairs: tuple[tuple[str, str], ...]
    left_out: Mapping[str, int]
    notes: tuple[str, ...]

    @property
    def by_palate(self) -> tuple[Counts, Counts]:
        """Hits and answers of each palate, in the order in which they first answered."""
        of = self.rows.group_by("assessor", maintain_order=True).agg(pl.col("hit").sum(), n=pl.len())
        return of["hit"].to_numpy().astype(np.int64), of["n"].to_numpy().astype(np.int64)

    @property
    def palates(self) -> Palates:
        """The same as sums for the likelihood."""
        return Palates(*self.by_palate)


def read_answers(choices: pl.DataFrame, *, strengths: Mapping[str, Strength]) -> Answers:
    """The answers in `choices` (rows of one `test_id`); ProblemError where they are no one test, or none counts."""
    test_id, kind = str(choices["test_id"][0]), _kind(choices)
    question = _question(choices)
    declared = choices["correct"].is_not_null().any()
    usable = kind != "paired" or bool(declared)
    reasons = _with_reason(choices, pl.col("correct").is_null(), "no answer recorded") if usable else _picked(choices)
    left = reasons.filter(pl.col("why") != "").group_by("why", maintain_order=True).len()
    left_out = {str(why): int(n) for why, n in left.iter_rows()}
    rows = reasons.filter(pl.col("why") == "").drop("why")
    if rows.is_empty():
        why = listed([f"{count(n, 'row')}: {reason}" for reason, n in left_out.items()])
        raise ProblemError(f"{test_id}: none of {count(choices.height, 'answer')} can be used ({why}).")
    pairs = _pairs(rows)
    if usable:
        _check_declared(rows, test_id)
        hits = rows.with_columns(hit=pl.col("correct"))
        return Answers(test_id, kind, "right", question, TASK[kind], hits, pairs, left_out, ())
    aim, task, hits, notes = _paired(rows, pairs, question, strengths)
    return Answers(test_id, kind, aim, question, task, hits, pairs, left_out, notes)


def _kind(choices: pl.DataFrame) -> Kind:
    kinds = choices["kind"].unique(maintain_order=True).to_list()
    if len(kinds) > 1:
        said = listed([f"{choices.filter(pl.col('kind') == kind).height} {KIND_WORDS[kind]}" for kind in kinds])
        raise ProblemError(
            f"{choices['test_id'][0]}: {said} answers under one name. A test is of one kind: give each its own test_id."
        )
    return cast(Kind, kinds[0])


def _question(choices: pl.DataFrame) -> str | None:
    asked = choices["question"].drop_nulls().str.strip_chars()
    first: dict[str, str] = {}
    for text in asked.to_list():
        if text:
            first.setdefault(text.casefold().rstrip("?. "), text)
    if len(first) > 1:
        said = listed([f'"{text}"' for text in first.values()])
        raise ProblemError(
            f"{choices['test_id'][0]}: {len(first)} questions under one name ({said}). Give each its own test_id."
        )
    return next(iter(first.values()), None)


def _with_reason(choices: pl.DataFrame, unusable: pl.Expr, reason: str) -> pl.DataFrame:
    same = pl.col("brew_id_a") == pl.col("brew_id_b")
    why = pl.when(same).then(pl.lit("both cups are one brew")).when(unusable).then(pl.lit(reason)).otherwise(pl.lit(""))
    return choices.with_columns(why=why)


def _picked(choices: pl.DataFrame) -> pl.DataFrame:
    chosen = pl.col("chosen_brew_id")
    empty = _with_reason(choices, chosen.is_null(), "no cup chosen")
    other = chosen.ne(pl.col("brew_id_a")) & chosen.ne(pl.col("brew_id_b"))
    neither = other.fill_null(value=False) & (pl.col("why") == "")
    return empty.with_columns(
        why=pl.when(neither).then(pl.lit("the chosen brew is neither of the two")).otherwise("why")
    )


def _pairs(rows: pl.DataFrame) -> tuple[tuple[str, str], ...]:
    seen: dict[frozenset[str], tuple[str, str]] = {}
    for a, b in rows.select("brew_id_a", "brew_id_b").iter_rows():
        seen.setdefault(frozenset((a, b)), (a, b))
    return tuple(seen.values())


def _check_declared(rows: pl.DataFrame, test_id: str) -> None:
    """In a paired test the chosen brew and `correct` must name one right brew a pair."""
    told = rows.filter((pl.col("kind") == "paired") & pl.col("chosen_brew_id").is_not_null())
    right: dict[frozenset[str], set[str]] = {}
    for a, b, chosen, correct in told.select("brew_id_a", "brew_id_b", "chosen_brew_id", "correct").iter_rows():
        right.setdefault(frozenset((a, b)), set()).add(chosen if correct else (b if chosen == a else a))
    for pair, brews in right.items():
        if len(brews) > 1:
            raise ProblemError(
                f"{test_id}: by `correct` both {listed(sorted(pair))} are the right answer. Mend `correct`, or "
                "leave it empty where there is no right answer."
            )


def _paired(
    rows: pl.DataFrame, pairs: tuple[tuple[str, str], ...], question: str | None, strengths: Mapping[str, Strength]
) -> tuple[Aim, str, pl.DataFrame, tuple[str, ...]]:
    asks = asks_strength(question)
    known = [right_brew(*pair, asks=asks, strengths=strengths) for pair in pairs] if asks else []
    open_ones = [one for one in known if one.brew_id is None]
    if known and not open_ones:
        return _by_readings(rows, known, "stronger" if asks > 0 else "weaker")
    notes: tuple[str, ...] = ()
    if open_ones:
        notes = (f"Which cup is right cannot be told: {open_ones[0].said}. So this is read as a choice without one.",)
    if len(pairs) > 1:
        task, hit = "picked the brew in the column brew_id_a", pl.col("chosen_brew_id") == pl.col("brew_id_a")
    else:
        task, hit = f"picked {pairs[0][0]}", pl.col("chosen_brew_id") == pairs[0][0]
    return "pick", task, rows.with_columns(hit=hit), notes


def _by_readings(
    rows: pl.DataFrame, known: list[RightBrew], word: str
) -> tuple[Aim, str, pl.DataFrame, tuple[str, ...]]:
    # One brew may be right in one pair and wrong in another, so the pair decides.
    right = {frozenset(pair): one.brew_id for pair, one in zip(_pairs(rows), known, strict=True)}
    named = rows.select("brew_id_a", "brew_id_b", "chosen_brew_id").iter_rows()
    hit = [chosen == right[frozenset((a, b))] for a, b, chosen in named]
    said = listed([one.said for one in known[:3]]) + (f" and {len(known) - 3} more pairs" if len(known) > 3 else "")
    return (
        "right",
        f"picked the {word} cup",
        rows.with_columns(hit=pl.Series(hit, dtype=pl.Boolean)),
        (f"{capital(word)} by the readings: {said}.",),
    )
