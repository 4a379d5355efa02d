"""Mass closure: residuals worked by hand, their uncertainty, verdicts, pooled residuals, and what cannot be judged."""

from __future__ import annotations

import math

import numpy as np
import polars as pl
import pytest
from scipy import stats
from uncertainties import ufloat

from analysis.measurement.closure import mass_closure
from schemas.lab import LabSettings
from tests.analysis.measurement.made_up_weights import SCALES, Weights, facts_of

BY_HAND = Weights(dose=15.0, water=250.0, beverage=219.5, spent=44.0, t=0.0135)
DEFAULTS = LabSettings(default_u={"dose_g": 0.05, "beverage_g": 0.2, "water_g": 0.5})


def closure(facts, settings=None):
    return mass_closure(facts, SCALES, settings=settings or LabSettings())


def residual(settings=None, scale="bench", **changes):
    facts = facts_of({"a": BY_HAND}, scale=scale).with_columns(
        **{name: pl.lit(value) for name, value in changes.items()}
    )
    return closure(facts, settings).residuals.row(0, named=True)


@pytest.mark.parametrize(
    ("changes", "grams"),
    [
        ({}, 1.5),  # 15 + 250 - 219.5 - 44
        ({"evaporated_g": 1.2}, 0.3),
        # 80 g of bypass in the weighed beverage: 15 + 250 - (299.5 - 80) - 44
        ({"beverage_g": 299.5, "bypass_g": 80.0, "bypass_included": True}, 1.5),
        ({"bypass_g": 80.0, "bypass_included": False}, 1.5),  # not weighed with the beverage: it counts nowhere
        ({"tds_pct": None, "retained_g": None, "retained_ratio": None}, 1.5),  # dissolved matter cancels
    ],
)
def test_residuals_by_hand(changes, grams):
    row = residual(**changes)
    assert row["residual_g"] == pytest.approx(grams)
    assert row["residual_pct"] == pytest.approx(grams / 2.5)


@pytest.mark.parametrize(
    ("changes", "n_masses"),
    [
        ({}, 4),
        ({"evaporated_g": 1.2}, 5),
        ({"beverage_g": 299.5, "bypass_g": 80.0, "bypass_included": True}, 5),
        ({"bypass_g": 80.0, "bypass_included": False}, 4),
    ],
)
def test_uncertainty_counts_every_weighing_once_and_each_display_twice(changes, n_masses):
    one = ufloat(0, math.sqrt(0.1**2 + 2 * 0.1**2 / 12)).s
    weights = [ufloat(0, one) for _ in range(n_masses)]
    assert residual(**changes)["residual_u_g"] == pytest.approx(sum(weights).s)


def test_uncertainty_is_the_spread_of_drawn_weighings():
    """300,000 brews on the bench scale; the sd's own error is 0.13 %."""
    rng = np.random.default_rng(8)
    n, total = 300_000, 0.0
    for sign in (1, 1, -1, -1):
        display = 0.1 * (rng.uniform(-0.5, 0.5, n) + rng.uniform(-0.5, 0.5, n))
        total = total + sign * (rng.normal(0, 0.1, n) + display)
    assert residual()["residual_u_g"] == pytest.approx(total.std(ddof=1), rel=5e-3)


def test_defaults_of_the_lab_stand_in_for_a_scale():
    # water's 0.5 g also for the grounds: 0.05^2 + 0.2^2 + 2 * 0.5^2
    assert residual(DEFAULTS, scale=None)["residual_u_g"] == pytest.approx(math.sqrt(0.05**2 + 0.2**2 + 2 * 0.5**2))


@pytest.mark.parametrize(
    # u of four weighings on the bench scale is 0.216 g, twice that 0.432 g; the residual is 1.5 g less what evaporated.
    ("evaporated_g", "closes"),
    [(0.9, False), (1.1, True), (1.9, True), (2.1, False)],
)
def test_the_verdict_is_twice_the_uncertainty_either_way(evaporated_g, closes):
    row = residual(evaporated_g=evaporated_g)
    assert row["residual_u_g"] == pytest.approx(math.sqrt(5 * (0.01 + 0.01 / 6)))
    assert row["closes"] is closes


@pytest.mark.parametrize(
    ("changes", "scale", "words"),
    [
        ({"water_g": None}, "bench", "water_g is empty"),
        ({"water_g": None, "beverage_g": None}, "bench", "water_g is empty; beverage_g is empty"),
        ({"bypass_g": 80.0}, "bench", "bypass_included is empty"),
        ({"method": "boiled"}, "bench", "a boiled brew without evaporated_g"),
        ({}, None, "no scale_id and no lab default: no uncertainty, so no verdict"),
        ({}, "unheard of", "unheard of has no standard_uncertainty: no verdict"),
    ],
)
def test_what_cannot_be_judged_says_why(changes, scale, words):
    row = residual(scale=scale, **changes)
    assert row["closes"] is None
    assert words in row["closure_note"]


def test_masses_without_scale_or_default_count_as_exact_and_are_named():
    row = residual(LabSettings(default_u={"water_g": 0.5}), scale=None)
    assert row["residual_u_g"] == pytest.approx(math.sqrt(2) * 0.5)
    assert row["closure_note"] == "no scale_id and no lab default for dose_g, beverage_g: counted as exact"


def losing(*grams, **changes):
    return facts_of(
        {f"b{n:02d}": Weights(15.0, 250.0, 219.5, 45.5 - lost, 0.0135) for n, lost in enumerate(grams)}, **changes
    )


def test_the_pooled_residual_of_a_method_is_a_mean_over_brews():
    lost = [1.0, 1.4, 0.8, 1.2, 1.6]
    (method,) = closure(losing(*lost)).methods
    found = stats.ttest_1samp(lost, 0).confidence_interval(0.95)
    assert (method.method, method.n_brews, method.n_left_out) == ("pour_over", 5, 0)
    assert method.mean_g == pytest.approx(np.mean(lost))
    assert (method.low_g, method.high_g) == pytest.approx((found.low, found.high))
    assert (method.mean_pct, method.low_pct, method.high_pct) == pytest.approx(
        (np.mean(lost) / 2.5, found.low / 2.5, found.high / 2.5)
    )
    # 2 u = 0.432 g: none closes. Calibration 0.1 g on each of four masses.
    assert (method.n_judged, method.n_closed) == (5, 0)
    assert method.calibration_u_g == pytest.approx(0.2)


def test_one_brew_has_no_interval():
    (method,) = closure(losing(1.0)).methods
    assert (method.n_brews, method.mean_g, method.low_g, method.high_pct) == (1, pytest.approx(1.0), None, None)


def test_a_likely_weighing_error_stays_out_of_the_pooled_residual():
    found = closure(losing(1.0, 1.1, 0.9, 1.0, 1.05, 0.95, 1.1, 0.9, -59.0))
    (method,) = found.methods
    assert [one.brew_id for one in found.suspects] == ["b08"]
    assert (method.n_brews, method.n_left_out) == (8, 1)
    assert method.mean_g == pytest.approx(1.0)


def test_void_brews_count_nowhere():
    facts = losing(1.0, 1.2).with_columns(is_void=pl.col("brew_id") == "b01")
    found = closure(facts)
    assert found.residuals["brew_id"].to_list() == ["b00"]
    assert found.methods[0].n_brews == 1


def test_brews_without_spent_grounds_and_strength_are_counted_as_not_judged():
    facts = losing(1.0, 1.2).with_columns(
        pl.lit(None, pl.Float64).alias(name) for name in ("spent_wet_g", "retained_g", "retained_ratio")
    )
    found = closure(facts)
    assert (found.residuals.height, found.methods, found.screens, found.suspects) == (0, (), (), ())
    assert found.n_not_judged == 2


def test_no_brews_no_findings():
    found = closure(losing().clear() if losing().height else losing())
    assert (found.residuals.height, found.methods, found.screens, found.suspects, found.n_not_judged) == (
        0,
        (),
        (),
        (),
        0,
    )
