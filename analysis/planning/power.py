"""Chances of seeing a difference, and brews it takes, where a closed form exists: noncentral t and F.

Cohen (1988), Statistical Power Analysis, chapters 2 and 8; sizes are solved for as real numbers and rounded up.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Literal

from scipy import optimize, stats

from schemas.problem import ProblemError

ALPHA = 0.05
POWER = 0.8
Sides = Literal["two-sided", "one-sided"]
Compared = Literal["two recipes", "pairs"]
MOST = 1e6


def chance_of_t(
    difference: float, std_error: float, df: float, *, alpha: float = ALPHA, sides: Sides = "two-sided"
) -> float:
    """Chance that a t test with `df` calls a true `difference` real; `alpha` where there is none."""
    if df <= 0:
        return 0.0
    shift = abs(difference) / std_error
    critical = float(stats.t.isf(alpha / (2 if sides == "two-sided" else 1), df))
    beyond = float(stats.nct.sf(critical, df, shift)) if shift else float(stats.t.sf(critical, df))
    if sides == "one-sided":
        return beyond
    below = float(stats.nct.cdf(-critical, df, shift)) if shift else float(stats.t.cdf(-critical, df))
    return beyond + (0.0 if math.isnan(below) else below)


def smallest_seen(std_error: float, df: float, *, power: float = POWER, alpha: float = ALPHA) -> float:
    """The difference that a two-sided t test with `df` sees with chance `power`; infinite without freedom."""
    if df <= 0:
        return math.inf
    reach = float(stats.t.isf(alpha / 2, df)) + float(stats.t.isf(1 - power, df))
    return float(
        optimize.brentq(lambda d: chance_of_t(d, std_error, df, alpha=alpha) - power, 0.0, 4 * reach * std_error)
    )


def power_of_means(
    n: float, difference: float, sd: float, *, compared: Compared = "two recipes", alpha: float = ALPHA,
    sides: Sides = "two-sided",
) -> float:  # fmt: skip
    """Chance of seeing a difference of means: `n` brews of each recipe, or `n` pairs whose differences have `sd`."""
    if compared == "pairs":
        return chance_of_t(difference, sd / math.sqrt(n), n - 1, alpha=alpha, sides=sides)
    return chance_of_t(difference, sd * math.sqrt(2 / n), 2 * n - 2, alpha=alpha, sides=sides)


def brews_for_means(
    difference: float, sd: float, *, compared: Compared = "two recipes", power: float = POWER, alpha: float = ALPHA,
    sides: Sides = "two-sided",
) -> float:  # fmt: skip
    """Brews of each recipe, or pairs, as a real number: round it up."""
    _check(difference, sd, power)
    return _solve(lambda n: power_of_means(n, difference, sd, compared=compared, alpha=alpha, sides=sides), power)


def power_of_anova(n: float, k: int, f: float, *, alpha: float = ALPHA) -> float:
    """Chance that one-way analysis of variance sees `k` recipes of `n` brews differ; `f` as Cohen has it.

    `f` is the standard deviation of the recipes' true means over that of the brews.
    """
    critical = float(stats.f.isf(alpha, k - 1, k * (n - 1)))
    return float(stats.ncf.sf(critical, k - 1, k * (n - 1), k * n * f**2))


def brews_for_anova(k: int, f: float, *, power: float = POWER, alpha: float = ALPHA) -> float:
    """Brews of each of `k` recipes, as a real number: round it up."""
    if k < 2:
        raise ProblemError(f"It takes two recipes or more to compare, not {k}.")
    _check(f, 1.0, power)
    return _solve(lambda n: power_of_anova(n, k, f, alpha=alpha), power)


def spread_of_extremes(k: int, difference: float, sd: float) -> float:
    """Cohen's f where two of `k` recipes lie `difference` apart and the others half way: the least the F test sees."""
    return difference / sd / math.sqrt(2 * k)


def _check(difference: float, sd: float, power: float) -> None:
    if not (math.isfinite(difference) and difference != 0):
        raise ProblemError("The difference that matters must be a number other than 0.")
    if not (math.isfinite(sd) and sd > 0):
        raise ProblemError("The spread from brew to brew must be a number above 0.")
    if not ALPHA < power < 1:
        raise ProblemError(f"The chance of seeing it must lie between {ALPHA:g} and 1, such as 0.8; it is {power:g}.")


def _solve(chance: Callable[[float], float], power: float) -> float:
    """The size at which `chance` reaches `power`, from 1.001 (barely any freedom) up."""
    low, high = 1.001, 2.0
    if chance(low) >= power:
        return low
    while chance(high) < power:
        high *= 2
        if high > MOST:
            raise ProblemError("It would take more than a million brews; choose a larger difference.")
    return float(optimize.brentq(lambda n: chance(n) - power, low, high, xtol=1e-10, rtol=1e-12))
