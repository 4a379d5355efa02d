"""Lines of one brew ratio on strength against yield, by the mass balance of the panel.

Percolation: all that dissolved is in the cup, strength = yield / ratio, ratio = grams in the cup per gram of dose.
Full immersion: the liquid that the grounds hold is as strong as the cup, strength = yield / (ratio + yield), with the
yield as a fraction and ratio = grams of water per gram of dose. Both are the balances of `analysis.extraction`, solved
for strength.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from analysis.charts.domain import Domain
from schemas.methods import MassBalance

NICE_STEPS = (0.05, 0.1, 0.2, 0.25, 0.5, 1.0, 2.0, 2.5, 5.0, 10.0, 20.0, 50.0)
FEWEST_LINES, MOST_LINES = 3, 6
POINTS_A_LINE: dict[MassBalance, int] = {"percolation": 2, "immersion": 9}
"""Lines of one ratio are straight under percolation and bend a little under full immersion."""


@dataclass(frozen=True, slots=True)
class RatioLine:
    """One ratio and its line inside the panel: yields (%) and strengths (%), rising."""

    ratio: float
    yields_pct: tuple[float, ...]
    strengths_pct: tuple[float, ...]

    @property
    def label(self) -> str:
        """The ratio as people write it."""
        return f"1 to {self.ratio:g}"


def strength_at(yield_pct: float, ratio: float, balance: MassBalance) -> float:
    """Strength (%) of a brew with this yield (%) and ratio.

    >>> strength_at(20.0, 2.0, "percolation"), round(strength_at(20.0, 16.0, "immersion"), 3)
    (10.0, 1.235)
    """
    if balance == "percolation":
        return yield_pct / ratio
    return 100 * yield_pct / (100 * ratio + yield_pct)


def ratio_at(yield_pct: float, strength_pct: float, balance: MassBalance) -> float:
    """The ratio whose line passes through this yield and strength (both %, strength above zero).

    >>> ratio_at(20.0, 10.0, "percolation")
    2.0
    """
    share = yield_pct / strength_pct
    return share if balance == "percolation" else share * (1 - strength_pct / 100)


def yield_at(strength_pct: float, ratio: float, balance: MassBalance) -> float:
    """Yield (%) of a brew with this strength (%) and ratio; the inverse of `strength_at`.

    >>> yield_at(10.0, 2.0, "percolation")
    20.0
    """
    return strength_pct * ratio if balance == "percolation" else strength_pct * ratio / (1 - strength_pct / 100)


def ratio_lines(yields: Domain, strengths: Domain, balance: MassBalance) -> tuple[RatioLine, ...]:
    """Three to six lines of round ratios that cross the panel (fewer where no round step gives three)."""
    floor = max(strengths.low, strengths.high / 20)
    low = ratio_at(max(yields.low, yields.high / 20), strengths.high, balance)
    high = ratio_at(yields.high, floor, balance)
    best: tuple[RatioLine, ...] = ()
    for step in reversed(NICE_STEPS):
        ratios = [round(step * k, 4) for k in range(math.floor(low / step) + 1, math.ceil(high / step))]
        lines = [_line(ratio, yields, strengths, balance) for ratio in ratios[:50]]
        found = tuple(line for line in lines if line is not None)
        if len(found) > MOST_LINES:
            return best or found[:: -(-len(found) // MOST_LINES)]
        best = found
        if len(found) >= FEWEST_LINES:
            break
    return best


def _line(ratio: float, yields: Domain, strengths: Domain, balance: MassBalance) -> RatioLine | None:
    start = max(yields.low, yield_at(max(strengths.low, 0.0), ratio, balance))
    end = min(yields.high, yield_at(strengths.high, ratio, balance))
    if end - start < 0.15 * (yields.high - yields.low):
        return None
    n = POINTS_A_LINE[balance]
    xs = [start + (end - start) * k / (n - 1) for k in range(n)]
    return RatioLine(
        ratio,
        tuple(round(x, 4) for x in xs),
        tuple(round(strength_at(x, ratio, balance), 4) for x in xs),
    )
