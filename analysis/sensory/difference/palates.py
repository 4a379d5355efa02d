"""Shares where palates answered several times: beta-binomial, since one palate's answers are more alike than others'.

Skellam (1948) J. R. Stat. Soc. B 10:257; for difference tests Ennis & Bi (1998) J. Sensory Studies 13:389.
The interval is a profile likelihood with the t quantile of as many palates; its coverage is measured in
tests/reference/difference_tests.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq, minimize_scalar
from scipy.stats import chi2, t

from analysis.sensory.difference.binomial import Counts, ShareInterval, exact_interval

Floats = npt.NDArray[np.float64]
FEWEST = 5
"""With fewer palates an interval for palates in general spans nearly everything."""
LEAST = 1e-9
MOST_ALIKE = 1 - 1e-6
GRID = np.concatenate([[0.0], np.linspace(0.0, 1.0, 41)[1:-1] ** 2, [MOST_ALIKE]])


@dataclass(frozen=True, slots=True)
class Alike:
    """How alike one palate's answers are: 0 as if by other palates, 1 always the same; `p` of the boundary test."""

    value: float
    p: float


class Palates:
    """Right answers `right` of `n` of each palate, shape (palates,), as sums that the likelihood needs."""

    def __init__(self, right: Counts, n: Counts) -> None:
        steps = np.arange(int(n.max()))[:, None]
        self.right, self.n, self.k = int(right.sum()), int(n.sum()), len(n)
        self.steps = steps.astype(float)
        self.hits = (right > steps).sum(axis=1)[:, None].astype(float)
        self.misses = ((n - right) > steps).sum(axis=1)[:, None].astype(float)
        self.asked = (n > steps).sum(axis=1)[:, None].astype(float)

    @property
    def repeated(self) -> bool:
        """Whether any palate answered more than once."""
        return self.n > self.k

    def log_likelihood(self, share: float, alike: Floats) -> Floats:
        """Beta-binomial log likelihood without its constant at each of `alike` (0 <= alike < 1): binomial at 0."""
        spread = self.steps * alike
        own = 1 - alike
        terms = (
            self.hits * np.log(share * own + spread)
            + self.misses * np.log((1 - share) * own + spread)
            - self.asked * np.log(own + spread)
        )
        return np.asarray(terms.sum(axis=0), dtype=np.float64)

    def best_alike(self, share: float) -> tuple[float, float]:
        """The likeliest `alike` at a share, and the log likelihood there: a grid, then a finer one around its best."""
        grid = GRID
        for _ in range(2):
            values = self.log_likelihood(share, grid)
            best = int(np.argmax(values))
            low, high = grid[max(best - 1, 0)], grid[min(best + 1, len(grid) - 1)]
            top = float(grid[best]), float(values[best])
            grid = np.linspace(low, high, 31)
        return top

    def profile(self, share: float) -> float:
        """Log likelihood at a share, maximised over `alike`."""
        return self.best_alike(share)[1]

    def best_share(self) -> float:
        """The likeliest share, where some answers are right and some wrong."""
        found = minimize_scalar(lambda share: -self.profile(share), bounds=(LEAST, 1 - LEAST), method="bounded")
        return float(found.x)


def alike(palates: Palates) -> Alike | None:
    """How alike the answers of one palate are, by maximum likelihood; None where nobody answered twice or none differ.

    The test against 0 halves the chi-square tail: 0 is the edge of what is possible (Self & Liang 1987).
    """
    if not palates.repeated or palates.right in (0, palates.n):
        return None
    value, at_best = palates.best_alike(palates.best_share())
    alone = float(palates.log_likelihood(palates.right / palates.n, np.zeros(1))[0])
    gain = max(0.0, 2 * (at_best - alone))
    return Alike(value, float(chi2.sf(gain, 1)) / 2 if gain > 0 else 1.0)


def palate_interval(palates: Palates, *, confidence: float = 0.95) -> ShareInterval | None:
    """Interval of the mean share of palates like these; None with fewer than `FEWEST` who answered several times.

    Exact (Clopper & Pearson) where each answered once. Where all answers are right, or all wrong, each palate
    counts as one answer: right every time is no likelier than right once, so that this errs on the wide side.
    """
    if not palates.repeated:
        return exact_interval(palates.right, palates.n, confidence=confidence)
    if palates.k < FEWEST:
        return None
    if palates.right in (0, palates.n):
        whole = exact_interval(palates.k if palates.right else 0, palates.k, confidence=confidence)
        return ShareInterval(palates.right / palates.n, whole.low, whole.high)
    best = palates.best_share()
    floor = palates.profile(best) - float(t.ppf((1 + confidence) / 2, palates.k - 1)) ** 2 / 2
    return ShareInterval(best, _end(palates.profile, floor, best, LEAST), _end(palates.profile, floor, best, 1 - LEAST))


def _end(profile: Callable[[float], float], floor: float, best: float, edge: float) -> float:
    """Where the profile falls to `floor` between `best` and an edge; the edge itself where it never does."""
    if profile(edge) >= floor:
        return float(round(edge))
    return float(brentq(lambda share: profile(share) - floor, *sorted((best, edge)), xtol=1e-6))


def sign_flip_p(first: Counts, second: Counts) -> float:
    """Two-sided exact p that neither cup is picked more by palates in general, palates answering any number of times.

    Each palate's surplus of one cup over the other is as likely to be turned round: every turning is counted (Fisher's
    randomization test). With one answer a palate this is the exact binomial test.

    >>> sign_flip_p(np.ones(6, dtype=int), np.zeros(6, dtype=int))
    0.03125
    """
    surplus = np.abs(first - second)
    ways = np.ones(1)
    for size in surplus:
        step = np.zeros(2 * int(size) + 1)
        step[0] += 0.5
        step[-1] += 0.5
        ways = np.convolve(ways, step)
    totals = np.arange(len(ways)) - len(ways) // 2
    seen = abs(int((first - second).sum()))
    return min(1.0, math.fsum(ways[np.abs(totals) >= seen]))
