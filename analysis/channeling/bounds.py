"""What the brews that nobody looked at could change: everything again with all of them clean, and all channeled."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import polars as pl
from scipy import stats

from analysis.channeling.matched import MatchedEffect, matched_effect
from analysis.channeling.seen import NotShown, YieldColumn, sound_brews
from analysis.channeling.unseen import KindGap, MeasureGap, kind_gaps, measure_gaps
from analysis.mixed.arrays import CONFIDENCE
from schemas.problem import ProblemError

Turn = Literal["holds", "could turn", "not settled anyway", "cannot be told"]


@dataclass(frozen=True, slots=True)
class Rate:
    """Channeled brews of `n`, in percent, with the 95 % Wilson interval (Wilson 1927, JASA 22:209)."""

    channeled: int
    n: int
    pct: float
    low_pct: float
    high_pct: float


@dataclass(frozen=True, slots=True)
class UnseenBounds:
    """The rate and the effect as seen, with every unseen brew clean, and with every one channeled.

    `turn` says whether the finding of a difference in yield stands in all three.
    """

    n_not_looked_at: int
    rate: Rate | None
    rate_if_clean: Rate
    rate_if_channeled: Rate
    effect: MatchedEffect | NotShown
    effect_if_clean: MatchedEffect | NotShown
    effect_if_channeled: MatchedEffect | NotShown
    turn: Turn
    measures: tuple[MeasureGap, ...]
    kinds: tuple[KindGap, ...]


def rate(channeled: int, n: int) -> Rate:
    """A share with its Wilson interval."""
    z = float(stats.norm.ppf(0.5 + CONFIDENCE / 2))
    share = channeled / n
    middle = (share + z**2 / (2 * n)) / (1 + z**2 / n)
    reach = z / (1 + z**2 / n) * math.sqrt(share * (1 - share) / n + z**2 / (4 * n**2))
    return Rate(channeled, n, 100 * share, 100 * max(middle - reach, 0.0), 100 * min(middle + reach, 1.0))


def unseen_bounds(
    facts: pl.DataFrame, *, method: str, result: YieldColumn = "extraction_yield_pct"
) -> UnseenBounds | None:
    """Bounds from the brews of a method not looked at; None where every brew was looked at."""
    sound = sound_brews(facts, method=method)
    unseen = sound["channeled"].null_count()
    if unseen == 0:
        return None
    channeled, looked = int(sound["channeled"].sum()), sound.height - unseen
    effects = [_effect(sound, filled, method, result) for filled in (None, False, True)]
    return UnseenBounds(
        n_not_looked_at=unseen,
        rate=rate(channeled, looked) if looked else None,
        rate_if_clean=rate(channeled, sound.height),
        rate_if_channeled=rate(channeled + unseen, sound.height),
        effect=effects[0],
        effect_if_clean=effects[1],
        effect_if_channeled=effects[2],
        turn=_turn(*effects),
        measures=measure_gaps(facts, method=method),
        kinds=kind_gaps(facts, method=method),
    )


def _effect(sound: pl.DataFrame, filled: bool | None, method: str, result: YieldColumn) -> MatchedEffect | NotShown:
    brews = sound if filled is None else sound.with_columns(pl.col("channeled").fill_null(value=filled))
    try:
        return matched_effect(brews, method=method, result=result)
    except ProblemError as problem:
        return NotShown(str(problem))


def _turn(seen: MatchedEffect | NotShown, *others: MatchedEffect | NotShown) -> Turn:
    if isinstance(seen, NotShown):
        return "cannot be told"
    if not seen.settled:
        return "not settled anyway"
    for other in others:
        if isinstance(other, NotShown):
            return "cannot be told"
        if not other.settled or (other.difference > 0) != (seen.difference > 0):
            return "could turn"
    return "holds"
