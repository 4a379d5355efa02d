"""Which brews an analysis rests on, and how many were left out for what."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from analysis.effects.checks import MIN_SPARE
from analysis.effects.factors import DIAL, plural
from analysis.effects.request import EffectsRequest
from analysis.words import listed
from schemas.problem import ProblemError


class NothingCompleteError(ProblemError):
    """No brew has everything asked for; enough have the `factors_there` (empty: no choice of them would help)."""

    def __init__(self, said: str, factors_there: tuple[str, ...]) -> None:
        super().__init__(said)
        self.factors_there = factors_there


@dataclass(frozen=True)
class ChosenRows:
    """The complete brews of one method (or of those pooled), in the order of the facts.

    `left_out` counts brews per reason (a brew may lack two things); `n_left_out` counts brews. `grinders` is empty
    unless dial steps of several grinders are in play.
    """

    brews: pl.DataFrame
    method: str
    n_before: int
    n_left_out: int
    left_out: dict[str, int]
    grinders: tuple[str, ...]

    @property
    def dropped(self) -> str:
        """The count in words: '3 of 91 brews left out: 1 void, 2 without water_temp_c'."""
        head = f"{self.n_left_out} of {plural('brew', self.n_before)} left out"
        reasons = ", ".join(f"{count} {reason}" for reason, count in self.left_out.items())
        both = " (some for more than one reason)" if sum(self.left_out.values()) > self.n_left_out else ""
        return f"{head}: {reasons}{both}" if reasons else head


def choose_rows(facts: pl.DataFrame, request: EffectsRequest) -> ChosenRows:
    """Void brews out, then brews that lack a value, each counted; refuse to pool methods, or when nothing is left."""
    asked = _of_method(facts, request)
    needed = [request.response, *request.factors, request.group]
    if DIAL in request.factors:
        needed.append("grinder_id")
    sound = asked.filter(~pl.col("is_void").fill_null(value=False))
    left_out = {"void": asked.height - sound.height}
    for name in dict.fromkeys(needed):
        left_out[f"without {name}"] = sound.select(missing(name, sound).sum()).item()
    whole = sound.filter(~pl.any_horizontal([missing(name, sound) for name in needed]))
    _refuse_if_empty(whole, sound, left_out, request)
    if not request.pool_methods:
        _refuse_many_methods(whole)
    brews, still = _on_turning_grinders(whole) if DIAL in request.factors else (whole, {})
    left_out |= still
    grinders = tuple(sorted(brews["grinder_id"].unique())) if DIAL in request.factors else ()
    return ChosenRows(
        brews=brews,
        method=listed(sorted(brews["method"].unique())) if request.pool_methods else brews["method"][0],
        n_before=asked.height,
        n_left_out=asked.height - brews.height,
        left_out={reason: count for reason, count in left_out.items() if count},
        grinders=grinders if len(grinders) > 1 else (),
    )


def missing(name: str, frame: pl.DataFrame) -> pl.Expr:
    """Whether a cell of this column is empty or no finite number."""
    column = pl.col(name)
    return column.is_null() | ~column.is_finite() if frame.schema[name].is_float() else column.is_null()


def _of_method(facts: pl.DataFrame, request: EffectsRequest) -> pl.DataFrame:
    if facts.is_empty():
        raise ProblemError("There are no brews yet; ingest some first.")
    if request.method is None:
        return facts
    asked = facts.filter(pl.col("method") == request.method)
    if asked.is_empty():
        raise ProblemError(f"No brew is of the method {request.method}; there are {_count_methods(facts)}.")
    return asked


def _count_methods(brews: pl.DataFrame) -> str:
    counts = brews.group_by("method").len().sort(["len", "method"], descending=[True, False])
    return ", ".join(f"{name} ({count})" for name, count in counts.iter_rows())


def _refuse_if_empty(
    whole: pl.DataFrame, sound: pl.DataFrame, left_out: dict[str, int], request: EffectsRequest
) -> None:
    if not whole.is_empty():
        return
    if sound.is_empty():
        raise ProblemError("Every brew asked for is void, so there is nothing to analyse.")
    missing = {reason.removeprefix("without "): n for reason, n in left_out.items() if n and reason != "void"}
    worst = ", ".join(f"{name} is missing from {n}" for name, n in missing.items())
    hint = " Grind steps need a grinder that says which way its dial runs (finer_is)." if DIAL in missing else ""
    raise NothingCompleteError(
        f"None of {plural('brew', sound.height)} has everything asked for: {worst}. Record it, or leave it out.{hint}",
        _factors_there(sound, request),
    )


def _factors_there(sound: pl.DataFrame, request: EffectsRequest) -> tuple[str, ...]:
    """The factors that vary, less those known least often, until enough brews have all that are left."""
    kept = [name for name in request.factors if sound[name].drop_nulls().n_unique() > 1]
    kept.sort(key=lambda name: sound[name].null_count())
    while kept:
        needed = [request.response, request.group, *kept, *(["grinder_id"] if DIAL in kept else [])]
        whole = sound.filter(~pl.any_horizontal([missing(name, sound) for name in needed]))
        if whole.height > len(kept) + MIN_SPARE:
            return tuple(name for name in request.factors if name in kept)
        kept.pop()
    return ()


def _refuse_many_methods(whole: pl.DataFrame) -> None:
    if whole["method"].n_unique() > 1:
        raise ProblemError(
            f"These brews are of {whole['method'].n_unique()} methods, {_count_methods(whole)}, and methods are not "
            "pooled: choose one with --method, or ask for each beside the others with --pool-methods."
        )


def _on_turning_grinders(whole: pl.DataFrame) -> tuple[pl.DataFrame, dict[str, int]]:
    """Brews on grinders whose dial was turned; a grinder that stood still says nothing of its own step.

    With one grinder, or when none was turned, all brews stay: the check for factors that do not vary speaks then.
    """
    settings = pl.col(DIAL).n_unique().over("grinder_id")
    turning = whole.filter(settings > 1)
    if turning.is_empty() or turning.height == whole.height:
        return whole, {}
    still = whole.filter(settings == 1).group_by("grinder_id").len().sort("grinder_id")
    return turning, {f"on grinder {name}, where {DIAL} does not vary": count for name, count in still.iter_rows()}
