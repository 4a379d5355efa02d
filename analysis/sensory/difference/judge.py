"""One difference test judged: the null test, who can tell, d-prime, similarity where it was asked for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from analysis.sensory.difference.answers import Aim, Answers
from analysis.sensory.difference.binomial import (
    ShareInterval,
    allowed_right,
    exact_interval,
    minimum_right,
    p_at_least,
    p_at_most,
    p_two_sided,
    tellers,
)
from analysis.sensory.difference.d_prime import d_prime
from analysis.sensory.difference.kinds import CHANCE, KIND_WORDS, Kind, check_level, check_share
from analysis.sensory.difference.palates import Alike, alike, palate_interval, sign_flip_p
from analysis.sensory.difference.places import Places, look_at_places
from schemas.problem import ProblemError

PLACE_LIKED = 0.05
"""A p value from which on the place is held to have been picked."""


@dataclass(frozen=True, slots=True)
class Similarity:
    """Whether fewer than `margin` of palates can tell: `upper` is the one-sided limit at the level.

    `in_general` False: with so few palates it speaks for these alone. Never passed where the key is in doubt.
    `allowed` is the most right answers that pass, where each palate answered once.
    """

    margin: float
    upper: float
    passed: bool
    in_general: bool
    allowed: int | None


@dataclass(frozen=True)
class Judged:
    """One test. Shares are of 1: right answers, or picks of the cup in `task` where no answer is right (`aim` pick).

    `p` is the exact p against guessing (right: one-sided) or against palates split evenly (pick: two-sided); `p_own`
    asks the same of these very palates; `p_below` is the chance of so few by guessing. `needed` is the count that the
    level asks for (None where it is out of reach, or where palates picked several times), `reachable` whether any
    outcome of these answers could show something. `in_general` is the 95 % interval for palates like these (None: too
    few who answered several times), `own` that of these very palates. `able` and `d_prime` come from `in_general`,
    else from `own`; None where no answer is right or the key is in doubt.
    """

    test_id: str
    kind: Kind
    aim: Aim
    question: str | None
    task: str
    n: int
    hits: int
    palates: int
    most_by_one: int
    chance: float
    level: float
    p: float
    p_own: float
    p_below: float | None
    needed: int | None
    reachable: bool
    in_general: ShareInterval | None
    own: ShareInterval
    able: ShareInterval | None
    d_prime: ShareInterval | None
    alike: Alike | None
    similarity: Similarity | None
    places: Places | None
    pairs: tuple[tuple[str, str], ...]
    left_out: Mapping[str, int]
    notes: tuple[str, ...]

    @property
    def repeated(self) -> bool:
        """Whether any palate answered more than once."""
        return self.n > self.palates

    @property
    def key_in_doubt(self) -> bool:
        """Whether even the whole 95 % interval lies under what guessing gives: then something is wrong."""
        return self.aim == "right" and self.own.high < self.chance

    @property
    def shown(self) -> bool:
        """Whether a difference, or a pick of one cup over the other, is shown at the level, and not by the place."""
        return self.p <= self.level and not self.place_in_doubt

    @property
    def place_in_doubt(self) -> bool:
        """Whether uneven orders and a liking for a place could have made this outcome."""
        places = self.places
        if places is None or places.balanced or places.first_p is None or places.first_p > PLACE_LIKED:
            return False
        return places.free_p is None or places.free_p > self.level


def judge(answers: Answers, *, level: float = 0.05, similarity: float | None = None) -> Judged:
    """Judge one test; `similarity` is the share of palates who may tell the brews apart and still count as none."""
    check_level(level)
    if similarity is not None:
        check_share(similarity, what="The share of palates for similarity")
        if answers.aim == "pick":
            raise ProblemError(
                f"{answers.test_id}: this {KIND_WORDS[answers.kind]} test has no right answer, so it cannot show that "
                "two brews are alike. Similarity is asked of triangle and duo-trio tests."
            )
    hits_by, n_by = answers.by_palate
    hits, n, chance = int(hits_by.sum()), int(n_by.sum()), CHANCE[answers.kind]
    right = answers.aim == "right"
    # Answers of unlike palates scatter less than a binomial around their mean (Hoeffding 1956), so this is safe.
    own = exact_interval(hits, n)
    in_general = palate_interval(answers.palates)
    told = in_general or own
    once = n == len(n_by)
    needed = minimum_right(n, chance=chance, level=level, two_sided=not right) if right or once else None
    return Judged(
        test_id=answers.test_id,
        kind=answers.kind,
        aim=answers.aim,
        question=answers.question,
        task=answers.task,
        n=n,
        hits=hits,
        palates=len(n_by),
        most_by_one=int(n_by.max()),
        chance=chance,
        level=level,
        p=p_at_least(hits, n, chance) if right else sign_flip_p(hits_by, n_by - hits_by),
        p_own=p_at_least(hits, n, chance) if right else p_two_sided(hits, n),
        p_below=p_at_most(hits, n, chance) if right else None,
        needed=needed,
        reachable=needed is not None if right else sign_flip_p(n_by, np.zeros_like(n_by)) <= level,
        in_general=in_general,
        own=own,
        able=_able(hits / n, told, chance) if right and own.high >= chance else None,
        d_prime=_distance(hits / n, told, answers.kind) if right and own.high >= chance else None,
        alike=alike(answers.palates),
        similarity=None if similarity is None else _similar(answers, hits, n, chance, similarity, level),
        places=look_at_places(answers),
        pairs=answers.pairs,
        left_out=answers.left_out,
        notes=answers.notes,
    )


def _able(share: float, told: ShareInterval, chance: float) -> ShareInterval:
    return ShareInterval(tellers(share, chance), tellers(told.low, chance), tellers(told.high, chance))


def _distance(share: float, told: ShareInterval, kind: Kind) -> ShareInterval:
    return ShareInterval(d_prime(share, kind), d_prime(told.low, kind), d_prime(told.high, kind))


def _similar(answers: Answers, hits: int, n: int, chance: float, margin: float, level: float) -> Similarity:
    """Both tails of a 1 - 2 * level interval hold `level` each, so its upper end is the one-sided limit."""
    general = palate_interval(answers.palates, confidence=1 - 2 * level)
    limit = (general or exact_interval(hits, n, confidence=1 - 2 * level)).high
    upper = tellers(limit, chance)
    once = not answers.palates.repeated
    allowed = int(allowed_right(np.array([n]), chance=chance, share=margin, level=level)[0]) if once else None
    passed = hits <= allowed if allowed is not None else upper < margin
    passed = passed and exact_interval(hits, n).high >= chance
    return Similarity(margin, upper, passed, general is not None, allowed)
