"""Everything about channeling within one method, in numbers and in sentences."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
import polars as pl

from analysis.channeling.bounds import Rate, UnseenBounds, rate, unseen_bounds
from analysis.channeling.findings import effect_finding, risk_finding, screen_finding, unseen_finding
from analysis.channeling.matched import MatchedEffect, matched_effect
from analysis.channeling.risk import RESAMPLES, ChannelingRisk, channeling_risk
from analysis.channeling.screen import LowYieldScreen, low_yield_screen
from analysis.channeling.second_look_words import bounds_sentences, screen_sentences
from analysis.channeling.seen import NotShown, SeenCounts, YieldColumn, count_seen, sound_brews
from analysis.channeling.words import (
    CONSEQUENCE,
    AdjustedEffect,
    compared_sentence,
    count_sentences,
    matched_sentences,
    risk_sentences,
)
from analysis.findings import Finding
from schemas.problem import ProblemError

Part = TypeVar("Part")


@dataclass(frozen=True, slots=True)
class Section:
    """A question and its answer, in sentences."""

    question: str
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ChannelingReport:
    """What is known of channeling in the sound brews of a method; a part that cannot be shown says why.

    `rate` is None where no brew was looked at, `bounds` where every one was; `adjusted` is as handed in.
    """

    method: str
    counts: SeenCounts
    rate: Rate | None
    effect: MatchedEffect | NotShown
    adjusted: AdjustedEffect | None
    risk: ChannelingRisk | NotShown
    bounds: UnseenBounds | None
    screen: LowYieldScreen | NotShown
    sections: tuple[Section, ...]
    findings: tuple[Finding, ...]


def channeling_report(
    facts: pl.DataFrame,
    *,
    method: str,
    rng: np.random.Generator,
    result: YieldColumn = "extraction_yield_pct",
    factors: Sequence[str] | None = None,
    steps: Mapping[str, float] | None = None,
    adjusted: AdjustedEffect | None = None,
    resamples: int = RESAMPLES,
) -> ChannelingReport:
    """Effect, risk, bounds and screen from `facts` (FACT_COLUMNS); ProblemError only where the method has no brews."""
    sound = sound_brews(facts, method=method)
    counts = count_seen(sound)
    seen = rate(counts.channeled, counts.looked_at) if counts.looked_at else None
    effect = _or_why(lambda: matched_effect(facts, method=method, result=result))
    risk = _or_why(
        lambda: channeling_risk(facts, method=method, rng=rng, factors=factors, steps=steps, resamples=resamples)
    )
    bounds = unseen_bounds(facts, method=method, result=result)
    screen = _or_why(lambda: low_yield_screen(facts, method=method, result=result))
    sections = (
        Section("How often did it channel?", tuple(count_sentences(counts, seen, method=method))),
        Section("What did channeled brews yield?", _effect_sentences(effect, adjusted, method)),
        Section("What goes with channeling?", _part(risk, risk_sentences)),
        *_bounds_section(bounds, method),
        Section(
            "Which brews deserve a second look?",
            _part(screen, lambda shown: screen_sentences(shown, method=method)),
        ),
    )
    return ChannelingReport(
        method=method,
        counts=counts,
        rate=seen,
        effect=effect,
        adjusted=adjusted,
        risk=risk,
        bounds=bounds,
        screen=screen,
        sections=sections,
        findings=(
            effect_finding(effect, method=method),
            risk_finding(risk, method=method),
            unseen_finding(bounds, counts, method=method),
            screen_finding(screen, method=method),
        ),
    )


def _or_why(part: Callable[[], Part]) -> Part | NotShown:
    try:
        return part()
    except ProblemError as problem:
        return NotShown(str(problem))


def _part(part: Part | NotShown, words: Callable[[Part], list[str]]) -> tuple[str, ...]:
    return (part.said,) if isinstance(part, NotShown) else tuple(words(part))


def _effect_sentences(
    effect: MatchedEffect | NotShown, adjusted: AdjustedEffect | None, method: str
) -> tuple[str, ...]:
    if isinstance(effect, NotShown):
        return (effect.said,)
    beside = [compared_sentence(effect, adjusted, method=method)] if adjusted else []
    return (*matched_sentences(effect, method=method), *beside, CONSEQUENCE)


def _bounds_section(bounds: UnseenBounds | None, method: str) -> tuple[Section, ...]:
    if bounds is None:
        return ()
    return (Section("Could the brews not looked at change this?", tuple(bounds_sentences(bounds, method=method))),)
