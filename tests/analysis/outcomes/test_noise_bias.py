"""Expected bias of slopes against brews simulated with known errors, and against the closed form for one factor."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from analysis.outcomes.noise import FactorNoise, brew_variance, factor_noise
from analysis.outcomes.noise_bias import NoiseBias, noise_biases
from schemas.lab import LabSettings

SCALES = pl.DataFrame({"instrument_id": ["s-1"], "resolution": [0.1]})


def test_one_factor_shrinks_by_its_reliability() -> None:
    # Classical errors in one regressor: slope tends to b * (S - E) / S (textbook; here S = 4, E = 1, b = 2).
    noise = FactorNoise(("water_temp_c",), np.array([[1.0]]), np.array([0.0]))
    (bias,) = noise_biases([1.5], np.array([[400.0]]), noise=noise, n_free=100)
    assert bias.corrected == pytest.approx(2.0)
    assert bias.bias == pytest.approx(-0.5)
    assert bias.noise_share == pytest.approx(0.25)
    assert not bias.withheld


def test_weighing_alone_makes_a_slope_of_yield_on_ratio_and_the_correction_takes_it_away() -> None:
    rng = np.random.default_rng(20261)
    n, u_g = 400_000, 0.4
    dose, ratio = np.full(n, 18.0), rng.normal(2.0, 0.02, n)
    true_yield = 20.0 + 0.0 * ratio  # the ratio does nothing at all
    beverage = dose * ratio
    strength = true_yield * dose / beverage
    read_dose, read_beverage = dose + rng.normal(0, u_g, n), beverage + rng.normal(0, u_g, n)
    brews = pl.DataFrame(
        {
            "dose_g": read_dose,
            "beverage_ratio": read_beverage / read_dose,
            "extraction_yield_pct": strength * read_beverage / read_dose,
            "balance_used": "percolation",
            "scale_id": pl.Series([None] * n, dtype=pl.String),
        }
    ).with_columns(
        bypass_g=pl.lit(None, pl.Float64), water_ratio=pl.lit(None, pl.Float64), evaporated_g=pl.lit(None, pl.Float64),
        bypass_before_reading=pl.lit(None, pl.Boolean),
    )  # fmt: skip
    x, y = brews["beverage_ratio"].to_numpy(), brews["extraction_yield_pct"].to_numpy()
    squares = float(np.sum((x - x.mean()) ** 2))
    slope = float((x - x.mean()) @ y / squares)
    settings = LabSettings(default_u={"dose_g": u_g, "beverage_g": u_g})
    noise = factor_noise(brews, "extraction_yield_pct", ["beverage_ratio"], instruments=SCALES, settings=settings)
    (bias,) = noise_biases([slope], np.array([[squares]]), noise=noise, n_free=n - 1)
    assert slope > 7  # a large effect, all of it weighing noise
    assert bias.corrected == pytest.approx(0.0, abs=0.2)
    assert bias.withheld
    assert "not stated" in bias.sentence(step=0.1, unit="points", places=2)


def test_errors_of_two_factors_that_share_the_dose_are_undone_together() -> None:
    rng = np.random.default_rng(20262)
    n = 400_000
    dose, ratio = rng.normal(18.0, 0.5, n), rng.normal(2.0, 0.1, n)
    strength = (20.0 + 0.3 * (dose - 18) + 2.0 * (ratio - 2)) / ratio
    read_dose, read_beverage = dose + rng.normal(0, 0.2, n), dose * ratio + rng.normal(0, 0.5, n)
    brews = pl.DataFrame(
        {
            "dose_g": read_dose,
            "beverage_ratio": read_beverage / read_dose,
            "extraction_yield_pct": strength * read_beverage / read_dose,
        }
    ).with_columns(
        balance_used=pl.lit("percolation"), scale_id=pl.lit(None, pl.String), bypass_g=pl.lit(None, pl.Float64),
        water_ratio=pl.lit(None, pl.Float64), evaporated_g=pl.lit(None, pl.Float64),
        bypass_before_reading=pl.lit(None, pl.Boolean),
    )  # fmt: skip
    factors = ["dose_g", "beverage_ratio"]
    x = brews.select(factors).to_numpy()
    x = x - x.mean(axis=0)
    within = x.T @ x
    slopes = np.linalg.solve(within, x.T @ brews["extraction_yield_pct"].to_numpy())
    settings = LabSettings(default_u={"dose_g": 0.2, "beverage_g": 0.5})
    noise = factor_noise(brews, "extraction_yield_pct", factors, instruments=SCALES, settings=settings)
    found = noise_biases(list(slopes), within, noise=noise, n_free=n - 1)
    assert abs(slopes[0] - 0.3) > 0.05
    assert found[0].corrected == pytest.approx(0.3, abs=0.02)
    assert found[1].corrected == pytest.approx(2.0, abs=0.1)


def test_a_named_scale_counts_its_display_twice_and_its_bias_not_at_all() -> None:
    # Tare and load, each uniform over 0.1 g: 2 * 0.1^2 / 12 (JCGM 100:2008, 4.3.7).
    brews = pl.DataFrame({"scale_id": ["s-1", None]})
    variance = brew_variance(brews, "dose_g", SCALES, LabSettings(default_u={"dose_g": 0.3}))
    assert variance.tolist() == pytest.approx([2 * 0.01 / 12, 0.09])


def test_a_factor_that_is_all_noise_has_no_corrected_slope() -> None:
    noise = FactorNoise(("beverage_ratio",), np.array([[2.0]]), np.array([1.0]))
    (bias,) = noise_biases([3.0], np.array([[100.0]]), noise=noise, n_free=100)
    assert bias.withheld
    assert "hardly varied" in bias.sentence(step=0.1, unit="points", places=2)


def test_a_small_bias_is_not_worth_a_sentence() -> None:
    assert NoiseBias("dose_g", 1.0, 0.99, 0.01).sentence(step=1.0, unit="points", places=2) == ""
