"""Where a curve has its top: Fieller's closed form done by hand, the bootstrap, and every way there can be none."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import optimize, stats

from analysis.effects.estimate import estimate_effects
from analysis.effects.request import EffectsRequest
from analysis.effects.top import Top, fieller

YIELD = "extraction_yield_pct"
GRIND = "grind_steps_finer"


def _top(facts) -> Top:
    (top,) = estimate_effects(facts, EffectsRequest(YIELD, (GRIND,), curves=(GRIND,))).tops
    return top


def _curved(make_facts, *, top: float, bend: float, noise: float, seed: int = 5, coffees: int = 1, n: int = 42):
    """Yields about a curve with its top at `top` steps, grind -3 to 3 in whole steps."""
    rng = np.random.default_rng(seed)
    grind = np.tile(np.arange(-3.0, 4.0), n // 7)
    level = rng.normal(size=coffees)
    coffee = np.arange(n) // 7 % coffees
    y = 20 + level[coffee] - bend * (grind - top) ** 2 + noise * rng.normal(size=n)
    return make_facts(n, coffee_id=[f"c{k}" for k in coffee], grind_steps_finer=grind, extraction_yield_pct=y)


def test_fieller_on_a_ratio_of_means():
    """Fieller (1954): independent means 10 (se 1) and 5 (se 0.5), critical 2.

    g = 4 * 0.25 / 25 = 0.04; ends (2 -+ 2/5 sqrt(1 + 4 * 0.25 - 0.04 * 1)) / (1 - 0.04), by hand.
    """
    root = 0.4 * np.sqrt(1 * (1 - 0.04) + 4 * 0.25)
    low, high = fieller(10, 5, 1.0, 0.25, 0.0, critical=2.0)

    assert (low, high) == pytest.approx(((2 - root) / 0.96, (2 + root) / 0.96), rel=1e-12)
    assert fieller(10, 0.5, 1.0, 0.25, 0.0, critical=2.0) is None


def test_the_interval_holds_exactly_the_places_where_a_zero_slope_is_not_refuted(make_facts):
    """By definition and without the formula: move the origin to a place, refit, and ask whether the slope there is 0.

    One coffee: least squares with HC3 errors by statsmodels, t(n - 3); its ends are found by bisection.
    """
    from statsmodels.regression.linear_model import OLS

    facts = _curved(make_facts, top=0.8, bend=0.12, noise=0.4)
    grind, y = facts[GRIND].to_numpy(), facts[YIELD].to_numpy()

    def beyond(place: float) -> float:
        x = np.column_stack([np.ones(grind.size), grind - place, (grind - place) ** 2])
        fit = OLS(y, x).fit(cov_type="HC3")
        return float(abs(fit.params[1] / fit.bse[1]) - stats.t.ppf(0.975, grind.size - 3))

    found = _top(facts)
    quadratic = np.polyfit(grind, y, 2)

    assert found.kind == "inside"
    assert found.place == pytest.approx(-quadratic[1] / (2 * quadratic[0]), rel=1e-8)
    assert found.low == pytest.approx(optimize.brentq(beyond, found.place - 3, found.place), rel=1e-6)
    assert found.high == pytest.approx(optimize.brentq(beyond, found.place, found.place + 3), rel=1e-6)
    assert found.sentence.startswith("curve of grind: top at ")
    assert found.sentence.endswith(", 42 brews, for this coffee")


def test_a_parametric_bootstrap_of_the_mixed_model_agrees(make_facts):
    """Four coffees: 4,000 sets drawn from the fitted model, levels and scatter; percentiles of the refitted top.

    Each draw keeps the coffees' levels in, so least squares with a level for each coffee finds the same top as the
    mixed model in this balanced layout.
    """
    facts = _curved(make_facts, top=0.6, bend=0.15, noise=0.5, coffees=4, n=84)
    result = estimate_effects(facts, EffectsRequest(YIELD, (GRIND,), curves=(GRIND,)))
    (found,) = result.tops
    grind = facts[GRIND].to_numpy()
    x = np.column_stack([np.eye(4)[np.arange(84) // 7 % 4], grind, grind**2])
    fitted = x @ np.linalg.lstsq(x, facts[YIELD].to_numpy(), rcond=None)[0]
    rng = np.random.default_rng(20261125)
    drawn = np.linalg.lstsq(x, fitted[:, None] + result.sigma * rng.normal(size=(84, 4000)), rcond=None)[0]
    low, high = np.percentile(-drawn[4] / (2 * drawn[5]), [2.5, 97.5])

    assert (found.low, found.high) == pytest.approx((low, high), abs=0.05 * (high - low))


def test_no_top_inside_the_range(make_facts):
    found = _top(_curved(make_facts, top=6.0, bend=0.05, noise=0.1))

    assert found.kind == "outside"
    assert found.sentence.startswith(
        "curve of grind: no top inside the range you brewed (-3 to 3 steps finer than the reference); it is best at "
        "the highest setting there"
    )
    assert "reaches into" not in found.sentence


def test_a_curve_that_bends_up_has_no_top(make_facts):
    found = _top(_curved(make_facts, top=0.0, bend=-0.2, noise=0.2))

    assert (found.kind, found.place, found.low) == ("none", None, None)
    assert "no top inside the range you brewed (-3 to 3 steps finer than the reference); it bends up" in found.sentence


def test_brews_that_do_not_settle_whether_there_is_a_bend(make_facts):
    found = _top(_curved(make_facts, top=0.0, bend=0.0, noise=1.0))

    assert (found.kind, found.place) == ("not settled", None)
    assert found.sentence == (
        "curve of grind: these brews do not settle whether it has a top, 42 brews, for this coffee"
    )


def test_an_interval_that_reaches_beyond_the_settings_says_so(make_facts):
    found = _top(_curved(make_facts, top=2.4, bend=0.08, noise=0.5))

    assert found.high is not None
    assert found.high > 3
    assert found.low is not None
    assert f", 95 % interval above {found.low:.1f}, up to beyond the highest setting brewed (3), " in found.sentence
    assert f"{found.high:.1f}" not in found.sentence


@pytest.mark.parametrize("seed", range(300, 303))
def test_the_interval_covers(make_facts, seed):
    """120 campaigns of four coffees, a block of 3 x 120: at least 108 of each 120 hold the true top (99.8 % chance)."""
    held = 0
    for k in range(120):
        found = _top(_curved(make_facts, top=0.6, bend=0.15, noise=0.5, coffees=4, n=56, seed=1000 * seed + k))
        held += found.low is not None and found.low <= 0.6 <= found.high
    assert held >= 108
