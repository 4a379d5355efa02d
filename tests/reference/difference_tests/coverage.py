"""How often the intervals hold the truth where palates answer several times and are not alike; writes coverage.csv.

Run: python -m tests.reference.difference_tests.coverage
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import polars as pl

from analysis.sensory.difference.binomial import ShareInterval, exact_interval, p_two_sided
from analysis.sensory.difference.palates import Palates, palate_interval, sign_flip_p

SEED = 20260501
RUNS = 2000


@dataclass(frozen=True)
class Case:
    """`unlike` palates: "no", "beta <likeness>", or "tellers": a share always right, the others guess one in three."""

    palates: int
    answers: int
    share: float
    unlike: str

    def draw(self, rng: np.random.Generator) -> np.ndarray:
        """Each palate's own chance of being right; their mean in the long run is `share`."""
        if self.unlike == "no":
            return np.full(self.palates, self.share)
        if self.unlike == "tellers":
            return np.where(rng.random(self.palates) < (self.share - 1 / 3) * 1.5, 1.0, 1 / 3)
        spread = 1 / float(self.unlike.removeprefix("beta ")) - 1
        return rng.beta(self.share * spread, (1 - self.share) * spread, self.palates)


TOLD = (Case(8, 3, 0.6, "no"), Case(8, 3, 0.6, "beta 0.3"), Case(10, 3, 0.6, "tellers"))
"""The cases that the test counts again."""
CASES = (
    *TOLD,
    *(
        Case(palates, answers, share, unlike)
        for palates, answers in ((5, 4), (6, 10), (12, 3), (24, 2))
        for share in (0.4, 0.7)
        for unlike in ("no", "beta 0.15", "beta 0.4", "tellers")
    ),
    *(
        Case(palates, answers, 0.5, unlike)
        for palates, answers in ((10, 3),)
        for unlike in ("no", "beta 0.3", "beta 0.6")
    ),
)


def count(case: Case, runs: int = RUNS) -> dict[str, object]:
    """Counts over `runs` invented panels."""
    rng = np.random.default_rng([SEED, case.palates, case.answers, round(100 * case.share), len(case.unlike)])
    n = np.full(case.palates, case.answers)

    @cache
    def interval(right: tuple[int, ...], confidence: float) -> ShareInterval:
        """Few different outcomes come again and again."""
        found = palate_interval(Palates(np.array(right), n), confidence=confidence)
        assert found is not None
        return found

    total = case.palates * case.answers
    held = dict.fromkeys(("general", "one_sided", "plain", "own", "lean_called", "lean_called_plain"), 0)
    for _ in range(runs):
        own = case.draw(rng)
        right = rng.binomial(case.answers, own)
        key = tuple(sorted(right.tolist()))
        general, plain = interval(key, 0.95), exact_interval(int(right.sum()), total)
        held["general"] += general.low <= case.share <= general.high
        held["one_sided"] += case.share <= interval(key, 0.9).high
        held["plain"] += plain.low <= case.share <= plain.high
        held["own"] += plain.low <= own.mean() <= plain.high
        held["lean_called"] += sign_flip_p(right, n - right) <= 0.05
        held["lean_called_plain"] += p_two_sided(int(right.sum()), total) <= 0.05
    if case.share != 0.5:
        held |= {"lean_called": None, "lean_called_plain": None}
    described = {"palates": case.palates, "answers": case.answers, "share": case.share, "unlike": case.unlike}
    return {**described, "runs": runs, **held}


if __name__ == "__main__":
    table = pl.DataFrame([count(case) for case in CASES], infer_schema_length=None)
    table.write_csv(Path(__file__).with_name("coverage.csv"))
