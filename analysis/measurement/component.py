"""Lines of an uncertainty budget, and what they come to together: JCGM 100:2008, 5.1.2 and annex G.4."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from scipy.special import ndtri, stdtrit

from schemas.problem import ProblemError

Kind = Literal["A", "B"]
Distribution = Literal["normal", "rectangular", "triangular"]
LEVEL = 0.95
WHOLE = 1e-9
"""Degrees of freedom this near below a whole number are that number."""


@dataclass(frozen=True, slots=True)
class Component:
    """One line of a budget: one error, its standard uncertainty, and how far it moves the result.

    `u` is in the input's unit, `sensitivity` the change of the result for one unit of it, `df` infinite for type B.
    `group` is the measured quantity it belongs to, for shares. `shared` names the instrument whose error is the same
    in every result it measured; empty where each result has its own. Lines of one `pool` rest on one estimate of
    scatter, so that their degrees of freedom count once.
    """

    name: str
    u: float
    sensitivity: float
    df: float
    kind: Kind
    group: str
    shared: str = ""
    pool: str = ""

    @property
    def contribution(self) -> float:
        """Standard uncertainty that this line alone gives the result, in the result's unit; signed."""
        return self.sensitivity * self.u


@dataclass(frozen=True, slots=True)
class Budget:
    """A result with its standard and expanded uncertainty, all in `unit`, and the lines they come from.

    `df` are the effective degrees of freedom; `expanded_u` is `coverage_factor * u`, for an interval at `level`.
    """

    value: float
    unit: str
    components: tuple[Component, ...]
    u: float
    df: float
    coverage_factor: float
    expanded_u: float
    level: float = LEVEL

    @property
    def low(self) -> float:
        """Lower end of the interval."""
        return self.value - self.expanded_u

    @property
    def high(self) -> float:
        """Upper end of the interval."""
        return self.value + self.expanded_u

    def shares(self) -> dict[str, float]:
        """Share of the variance by group, 0 to 1, largest first; empty where there is no uncertainty at all."""
        variance: defaultdict[str, float] = defaultdict(float)
        for part in self.components:
            variance[part.group] += part.contribution**2
        whole = math.fsum(variance.values())
        ordered = sorted(variance.items(), key=lambda item: (-item[1], item[0]))
        return {group: part / whole for group, part in ordered} if whole > 0 else {}


def combine(value: float, components: Sequence[Component], *, unit: str, level: float = LEVEL) -> Budget:
    """The budget of a result: independent errors, first order (5.1.2), coverage by Student's t (G.4).

    >>> one = Component("a", u=3.0, sensitivity=1.0, df=math.inf, kind="B", group="a")
    >>> two = Component("b", u=2.0, sensitivity=2.0, df=math.inf, kind="B", group="b")
    >>> budget = combine(10.0, [one, two], unit="g")
    >>> budget.u, round(budget.coverage_factor, 2)
    (5.0, 1.96)
    """
    for part in components:
        if not (math.isfinite(part.u) and part.u >= 0 and math.isfinite(part.sensitivity) and part.df > 0):
            raise ProblemError(
                f"{part.name}: a standard uncertainty of {part.u}, a sensitivity of {part.sensitivity} and {part.df} "
                "degrees of freedom make no line of a budget. Give a number of 0 or more, and at least one repeat."
            )
    u = math.sqrt(math.fsum(part.contribution**2 for part in components))
    df = effective_df(components)
    factor = coverage_factor(df, level=level)
    return Budget(value, unit, tuple(components), u, df, factor, factor * u, level)


def effective_df(components: Iterable[Component]) -> float:
    """Welch-Satterthwaite (G.2b), infinite where nothing was estimated from repeats; one pool counts once.

    Lines of one pool that lean on its repeats unlike much count with the fewest degrees of freedom among them.

    >>> lines = [(25.0, 18), (9.7, 25.6), (2.9, 50), (16.6, 2)]
    >>> round(effective_df([Component("", u, 1.0, df, "A", "") for u, df in lines]), 2)
    16.76
    """
    variances: defaultdict[str, float] = defaultdict(float)
    fewest: defaultdict[str, float] = defaultdict(lambda: math.inf)
    for position, part in enumerate(components):
        pool = part.pool or f"#{position}"
        variances[pool] += part.contribution**2
        fewest[pool] = min(fewest[pool], part.df)
    whole = math.fsum(variances.values())
    spread = math.fsum(variance**2 / fewest[pool] for pool, variance in variances.items())
    return whole**2 / spread if spread > 0 else math.inf


def whole_df(df: float) -> float:
    """Degrees of freedom cut to the next lower whole number, at least 1 (G.4.1); infinite stays infinite."""
    return max(math.floor(df + WHOLE), 1) if math.isfinite(df) else df


def coverage_factor(df: float, *, level: float = LEVEL) -> float:
    """Two-sided quantile of Student's t for `whole_df`, of the normal distribution where df is infinite.

    >>> round(coverage_factor(16.76, level=0.99), 4), round(coverage_factor(math.inf), 4)
    (2.9208, 1.96)
    """
    upper = (1 + level) / 2
    return float(stdtrit(whole_df(df), upper)) if math.isfinite(df) else float(ndtri(upper))


def share_words(shares: Mapping[str, float]) -> str:
    """Shares in whole percent, largest first; what rounds to nothing is left out.

    >>> share_words({"TDS": 0.8127, "beverage": 0.1462, "dose": 0.0399, "water": 0.0012})
    'TDS 81 %, beverage 15 %, dose 4 %'
    """
    percents = {group: round(100 * share) for group, share in shares.items()}
    return ", ".join(f"{group} {percent} %" for group, percent in percents.items() if percent > 0)
