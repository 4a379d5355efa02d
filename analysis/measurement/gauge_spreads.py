"""The parts of a gauge study's spread: variance, interval, and share of the whole."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from analysis.effects.fit import Floats
from analysis.measurement.gauge_intervals import mls_bounds, share_bounds
from analysis.measurement.gauge_mixed import MixedComponents
from analysis.measurement.gauge_squares import MeanSquares, Term, with_sums
from analysis.words import number

NAME_OF: dict[Term, str] = {
    "repeat": "repeatability",
    "reader": "reader",
    "interaction": "interaction",
    "brew": "brew_to_brew",
}


@dataclass(frozen=True, slots=True)
class Spread:
    """One part of the spread: `variance` in (% TDS)^2 with its interval and how that was made.

    `raw` is the variance before a negative one was set to zero. Shares are percent of the study's total variance
    (these add up) and of its total standard deviation, the "study variation" (these do not); None with one brew.
    """

    name: str
    variance: float
    raw: float
    low: float
    high: float
    interval: str
    share_of_variance_pct: float | None = None
    share_of_spread_pct: float | None = None

    @property
    def sd(self) -> float:
        """Standard deviation in % TDS."""
        return math.sqrt(self.variance)

    @property
    def sd_low(self) -> float:
        """Lower end of the standard deviation in % TDS."""
        return math.sqrt(self.low)

    @property
    def sd_high(self) -> float:
        """Upper end of the standard deviation in % TDS."""
        return math.sqrt(self.high)


@dataclass(frozen=True, slots=True)
class GaugeShare:
    """The gauge's percent of the study variation (of standard deviations) with its interval."""

    pct: float
    low_pct: float
    high_pct: float


def spreads_of(found: MeanSquares, mixed: MixedComponents | None, *, balanced: bool, level: float) -> dict[str, Spread]:
    """Every part with its interval: variances from the mean squares, or from the mixed model where there is one.

    Measured (tests/reference/gauge), intervals on the mean squares hold the truth also where readings are missing;
    Satterthwaite's on the mixed model held a small reader variance three times in four. Where the mixed model's
    estimate falls outside, the interval is stretched to hold it, and says so.
    """
    weights = found.weights()
    raw = {name: float(w @ found.mean[:, 0]) for name, w in weights.items()}
    if mixed is None:
        parts = with_sums({term: max(raw[NAME_OF[term]], 0.0) for term in found.terms})
    else:
        parts = raw = with_sums(mixed.variance)
    spreads = {}
    for name, w in weights.items():
        bounds = mls_bounds(w, found, level=level)
        low, high, made = float(bounds.low[0]), float(bounds.high[0]), _made_words(w, balanced)
        if mixed is not None and not low <= parts[name] <= high:
            low, high = min(low, parts[name]), max(high, parts[name])
            made = f"{made}, stretched to the estimate of the mixed model"
        spreads[name] = Spread(name, parts[name], raw[name], low, high, made)
    return spreads


def _made_words(weights: Floats, balanced: bool) -> str:
    if (weights != 0).sum() == 1:
        return "chi-square, exact"
    return "modified large-sample" if balanced else "modified large-sample, on adjusted mean squares"


def at_least_the_step(spreads: Mapping[str, Spread], step_pct: float | None) -> tuple[dict[str, Spread], str, float]:
    """The parts with a repeatability no smaller than the display step allows; a note and by how much that raised it.

    A display step is uniform over its width: variance step^2 / 12 (JCGM 100:2008, 4.3.7).
    """
    lacking = (step_pct or 0.0) ** 2 / 12 - spreads["repeatability"].variance
    if lacking <= 0:
        return dict(spreads), "", 0.0
    raised = {
        name: replace(part, variance=part.variance + lacking, low=part.low + lacking, high=part.high + lacking)
        if name in ("repeatability", "gauge", "total")
        else part
        for name, part in spreads.items()
    }
    note = (
        f"the repeats scatter less than a display step of {step_pct:g} % TDS can show, so repeatability is the step's "
        f"own {number(raised['repeatability'].sd, 4)} % TDS"
    )
    return raised, note, lacking


def with_shares(spreads: Mapping[str, Spread]) -> dict[str, Spread]:
    """The parts with their shares of the total, where there is one."""
    total = spreads["total"].variance if "total" in spreads else 0.0
    if total <= 0:
        return dict(spreads)
    return {
        name: replace(
            part,
            share_of_variance_pct=100 * part.variance / total,
            share_of_spread_pct=100 * math.sqrt(part.variance / total),
        )
        for name, part in spreads.items()
    }


def gauge_share(found: MeanSquares, spreads: Mapping[str, Spread], *, hidden: float, level: float) -> GaugeShare | None:
    """The gauge's share of the study variation with its interval, which always holds the estimate.

    None with one brew. `hidden` is the variance below the display's step.
    """
    pct = spreads["gauge"].share_of_spread_pct
    if pct is None:
        return None
    weights = found.weights()
    bounds = share_bounds(weights["gauge"], weights["total"], found, hidden=hidden, level=level)
    low, high = (100 * math.sqrt(float(end[0])) for end in (bounds.low, bounds.high))
    return GaugeShare(pct, min(low, pct), max(high, pct))
