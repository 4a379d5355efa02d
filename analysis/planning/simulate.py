"""Power of a mixed model by simulation: brew the plan many times over on paper, analyse it each time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import stats

from analysis.mixed.arrays import CONFIDENCE, Floats, Ints, NoFit
from analysis.mixed.model import RandomPart, fit_mixed_model
from analysis.planning.noise import Noise
from analysis.planning.power import ALPHA
from analysis.planning.strata import Layout


@dataclass(frozen=True)
class SimulatedPower:
    """How often the difference was called real: `seen` of `n` campaigns; `low` to `high` is the share's 95 % interval.

    `failed` campaigns could not be analysed and count as not seen.
    """

    seen: int
    n: int
    failed: int

    @property
    def share(self) -> float:
        """The share seen."""
        return self.seen / self.n

    def interval(self) -> tuple[float, float]:
        """95 % interval of the share (Clopper and Pearson 1934): what the number of simulations leaves open."""
        result = stats.binomtest(self.seen, self.n).proportion_ci(CONFIDENCE, method="exact")
        return float(result.low), float(result.high)


def simulate_power(
    layout: Layout, noise: Noise, *, coefficients: Floats, term: int, n: int, rng: np.random.Generator
) -> SimulatedPower:
    """Simulate `n` campaigns with true `coefficients` (p,) of the layout's terms; test column `term` in each.

    Fitted by REML as the brews will be: coffees, sessions, whole plots and slopes by coffee as variance components
    where the layout and the noise have them; t with Satterthwaite's degrees of freedom.
    """
    x = np.column_stack([layout.x, np.ones(layout.x.shape[0])])
    parts, sds = _parts(layout, noise)
    mean = layout.x @ coefficients
    contrast = np.zeros(x.shape[1])
    contrast[term] = 1.0
    seen = failed = 0
    for _ in range(n):
        y = mean + noise.brew_sd * rng.standard_normal(mean.size)
        for part, sd in zip(parts, sds, strict=True):
            y = y + sd * part.slope * rng.standard_normal(int(part.codes.max()) + 1)[part.codes]
        fit = fit_mixed_model(y, x, parts)
        if isinstance(fit, NoFit):
            failed += 1
        else:
            seen += fit.p_value(contrast) < ALPHA
    return SimulatedPower(int(seen), n, failed)


def _parts(layout: Layout, noise: Noise) -> tuple[list[RandomPart], list[float]]:
    ones = np.ones(layout.x.shape[0])
    found: list[tuple[RandomPart, float]] = []
    for name, codes, sd in (
        ("coffee", layout.coffees, noise.coffee_sd),
        ("session", layout.sessions, noise.session_sd),
        ("whole plot", layout.whole_plots, noise.whole_plot_sd),
    ):
        if codes is not None and _is_a_level(codes, found):
            found.append((RandomPart(name, codes, ones), sd))
    for place, sd in enumerate(noise.slope_sds):
        if sd > 0:
            found.append((RandomPart(f"slope {place} by coffee", layout.coffees, layout.x[:, place]), sd))
    return [part for part, _ in found], [sd for _, sd in found]


def _is_a_level(codes: Ints, found: list[tuple[RandomPart, float]]) -> bool:
    """Two levels or more, fewer than brews, and not the same grouping as one that is there already."""
    n_levels = len(np.unique(codes))
    same = any(len(np.unique(codes * (part.codes.max() + 1) + part.codes)) == n_levels == len(np.unique(part.codes))
               for part, _ in found)  # fmt: skip
    return 1 < n_levels < codes.size and not same
