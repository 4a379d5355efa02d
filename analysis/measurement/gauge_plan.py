"""The run sheet of a gauge study: who reads which vial when, in random order, without a name of a brew on it.

In every round each brew is drawn into one closed vial with a number of its own, and every reader reads every vial
once. Readers take turns reading by reading, so that a sample which grows stronger while it stands does so for all of
them alike, and each begins a round about equally often.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import polars as pl

from analysis.words import count, listed, number
from schemas.problem import ProblemError

FIRST_VIAL, LAST_VIAL = 100, 999
"""Vials carry three figures, so that no number hints at an order."""
MOST_TRIES = 2000
ADVISED_BREWS, ADVISED_READERS = 6, 3


@dataclass(frozen=True, slots=True)
class PlannedReading:
    """One line of the run sheet; `vial` serves as `sample_no`, `reading_no` counts the readings of that vial."""

    order: int
    round_no: int
    vial: int
    reading_no: int
    read_by: str
    brew_id: str


@dataclass(frozen=True, slots=True)
class GaugePlan:
    """The readings in order; `limit_min` is the longest a drawn vial may stand, `round_min` what a round takes."""

    readings: tuple[PlannedReading, ...]
    brews: tuple[str, ...]
    readers: tuple[str, ...]
    repeats: int
    limit_min: float
    round_min: float
    notes: tuple[str, ...]

    def frame(self) -> pl.DataFrame:
        """One row per planned reading, in the columns of `PlannedReading`."""
        names = PlannedReading.__dataclass_fields__
        return pl.DataFrame({name: [getattr(line, name) for line in self.readings] for name in names})


def plan_gauge_study(
    brews: Sequence[str],
    readers: Sequence[str],
    *,
    rng: np.random.Generator,
    repeats: int = 3,
    minutes_per_reading: float = 1.0,
    limit_min: float = 45.0,
) -> GaugePlan:
    """A plan in which every one of `readers` reads every one of `brews` `repeats` times, once a round.

    Raises ProblemError for too few or doubled names, too many vials, or a round longer than a vial may stand.
    """
    _must_be_names(brews, "brew")
    _must_be_names(readers, "reader")
    round_min = len(brews) * len(readers) * minutes_per_reading
    if max(len(brews), len(readers)) < 2 or repeats < 1:
        raise ProblemError("A gauge study needs two brews or two readers at least, and one round.")
    if round_min > limit_min:
        raise ProblemError(
            f"A round of {count(len(brews) * len(readers), 'reading')} takes {number(round_min, 0)} min, longer than "
            f"the {number(limit_min, 0)} min that a vial may stand: what evaporates would count as a difference "
            "between readers. Take fewer brews, or allow more time if your vials are sealed."
        )
    if len(brews) * repeats > LAST_VIAL - FIRST_VIAL + 1:
        raise ProblemError(f"{len(brews) * repeats} vials need more than three figures. Take fewer brews or rounds.")
    lines = _lines(tuple(brews), tuple(readers), repeats, rng)
    plan = GaugePlan(
        lines, tuple(brews), tuple(readers), repeats, limit_min, round_min, _notes(brews, readers, repeats)
    )
    broken = broken_rules(plan)
    if broken:
        raise ProblemError(f"No order was found that keeps the rules: {listed(broken)}. Take another seed.")
    return plan


def _must_be_names(names: Sequence[str], what: str) -> None:
    doubled = sorted({name for name in names if list(names).count(name) > 1})
    if not names or doubled or not all(name.strip() for name in names):
        found = f"{listed(doubled)} stands there twice" if doubled else f"{count(len(names), 'name')}, some empty"
        raise ProblemError(f"Every {what} of a gauge study needs a name of its own: {found}.")


def _notes(brews: Sequence[str], readers: Sequence[str], repeats: int) -> tuple[str, ...]:
    """What the study will not be able to say, before anybody brews."""
    notes = []
    if len(readers) == 1:
        notes.append("one reader: the study will not say what another would read")
    elif len(readers) < ADVISED_READERS:
        notes.append(
            f"{count(len(readers), 'reader')}: the share of the readers will be known only roughly; take three"
        )
    if 1 < len(brews) < ADVISED_BREWS:
        notes.append(f"{count(len(brews), 'brew')}: how far coffee differs will be known only roughly; take six to ten")
    if len(brews) == 1:
        notes.append("one brew: the study will not say how much of the spread is the coffee")
    if repeats == 1:
        notes.append("one round: repeats cannot be told from what a reader does differently from brew to brew")
    return tuple(notes)


def _lines(
    brews: tuple[str, ...], readers: tuple[str, ...], repeats: int, rng: np.random.Generator
) -> tuple[PlannedReading, ...]:
    """All rounds; vials are numbered at random over the whole study, readers are shuffled once and then rotate."""
    vials = rng.choice(np.arange(FIRST_VIAL, LAST_VIAL + 1), size=(repeats, len(brews)), replace=False)
    seats = [readers[k] for k in rng.permutation(len(readers))]
    last_of: dict[str, int] = {}
    lines: list[PlannedReading] = []
    last = -1
    for round_no in range(repeats):
        turn = round_no % len(seats)
        cycle = [*seats[turn:], *seats[:turn]]
        chosen = _round(len(brews), cycle, last_of, last, rng)
        seen = [0] * len(brews)
        for reader, brew in chosen:
            seen[brew] += 1
            vial = int(vials[round_no, brew])
            lines.append(PlannedReading(len(lines) + 1, round_no + 1, vial, seen[brew], reader, brews[brew]))
            last_of[reader] = last = brew
    return tuple(lines)


def _round(
    n_brews: int, cycle: list[str], last_of: dict[str, int], last: int, rng: np.random.Generator
) -> list[tuple[str, int]]:
    """One round, reader by reader in turn, each with a random vial that nobody has just read if that can be had."""
    for attempt in range(MOST_TRIES):
        apart = n_brews > 2 and attempt < MOST_TRIES // 2
        own, before = dict(last_of), last
        left = {reader: set(range(n_brews)) for reader in cycle}
        chosen: list[tuple[str, int]] = []
        for reader in cycle * n_brews:
            barred = {own.get(reader, -1), before if apart else -1} if n_brews > 1 else set()
            free = sorted(left[reader] - barred)
            if not free:
                break
            brew = int(rng.choice(free))
            left[reader].remove(brew)
            own[reader] = before = brew
            chosen.append((reader, brew))
        if len(chosen) == n_brews * len(cycle):
            return chosen
    raise ProblemError("No order was found in which nobody reads the same brew twice in a row. Take another seed.")


def broken_rules(plan: GaugePlan) -> tuple[str, ...]:
    """Which of the plan's own rules it breaks, in words; empty for a good plan."""
    lines, broken = plan.readings, []
    cells = [(line.round_no, line.read_by, line.brew_id) for line in lines]
    if len(set(cells)) != len(cells) or len(cells) != len(plan.brews) * len(plan.readers) * plan.repeats:
        broken.append("every reader reads every brew once a round")
    for reader in plan.readers:
        own = [line.brew_id for line in lines if line.read_by == reader]
        if len(plan.brews) > 1 and any(one == next_one for one, next_one in pairwise(own)):
            broken.append(f"{reader} never reads the same brew twice in a row")
    starts = [next(line.read_by for line in lines if line.round_no == k + 1) for k in range(plan.repeats)]
    often = [starts.count(reader) for reader in plan.readers]
    if max(often) - min(often) > 1:
        broken.append("readers begin a round equally often")
    of_vial: dict[int, set[tuple[int, str]]] = {}
    for line in lines:
        of_vial.setdefault(line.vial, set()).add((line.round_no, line.brew_id))
    if any(len(held) > 1 for held in of_vial.values()):
        broken.append("a vial holds one brew of one round")
    return tuple(broken)
