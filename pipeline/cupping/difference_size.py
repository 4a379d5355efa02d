"""How many palates a next difference test takes, in words and as a table."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.sensory.difference.judge import Judged
from analysis.sensory.difference.kinds import KIND_WORDS, Kind
from analysis.sensory.difference.size import (
    chance_to_prefer,
    chance_to_show,
    palates_to_pass,
    palates_to_prefer,
    palates_to_show,
)
from analysis.sensory.difference.words import percent
from pipeline.report import Part

TELLERS = (0.5, 0.4, 0.3, 0.2, 0.1)
"""Shares of palates who can tell: from a large difference to a small one."""
PICKS = (0.8, 0.75, 0.7, 0.65, 0.6)
"""Shares of palates who pick one of two cups."""
SPOKEN = {"right": 0.3, "pick": 0.7}
"""The share for which the tests on record are judged in words."""
HEADERS = ("test", "who", "palates to show it", "palates to show fewer")


@dataclass(frozen=True)
class Needed:
    """Palates, each answering once, who show that a share can tell (or picks one cup), or that fewer can tell."""

    kind: Kind
    aim: str
    share: float
    to_show: int
    to_show_fewer: int | None


def size_data(kinds: Sequence[tuple[Kind, str]], *, power: float, level: float) -> list[Needed]:
    """Palates needed for each kind of test and share."""
    needed = []
    for kind, aim in kinds:
        for share in TELLERS if aim == "right" else PICKS:
            if aim == "right":
                show = palates_to_show(kind, tellers=share, power=power, level=level)
                fewer = palates_to_pass(kind, margin=share, power=power, level=level)
                needed.append(Needed(kind, aim, share, show, fewer))
            else:
                needed.append(Needed(kind, aim, share, palates_to_prefer(share=share, power=power, level=level), None))
    return needed


def size_part(kinds: Sequence[tuple[Kind, str]], judged: Sequence[Judged], *, power: float, level: float) -> Part:
    """The table, and what as many palates as the tests on record could show."""
    said = [
        f"Palates, each answering once, for a chance of {percent(power)} % at the level {level:g}; with more, it never "
        "falls under that again. To show fewer: a similarity test passes where nobody can tell.",
        *(_with_as_many(one, level) for one in judged),
    ]
    rows = [
        [
            KIND_WORDS[one.kind] + ("" if one.aim == "right" else ", no right answer"),
            f"{percent(one.share)} % {'tell' if one.aim == 'right' else 'pick one'}",
            f"{one.to_show:,}",
            "" if one.to_show_fewer is None else f"{one.to_show_fewer:,}",
        ]
        for one in size_data(kinds, power=power, level=level)
    ]
    return Part("How many palates?", said, HEADERS, rows, HEADERS[2:])


def _with_as_many(one: Judged, level: float) -> str:
    n, share = np.array([one.palates]), SPOKEN[one.aim]
    if one.aim == "right":
        chance = chance_to_show(n, one.kind, tellers=share, level=level)
        what = f"that {percent(share)} % of palates can tell"
    else:
        chance, what = chance_to_prefer(n, share=share, level=level), f"that {percent(share)} % pick one cup"
    as_many = f"{one.palates} palates, one answer each, would show"
    return f"{one.test_id}: {as_many} {what} with a chance of {percent(chance[0])} %."
