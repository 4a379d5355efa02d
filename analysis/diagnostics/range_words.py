"""The ranges in words: too narrow, a single level, one brew that carries an effect, moved in some coffees only."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

import numpy as np
import polars as pl

from analysis.diagnostics.case import Case
from analysis.diagnostics.ranges import RANGE_SCHEMA, ROUNDED, Range, range_of
from analysis.diagnostics.seen import Seen
from analysis.diagnostics.setting_words import is_result, span_words, unit_of, value_words
from analysis.effects.factors import FACTORS, many, plural
from analysis.findings import Finding
from analysis.physics import plain
from analysis.words import capital, listed, number

TOPIC = "how far the settings were moved"
NARROW = 0.5
"""Seen over declared range below which it is too narrow: an interval grows as the range shrinks, so half doubles it."""


@dataclass(frozen=True)
class Ranges:
    """Findings, and a table with a row per factor.

    `low`, `high` as brewed, `unit`, `levels` (distinct values), `brews_per_level` (words, up to 8 levels), `moved_in`
    (groups in which it moved), `declared_low`, `declared_high`, `covered` (share of the declared range brewed).
    """

    seen: tuple[Seen, ...]
    table: pl.DataFrame


def find_ranges(case: Case, declared: Mapping[str, tuple[float, float]], settled: Collection[str]) -> Ranges:
    """The settings as brewed beside the `declared` low and high of each factor, in the factor's unit.

    `settled` names the factors whose effect has a direction already: a narrow range then limits where it holds.
    """
    ranges = [range_of(case, name, declared.get(name)) for name in case.request.factors]
    seen = [found for one in ranges if (found := _judged(case, one, settled))]
    if not seen:
        seen = [_wide_enough(case, ranges)]
    return Ranges(tuple(seen), pl.DataFrame([one.row() for one in ranges], schema=RANGE_SCHEMA))


def _judged(case: Case, one: Range, settled: Collection[str]) -> Seen | None:
    """The weightiest thing to say of one factor's range, or None."""
    noun = FACTORS[one.name].noun
    if one.levels.size == 1:
        said = f"{noun} stood at {value_words(one.name, one.levels[0])} in all {case.of}: they say nothing of it."
        return Seen(Finding(TOPIC, "stands in the way", capital(said), _second(one)), (one.name,))
    if case.n > 2 and one.counts.max() == case.n - 1:
        return _one_away(case, one)
    if one.covered is not None and one.covered < NARROW:
        return _too_narrow(case, one, one.name in settled)
    if one.name in case.request.curves and one.levels.size == 3 and one.counts.min() == 1:
        level = float(one.levels[int(np.argmin(one.counts))])
        ids = case.ids(np.flatnonzero(np.round(one.values, ROUNDED) == level))
        said = f"the curve of {noun} leans on one brew, {ids[0]} at {value_words(one.name, level)} ({case.of})."
        return Seen(Finding(TOPIC, "worth knowing", capital(said), f"Repeat that setting of {noun}.", ids))
    return _in_some(case, one) if 0 < one.moved_in <= case.n_groups / 2 else None


def _one_away(case: Case, one: Range) -> Seen:
    common = float(one.levels[int(np.argmax(one.counts))])
    ids = case.ids(np.flatnonzero(np.round(one.values, ROUNDED) != common))
    said = (
        f"{FACTORS[one.name].noun} stood at {value_words(one.name, common)} in all but one of {case.of}: brew "
        f"{ids[0]} alone would carry the whole effect."
    )
    do = f"Brew at least two more like {ids[0]}."
    if is_result(case, one.name):
        do = f"Leave {FACTORS[one.name].noun} out until more such brews are on record."
    return Seen(Finding(TOPIC, "stands in the way", capital(said), do, ids), (one.name,))


def _too_narrow(case: Case, one: Range, settled: bool) -> Seen:
    low, high = one.declared or (one.low, one.high)
    covered = one.covered or 0.0
    inside = covered * (high - low)
    elsewhere = " inside that range" if one.high - one.low > inside * 1.001 else ""
    noun, unit = FACTORS[one.name].noun, unit_of(one.name)
    said = (
        f"{noun} moved {plain(inside, 2)} {unit} of the {plain(high - low, 2)} you asked about{elsewhere} "
        f"(brewed {span_words(one.name, one.low, one.high)}, asked {span_words(one.name, low, high)}; {case.of}): "
    )
    do = f"Brew at {plain(low, 2)} and at {value_words(one.name, high)}, or ask about the range you brewed."
    if covered == 0:
        said += "these brews say nothing of the range you asked about."
    elif settled:
        said += "what they say holds for the range brewed, not for the rest."
    else:
        said += f"the same brews across the whole range would give an interval {number(1 / covered, 1)} times narrower."
    if settled and covered > 0:
        return Seen(Finding(TOPIC, "worth knowing", capital(said), do))
    return Seen(Finding(TOPIC, "stands in the way", capital(said), do), (one.name,))


def _in_some(case: Case, one: Range) -> Seen | None:
    if case.n_groups == 1:
        return None
    noun = FACTORS[one.name].noun
    rests = "it" if one.moved_in == 1 else "them"
    said = f"{noun} was moved in {one.moved_in} of {plural(case.word, case.n_groups)}: its effect rests on {rests}"
    do = f"Brew the other {many(case.word)} at two settings of {noun} too."
    return Seen(Finding(TOPIC, "worth knowing", f"{capital(said)} ({case.of}).", do))


def _wide_enough(case: Case, ranges: list[Range]) -> Seen:
    asked = any(one.declared for one in ranges)
    moved = [
        f"{FACTORS[one.name].noun} {span_words(one.name, one.low, one.high)}"
        for one in ranges
        if not FACTORS[one.name].is_yes_no
    ]
    head = f"Brewed: {listed(moved)} ({case.of})" if moved else f"Both sides of every yes or no were seen ({case.of})"
    if asked:
        return Seen(Finding(TOPIC, "fine", f"{head}: at least half of every range you asked about.", "Nothing to do."))
    return Seen(Finding(TOPIC, "fine", f"{head}; no range was declared.", "Say which range you care about."))


def _second(one: Range) -> str:
    noun = FACTORS[one.name].noun
    if FACTORS[one.name].is_yes_no:
        return f"Leave {noun} out until both have been seen."
    where = f"at {plain(one.declared[0], 2)} and at {value_words(one.name, one.declared[1])}" if one.declared else ""
    return f"Brew {where or 'at a second setting'}, or leave {noun} out."
