"""Firth's logistic regression against brglm2, and its profiles against a search in base R (tests/reference/firth)."""

from functools import cache
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from analysis.channeling.firth import FirthFit, fit_firth
from analysis.channeling.profile import (
    LogOdds,
    ProfileInterval,
    RiskDifference,
    likelihood_ratio,
    profile_interval,
)
from analysis.mixed.arrays import NoFit

REFERENCE = Path(__file__).parents[2] / "reference" / "firth"
CASES = ("endometrial", "birthwt", "separated", "practice")
ESTIMATE = 1e-6
"""brglm2 iterates to 1e-12 and the file holds 12 digits; both searches stop well inside this."""
PROFILE = 1e-4
"""R's side differentiates numerically inside a root search."""


@cache
def inputs(case):
    rows = pl.read_csv(REFERENCE / "inputs.csv", infer_schema_length=None).filter(pl.col("case") == case)
    columns = [rows[f"x{k}"].cast(float).to_numpy() for k in range(1, 5) if rows[f"x{k}"].null_count() == 0]
    return rows["y"].cast(float).to_numpy(), np.column_stack([np.ones(rows.height), *columns])


@cache
def expected(case):
    rows = pl.read_csv(REFERENCE / "expected.csv", infer_schema_length=None).filter(pl.col("case") == case)
    groups = rows.group_by("quantity", maintain_order=True).agg(pl.col("value"))
    return dict(groups.iter_rows())


@cache
def fitted(case):
    fit = fit_firth(*inputs(case))
    assert isinstance(fit, FirthFit)
    return fit


def one(p, k):
    return np.eye(p)[k]


@pytest.mark.parametrize("case", CASES)
def test_estimates_and_standard_errors_are_brglm2s(case):
    fit = fitted(case)

    assert fit.estimate == pytest.approx(expected(case)["estimate"], rel=ESTIMATE, abs=ESTIMATE)
    assert fit.estimate == pytest.approx(expected(case)["estimate_jeffreys"], rel=ESTIMATE, abs=ESTIMATE)
    assert fit.std_error == pytest.approx(expected(case)["std_error"], rel=ESTIMATE)
    assert fit.log_likelihood == pytest.approx(expected(case)["penalised_log_likelihood"][0], rel=1e-9)


@pytest.mark.parametrize("case", CASES)
def test_profile_intervals_are_those_of_the_search_in_r(case):
    fit = fitted(case)
    p = fit.estimate.size

    found = [profile_interval(fit, LogOdds(one(p, k))) for k in range(p)]

    assert [end.low for end in found] == pytest.approx(expected(case)["low"], rel=PROFILE, abs=PROFILE)
    assert [end.high for end in found] == pytest.approx(expected(case)["high"], rel=PROFILE, abs=PROFILE)


@pytest.mark.parametrize("case", CASES)
def test_likelihood_ratio_tests_are_those_of_the_search_in_r(case):
    fit = fitted(case)
    p = fit.estimate.size

    found = [likelihood_ratio(fit, LogOdds(one(p, k))) for k in range(p)]

    assert [test.statistic for test in found] == pytest.approx(expected(case)["statistic"], rel=PROFILE, abs=PROFILE)
    assert [test.p_value for test in found] == pytest.approx(expected(case)["p_value"], rel=PROFILE, abs=PROFILE)


@pytest.mark.parametrize("case", CASES)
def test_profiled_differences_of_risk_are_those_of_the_search_in_r(case):
    fit = fitted(case)
    at = fit.x.mean(axis=0)

    found = profile_interval(fit, RiskDifference(at, at + one(at.size, 1)))

    wanted = expected(case)
    assert found.estimate == pytest.approx(wanted["risk_difference"][0], rel=PROFILE, abs=PROFILE)
    assert found.low == pytest.approx(wanted["risk_difference_low"][0], rel=PROFILE, abs=PROFILE)
    assert found.high == pytest.approx(wanted["risk_difference_high"][0], rel=PROFILE, abs=PROFILE)


def test_the_published_endometrial_estimate_is_met():
    """Heinze & Schemper (2002), section 5.2: 2.929 for NV by Firth, where maximum likelihood gives infinity."""
    assert fitted("endometrial").estimate[1] == pytest.approx(2.929, abs=5e-4)


def test_one_share_is_drawn_toward_a_half_by_half_a_brew_each_way():
    """Firth (1993): with an intercept alone the risk is (k + 1/2) / (n + 1)."""
    y = np.repeat([1.0, 0.0], [3, 17])

    fit = fit_firth(y, np.ones((20, 1)))

    assert fit.risk == pytest.approx(np.full(20, 3.5 / 21), rel=1e-9)


def test_a_two_by_two_table_gets_half_a_brew_in_each_cell():
    """A saturated table: log odds ratio of the counts plus one half (Firth 1993, section 3.3)."""
    y = np.array([1.0] * 6 + [0.0] * 4 + [0.0] * 9)
    x = np.column_stack([np.ones(19), np.repeat([1.0, 0.0], [10, 9])])

    fit = fit_firth(y, x)

    assert fit.estimate[1] == pytest.approx(np.log(6.5 * 9.5 / (4.5 * 0.5)), rel=1e-8)


def test_units_of_a_column_do_not_matter():
    y, x = inputs("practice")
    grams_to_milligrams = np.array([1.0, 1.0, 1000.0, 1.0])

    fine = fit_firth(y, x * grams_to_milligrams)

    assert fine.estimate * grams_to_milligrams == pytest.approx(fitted("practice").estimate, rel=1e-7)
    end = profile_interval(fine, LogOdds(one(4, 2)))
    assert end.high * 1000 == pytest.approx(expected("practice")["high"][2], rel=PROFILE)


def test_columns_that_repeat_each_other_are_refused():
    y, x = inputs("practice")

    fit = fit_firth(y, np.column_stack([x, x[:, 1] - 2 * x[:, 2]]))

    assert isinstance(fit, NoFit)
    assert fit.reason == "some columns repeat each other"


def test_an_empty_column_is_refused():
    y, x = inputs("practice")

    assert isinstance(fit_firth(y, np.column_stack([x, np.zeros(y.size)])), NoFit)


def test_a_search_that_does_not_settle_is_said(monkeypatch):
    monkeypatch.setattr("analysis.channeling.firth.MOST_STEPS", 2)

    fit = fit_firth(*inputs("practice"))

    assert fit == NoFit("the search for the likeliest odds did not settle")


def test_an_end_that_is_not_found_is_said(monkeypatch):
    fit = fitted("practice")
    monkeypatch.setattr("analysis.channeling.firth.MOST_STEPS", 1)

    end = profile_interval(fit, LogOdds(one(4, 1)))

    assert isinstance(end, NoFit)
    assert "did not settle" in end.reason


@pytest.mark.slow
def test_profile_intervals_cover_the_truth():
    """500 sets of 60 brews, seed chosen before looking; binomial 99 % band about 95 % of 500: 0.925 to 0.975."""
    rng = np.random.default_rng(20261125)
    truth, inside, sets = 0.7, 0, 500
    for _ in range(sets):
        grind, dose = rng.normal(size=60), rng.normal(scale=0.3, size=60)
        risk = 1 / (1 + np.exp(-(-1.3 + truth * grind + 0.8 * dose)))
        y = (rng.random(60) < risk).astype(float)
        fit = fit_firth(y, np.column_stack([np.ones(60), grind, dose]))
        end = profile_interval(fit, LogOdds(one(3, 1)))
        assert isinstance(end, ProfileInterval)
        inside += end.low <= truth <= end.high

    assert 0.925 <= inside / sets <= 0.975
