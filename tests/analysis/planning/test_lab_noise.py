"""The lab's own noise: what is left once coffee, session and settings are out."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

import numpy as np
import polars as pl
import pytest
from scipy import stats

from analysis.planning.noise import given_noise, lab_noise
from schemas.problem import ProblemError

# Davies and Goldsmith 1972 (check-values.md 3.2): six batches, five yields each.
DYESTUFF = {
    "A": (1545, 1440, 1440, 1520, 1580), "B": (1540, 1555, 1490, 1560, 1495), "C": (1595, 1550, 1605, 1510, 1560),
    "D": (1445, 1440, 1595, 1465, 1545), "E": (1595, 1630, 1515, 1635, 1625), "F": (1520, 1455, 1450, 1480, 1445),
}  # fmt: skip
WHEN = datetime(2026, 5, 4, 9, tzinfo=UTC)


def brews(**columns) -> pl.DataFrame:
    """Brews with these columns and what else the noise asks for."""
    n = len(next(iter(columns.values())))
    plain = {
        "brew_id": [f"b-{k}" for k in range(n)],
        "method": ["espresso"] * n,
        "is_void": [False] * n,
        "session_id": ["s"] * n,
        "coffee_id": ["ostrin"] * n,
        "brewed_at": [WHEN + timedelta(minutes=10 * k) for k in range(n)],
    }
    return pl.DataFrame(plain | columns)


def test_brew_and_coffee_spread_are_lme4_s_on_the_dyestuff_yields() -> None:
    # lme4: Batch 1764.050006, residual 2451.249999 (check-values.md 3.2; 1e-3 relative asked for, far less needed).
    facts = brews(
        coffee_id=[name for name, yields in DYESTUFF.items() for _ in yields],
        beverage_g=[float(value) for yields in DYESTUFF.values() for value in yields],
    )

    noise = lab_noise(facts, response="beverage_g", method="espresso")

    assert noise.brew_sd**2 == pytest.approx(2451.25, rel=1e-5)
    assert noise.coffee_sd**2 == pytest.approx(1764.05, rel=1e-5)
    assert noise.df == 24
    low, high = noise.interval()
    assert low == pytest.approx(math.sqrt(24 * noise.brew_sd**2 / stats.chi2.ppf(0.975, 24)))
    assert high == pytest.approx(math.sqrt(24 * noise.brew_sd**2 / stats.chi2.ppf(0.025, 24)))
    assert "30 brews of 6 coffees, with coffee taken out" in noise.said


def test_what_was_varied_does_not_count_as_noise() -> None:
    rng = np.random.default_rng(3)
    grind = np.tile([-2.0, -1.0, 0.0, 1.0, 2.0], 12)
    scatter = 0.4 * rng.standard_normal(60)
    facts = brews(grind_steps_finer=grind, extraction_yield_pct=20 + 1.5 * grind - 0.5 * grind**2 + scatter)

    noise = lab_noise(facts, response="extraction_yield_pct", method="espresso", settings=("grind_steps_finer",))

    # Least squares on 1, x, x^2: the residual spread of exactly that regression.
    x = np.column_stack([np.ones(60), grind, grind**2])
    rest = scatter - x @ np.linalg.lstsq(x, scatter, rcond=None)[0]
    assert noise.brew_sd == pytest.approx(math.sqrt(rest @ rest / 57))
    assert noise.df == 57
    assert "with grind taken out" in noise.said


def test_slopes_that_differ_by_coffee_are_told_from_the_brews_own_scatter() -> None:
    rng = np.random.default_rng(4)
    coffee = np.repeat(np.arange(12), 10)
    grind = np.tile([-1.0, 1.0], 60)
    slopes = 0.8 * rng.standard_normal(12)
    result = 20 + (1 + slopes[coffee]) * grind + 0.3 * rng.standard_normal(120)
    facts = brews(coffee_id=[f"c{k}" for k in coffee], grind_steps_finer=grind, extraction_yield_pct=result)

    asked = {"response": "extraction_yield_pct", "method": "espresso", "settings": ("grind_steps_finer",)}
    noise = lab_noise(facts, **asked, slopes=("grind_steps_finer",))

    # Balanced, so the within-coffee scatter is the pooled one of 10 - 2 degrees of freedom a coffee.
    within = sum(
        np.sum((part := result[(coffee == k) & (grind == g)] - result[(coffee == k) & (grind == g)].mean()) ** 2)
        for k in range(12)
        for g in (-1, 1)
    )
    assert part.size == 5
    assert noise.brew_sd == pytest.approx(math.sqrt(within / 96), rel=1e-6)
    assert noise.df == 96
    own = [
        (result[(coffee == k) & (grind == 1)].mean() - result[(coffee == k) & (grind == -1)].mean()) / 2
        for k in range(12)
    ]
    expected = np.var(own, ddof=1) - noise.brew_sd**2 / 10
    assert noise.slope_sds[0] ** 2 == pytest.approx(expected, rel=1e-4)


@pytest.mark.parametrize(
    ("facts", "response", "said"),
    [
        (brews(extraction_yield_pct=[20.0, 20.5]), "extraction_yield_pct", "2 brews of espresso"),
        (brews(extraction_yield_pct=[None] * 9), "extraction_yield_pct", "0 brews of espresso"),
        (brews(extraction_yield_pct=[20.0] * 9), "grind_setting", "not a result that can be planned for"),
        (
            brews(extraction_yield_pct=[20.0, 20.5, 19.5, 20.1, 20.2, 19.9], coffee_id=["a", "a", "b", "b", "c", "d"]),
            "extraction_yield_pct",
            "2 degrees of freedom",
        ),
    ],
)
def test_a_spread_that_cannot_be_known_is_refused_plainly(facts: pl.DataFrame, response: str, said: str) -> None:
    with pytest.raises(ProblemError) as refused:
        lab_noise(facts, response=response, method="espresso")

    assert said in str(refused.value)


def test_a_spread_somebody_names_is_taken_as_it_is() -> None:
    noise = given_noise(0.5, "extraction_yield_pct")

    assert (noise.brew_sd, noise.interval()) == (0.5, None)
    with pytest.raises(ProblemError, match="must be a number above 0"):
        given_noise(-1.0, "extraction_yield_pct")
