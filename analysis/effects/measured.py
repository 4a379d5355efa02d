"""How often 95 % intervals held the truth in invented campaigns, where that is not near 95 %: said with the numbers.

The numbers are those of tests/reference/effects_coverage/coverage.csv, rounded; a test compares them.
"""

from __future__ import annotations

from collections.abc import Sequence

from analysis.effects.factors import plural
from analysis.effects.slopes import Alike
from analysis.effects.structure import ENOUGH_COFFEES

OTHERS_SLOPE_PCT = {2: 62, 3: 70, 4: 74}
"""The slope of coffees like these, by the number of coffees, where slopes vary by half their mean."""
OTHERS_LEVEL_PCT = {2: 86}
"""The level of coffees like these, by the number of coffees; from three coffees on it is near 95."""
VARYING_PCT = 93
"""The lowest of four slopes that all vary by half their size or more, 6 coffees."""
SOME_COFFEES = 10
"""From so many coffees on, slopes that vary were covered 94 % and more."""


def about_coverage(n_coffees: int, alike: Sequence[Alike]) -> list[str]:
    """Whom the intervals speak for where coffees are few, and how often such intervals held."""
    if n_coffees == 1:
        return []
    if n_coffees < ENOUGH_COFFEES:
        level = OTHERS_LEVEL_PCT.get(n_coffees)
        also = f" and their level {level} %" if level else ""
        return [
            f"{plural('coffee', n_coffees)} are too few to judge how far others would differ, in level or in slope: "
            "the intervals speak for these coffees only, taken to answer a change alike. In invented campaigns of "
            f"{n_coffees} coffees whose slopes varied, such intervals held the slope of coffees in general "
            f"{OTHERS_SLOPE_PCT[n_coffees]} % of the time{also}, not 95 %."
        ]
    if n_coffees < SOME_COFFEES and any(one.differs for one in alike):
        return [
            f"Where coffees answer differently and are as few as {n_coffees}, intervals are a little too narrow: in "
            f"invented campaigns of 6 coffees the least of them held {VARYING_PCT} % of the time, not 95 %."
        ]
    return []
