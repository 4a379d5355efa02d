"""How many palates a difference test needs, each answering once, and what a test of a given size could show."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt
from scipy.stats import binom

from analysis.sensory.difference.binomial import Counts, allowed_right, needed_right
from analysis.sensory.difference.kinds import CHANCE, Kind, check_level, check_share
from schemas.problem import ProblemError

Floats = npt.NDArray[np.float64]
MOST = 100_000
"""More palates than any test will ever have."""


def chance_to_show(n: Counts, kind: Kind, *, tellers: float, level: float = 0.05) -> Floats:
    """Power: probability of a significant result for each n where a share `tellers` of palates can tell.

    >>> chance_to_show(np.array([3]), "triangle", tellers=0.4).round(4).tolist()
    [0.216]
    """
    chance = CHANCE[kind]
    return np.asarray(binom.sf(needed_right(n, chance=chance, level=level) - 1, n, chance + tellers * (1 - chance)))


def chance_to_prefer(n: Counts, *, share: float, level: float = 0.05) -> Floats:
    """Power of a two-sided paired test for each n where a share `share` of palates picks one cup."""
    needed = needed_right(n, chance=0.5, level=level / 2)
    return np.asarray(binom.sf(needed - 1, n, share) + binom.sf(needed - 1, n, 1 - share))


def chance_to_pass(n: Counts, kind: Kind, *, margin: float, level: float = 0.05) -> Floats:
    """Probability for each n that a similarity test passes where nobody can tell."""
    allowed = allowed_right(n, chance=CHANCE[kind], share=margin, level=level)
    return np.asarray(binom.cdf(allowed, n, CHANCE[kind]))


def palates_to_show(kind: Kind, *, tellers: float, power: float = 0.8, level: float = 0.05) -> int:
    """Fewest palates from which on the chance to show a difference never falls under `power`.

    The exact power is a sawtooth: it dips each time one more right answer is asked for.

    >>> palates_to_show("triangle", tellers=0.5)
    16
    """
    _check(level=level, power=power, tellers=tellers)
    return _from_which_on(lambda n: chance_to_show(n, kind, tellers=tellers, level=level), power)


def palates_to_prefer(*, share: float, power: float = 0.8, level: float = 0.05) -> int:
    """Fewest palates from which on a share of `share` picking one cup is shown with `power`, two-sided."""
    _check(level=level, power=power, share=share)
    if share == 0.5:
        raise ProblemError("An even split is no difference to be shown: name a share such as 0.7.")
    return _from_which_on(lambda n: chance_to_prefer(n, share=share, level=level), power)


def palates_to_pass(kind: Kind, *, margin: float, power: float = 0.8, level: float = 0.05) -> int:
    """Fewest palates from which on a similarity test passes with `power` where nobody can tell."""
    _check(level=level, power=power, margin=margin)
    return _from_which_on(lambda n: chance_to_pass(n, kind, margin=margin, level=level), power)


def _check(*, level: float, power: float, **shares: float) -> None:
    check_level(level)
    check_share(power, what="The chance of showing it")
    for name, share in shares.items():
        check_share(share, what=f"The {name}")


def _from_which_on(chance: Callable[[Counts], Floats], power: float) -> int:
    """One more than the last n that falls short, once a whole doubling of n has not."""
    most = 64
    while most <= 2 * MOST:
        short = np.flatnonzero(chance(np.arange(1, most + 1)) < power)
        last = int(short[-1]) + 1 if len(short) else 0
        if last <= most // 2:
            return last + 1
        most *= 2
    raise ProblemError(f"More than {MOST:,} palates would be needed: ask for a larger difference, or a lower chance.")
