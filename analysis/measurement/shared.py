"""What two sides of a comparison share, and what sharing does to their difference, in words."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from analysis.measurement.component import Budget
from analysis.words import listed, number

OFFSETS = ("TDS bias", "TDS correction")
GAIN = "TDS gain"
NOT_WEIGHED = "TDS"
WEIGHED = (" bias", " weighing")


@dataclass(frozen=True, slots=True)
class Shared:
    """One error that both sides share: the standard uncertainty it gives each side alone, and their difference."""

    name: str
    instrument: str
    first_u: float
    second_u: float
    left_u: float


def shared_words(first: Sequence[Budget], second: Sequence[Budget], shared: Sequence[Shared]) -> str:
    """Which instruments the two sides share, and how much of each one's error is left in the difference."""
    said = [_of_strength(first, second, shared), *_of_gain(shared), _of_scale(first, second, shared)]
    return " ".join(part for part in said if part)


def _of_strength(first: Sequence[Budget], second: Sequence[Budget], shared: Sequence[Shared]) -> str:
    one, two = _instruments(first, names=OFFSETS), _instruments(second, names=OFFSETS)
    if "" in one | two:
        return "No instrument is named for a strength: it is taken as a different one, so nothing of it cancels."
    if one.isdisjoint(two):
        apart = f"{listed(sorted(one))} and on {listed(sorted(two))}"
        return f"The strengths were read on {apart}: nothing cancels, both offsets count in full." if one | two else ""
    common = listed(sorted(one & two))
    left = _left(error for error in shared if error.name in OFFSETS)
    if one != two:
        return f"Only {common} read both sides: its offset cancels in part ({left}), the others count in full."
    return f"Both sides were read on {common}: an offset cancels as far as it moves both yields alike ({left})."


def _of_gain(shared: Sequence[Shared]) -> Iterable[str]:
    for error in shared:
        if error.name == GAIN:
            yield (
                f"A slope error of {error.instrument} grows with the strength and leaves its share of the difference: "
                f"{number(error.left_u, 3)} points."
            )


def _of_scale(first: Sequence[Budget], second: Sequence[Budget], shared: Sequence[Shared]) -> str:
    one, two = _instruments(first, names=()), _instruments(second, names=())
    if not one | two:
        return ""
    if one.isdisjoint(two) or "" in one | two:
        return "The weighings share no named weighing scale: nothing of their errors cancels."
    left = _left(error for error in shared if not error.name.startswith(NOT_WEIGHED))
    return (
        f"Both sides were weighed on {listed(sorted(one & two))}: what is left of its calibration cancels as far as it "
        f"moves both alike ({left}); every weighing reads tare and load anew, and that stays."
    )


def _instruments(budgets: Iterable[Budget], *, names: tuple[str, ...]) -> set[str]:
    """Instruments of the lines with these names; with no names, of all lines that a weighing scale gives."""
    return {
        part.shared
        for budget in budgets
        for part in budget.components
        if (part.name in names if names else part.name.endswith(WEIGHED) and part.group != NOT_WEIGHED)
    }


def _left(errors: Iterable[Shared]) -> str:
    """What is left of shared errors, against the same errors on two instruments."""
    found = list(errors)
    left = math.hypot(*(error.left_u for error in found))
    apart = math.hypot(*(size for error in found for size in (error.first_u, error.second_u)))
    percent = 100 * left / apart if apart > 0 else 0.0
    return f"{number(left, 3)} points left, {number(percent, 0)} % of what two instruments would leave"
