"""The group-intercept fit against lme4 and lmerTest; see tests/reference/mixed/README.md for the tolerance."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest
from statsmodels.regression.mixed_linear_model import MixedLM

from analysis.effects import mixed
from analysis.effects.fit import Fit, NoFit
from analysis.effects.mixed import fit_mixed

RTOL = 1e-5
CASES = ["sleepstudy", "sleepstudy_unbalanced", "dyestuff", "cake", "brews", "brews_between", "brews_three_coffees"]
SINGULAR = ["dyestuff2_singular", "brews_singular"]


def _fit(reference, case: str) -> Fit:
    data = reference("mixed/inputs.csv").filter(case=case)
    columns = [data[name].to_numpy().astype(float) for name in ("x1", "x2", "x3", "x4") if not data[name].null_count()]
    x = np.column_stack([np.ones(data.height), *columns])
    fit = fit_mixed(data["y"].to_numpy(), x, data["group"].rank("dense").to_numpy().astype(np.int64))
    assert isinstance(fit, Fit)
    return fit


def _numbers(reference, case: str, quantity: str) -> np.ndarray:
    return reference("mixed/expected.csv").filter(case=case, quantity=quantity)["value"].to_numpy()


@pytest.mark.parametrize("case", [*CASES, "brews_curve"])
def test_estimates_errors_df_and_variances(reference, case):
    fit = _fit(reference, case)

    assert fit.kind == "mixed"
    assert fit.estimate == pytest.approx(_numbers(reference, case, "estimate"), rel=RTOL)
    assert fit.std_error == pytest.approx(_numbers(reference, case, "std_error"), rel=RTOL)
    assert fit.df == pytest.approx(_numbers(reference, case, "df"), rel=RTOL)
    assert fit.group_sd is not None
    assert [fit.group_sd**2, fit.sigma**2] == pytest.approx(_numbers(reference, case, "variance"), rel=RTOL)


def test_sleepstudy_and_dyestuff_as_published(reference):
    """lme4 1.1-31 (computed): absolute variances, not statsmodels' in units of the residual variance."""
    sleep, dye = _fit(reference, "sleepstudy"), _fit(reference, "dyestuff")

    assert [sleep.group_sd**2, sleep.sigma**2] == pytest.approx([1378.178514, 960.456579], rel=RTOL)
    assert sleep.std_error == pytest.approx([9.746716, 0.804221], abs=1e-5)
    # Closed form for the balanced layout: (MSB - MSW) / 5 and MSW.
    assert [dye.group_sd**2, dye.sigma**2] == pytest.approx([1764.05, 2451.25], rel=1e-8)
    assert (dye.estimate[0], dye.std_error[0]) == pytest.approx((1527.5, 19.38341218), rel=1e-8)
    assert dye.df[0] == pytest.approx(5, rel=1e-6)


@pytest.mark.parametrize("case", SINGULAR)
def test_singular_fit_is_lme4s(reference, case):
    assert _numbers(reference, case, "singular").tolist() == [1]
    fit = _fit(reference, case)

    assert fit.kind == "classical"
    assert fit.group_sd is None
    assert fit.estimate == pytest.approx(_numbers(reference, case, "estimate"), rel=1e-9)
    assert fit.std_error == pytest.approx(_numbers(reference, case, "std_error"), rel=1e-9)
    assert fit.df == pytest.approx(_numbers(reference, case, "df"), rel=1e-6)
    assert fit.sigma**2 == pytest.approx(_numbers(reference, case, "variance")[1], rel=1e-9)


def test_units_of_response_and_columns_do_not_matter(reference):
    data = reference("mixed/inputs.csv").filter(case="brews")
    y = data["y"].to_numpy()
    x = np.column_stack([np.ones(data.height), data["x1"], data["x2"], data["x3"]]).astype(float)
    codes = data["group"].rank("dense").to_numpy().astype(np.int64)
    scale = np.array([1.0, 1e4, 1e-5, 1.0])
    plain, moved = fit_mixed(y, x, codes), fit_mixed(y * 1e-4, x * scale, codes)

    assert isinstance(plain, Fit)
    assert isinstance(moved, Fit)
    assert moved.estimate * scale * 1e4 == pytest.approx(plain.estimate, rel=1e-6)
    assert moved.std_error * scale * 1e4 == pytest.approx(plain.std_error, rel=1e-6)
    assert moved.df == pytest.approx(plain.df, rel=1e-5)


def test_fitted_includes_the_shrunken_group_level(reference):
    """Balanced Dyestuff: each batch mean is shrunk by 5 s_b / (5 s_b + s_e) towards the grand mean."""
    data = reference("mixed/inputs.csv").filter(case="dyestuff")
    fit = _fit(reference, "dyestuff")
    share = 5 * 1764.05 / (5 * 1764.05 + 2451.25)
    means = data.select(pl.col("y").mean().over("group")).to_series().to_numpy()

    assert fit.fitted == pytest.approx(1527.5 + share * (means - 1527.5), rel=1e-9)
    assert fit.residual == pytest.approx(data["y"].to_numpy() - fit.fitted)
    assert fit.standardised == pytest.approx(fit.residual / fit.sigma)


def test_brews_that_repeat_each_other_exactly_have_no_fit():
    codes = np.repeat(np.arange(5), 4)
    y = np.array([1.0, 4, 2, 8, 5])[codes]

    assert fit_mixed(y, np.ones((20, 1)), codes) == NoFit(
        "the brews of a group repeat each other exactly, so nothing is left to judge an effect by"
    )


def test_without_statsmodels_start_the_answer_is_the_same(reference, monkeypatch):
    with_start = _fit(reference, "brews_between")
    monkeypatch.setattr(mixed, "_statsmodels", lambda *_, **__: None)
    without = _fit(reference, "brews_between")

    assert without.estimate == pytest.approx(with_start.estimate, rel=1e-7)
    assert without.df == pytest.approx(with_start.df, rel=1e-5)


def test_a_climb_that_does_not_arrive_gives_no_fit(reference, monkeypatch):
    data = reference("mixed/inputs.csv").filter(case="dyestuff")
    monkeypatch.setattr(mixed, "climb", lambda *_: None)
    fit = fit_mixed(data["y"].to_numpy().astype(float), np.ones((30, 1)), np.repeat(np.arange(6), 5))

    assert fit == NoFit("the mixed model did not converge, so its standard errors cannot be trusted")


@pytest.mark.parametrize("seed", range(40))
def test_small_noisy_sets_end_in_a_fit(seed):
    """Half of these have no spread between groups: each is singular or converged, never refused, never negative."""
    rng = np.random.default_rng(seed)
    codes = rng.integers(4, size=18)
    x = np.column_stack([np.ones(18), rng.normal(size=18)])
    y = x @ [20, 0.4] + (seed % 2) * rng.normal(size=4)[codes] + rng.normal(size=18)
    fit = fit_mixed(y, x, codes)

    assert isinstance(fit, Fit)
    assert np.all(fit.std_error > 0)
    assert np.all(fit.df > 0)
    assert (fit.group_sd is None) == (fit.kind == "classical")


@pytest.mark.parametrize(
    ("outcomes", "methods"), [(["no", "yes"], [None, "powell"]), (["raise", "no"], [None, "powell"])]
)
def test_statsmodels_default_then_powell_then_nothing(reference, monkeypatch, outcomes, methods):
    tried, real = [], MixedLM.fit

    def fit(self, *args, method=None, **more):
        outcome = outcomes[len(tried)]
        tried.append(method)
        if outcome == "raise":
            raise np.linalg.LinAlgError
        result = real(self, *args, **more)
        result.converged = outcome == "yes"
        return result

    monkeypatch.setattr(MixedLM, "fit", fit)
    data = reference("mixed/inputs.csv").filter(case="dyestuff")
    start = mixed._statsmodels(data["y"].to_numpy() / 50, np.ones((30, 1)), np.repeat(np.arange(6), 5), ratio=1.0)

    assert tried == methods
    assert (start is None) == ("yes" not in outcomes)
