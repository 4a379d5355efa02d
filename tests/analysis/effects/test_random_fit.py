"""Levels of one group and slopes against lme4 and lmerTest; tests/reference/mixed gives the tolerances."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.effects.fit import Fit, NoFit
from analysis.effects.random_fit import SMALLEST_DF, first_terms, fit_random
from analysis.mixed.model import RandomPart

RTOL = 1e-5
CASES = ["sleepstudy", "sleepstudy_unbalanced", "dyestuff", "cake", "brews", "brews_between", "brews_three_coffees"]
SINGULAR = ["dyestuff2_singular", "brews_singular"]


def _fit(reference, case: str) -> Fit:
    data = reference("mixed/inputs.csv").filter(case=case)
    columns = [data[name].to_numpy().astype(float) for name in ("x1", "x2", "x3", "x4") if not data[name].null_count()]
    x = np.column_stack([np.ones(data.height), *columns])
    codes = data["group"].rank("dense").to_numpy().astype(np.int64) - 1
    fit = fit_random(data["y"].to_numpy(), x, [RandomPart("group", codes, np.ones(codes.size))], group="group")
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
    assert fit.covariance.diagonal() == pytest.approx(fit.std_error**2)


@pytest.mark.parametrize("case", SINGULAR)
def test_singular_fit_is_lme4s(reference, case):
    fit = _fit(reference, case)

    assert (fit.kind, fit.group_sd, fit.dropped) == ("classical", None, ("group",))
    assert fit.estimate == pytest.approx(_numbers(reference, case, "estimate"), rel=1e-9)
    assert fit.std_error == pytest.approx(_numbers(reference, case, "std_error"), rel=1e-9)
    assert fit.df == pytest.approx(_numbers(reference, case, "df"), rel=1e-6)
    assert fit.sigma**2 == pytest.approx(_numbers(reference, case, "variance")[1], rel=1e-9)


def test_brews_that_repeat_each_other_exactly_have_no_fit():
    codes = np.repeat(np.arange(5), 4)
    part = RandomPart("group", codes, np.ones(20))

    assert isinstance(fit_random(np.array([1.0, 4, 2, 8, 5])[codes], np.ones((20, 1)), [part], group="group"), NoFit)


def _sloped(sd: float, seed: int) -> tuple[np.ndarray, np.ndarray, list[RandomPart]]:
    rng = np.random.default_rng(seed)
    codes = np.repeat(np.arange(6), 10)
    grind = rng.normal(size=60)
    x = np.column_stack([grind - grind.mean(), np.ones(60)])
    y = x @ [0.4, 20.0] + rng.normal(size=6)[codes] + sd * rng.normal(size=6)[codes] * x[:, 0] + rng.normal(size=60) / 2
    return y, x, [RandomPart("coffee", codes, np.ones(60)), RandomPart("grind by coffee", codes, x[:, 0])]


@pytest.mark.parametrize("seed", range(25))
def test_a_faint_spread_of_slopes_is_gone_and_a_clear_one_stays(seed):
    y, x, parts = _sloped(0.0, seed)
    fit = fit_random(y, x, parts, group="coffee", slopes={"grind by coffee"})
    kept = fit_random(y, x, parts, group="coffee")
    alone = fit_random(y, x, parts[:1], group="coffee")
    assert isinstance(fit, Fit)
    assert isinstance(kept, Fit)
    assert isinstance(alone, Fit)
    chosen = kept if fit.components == kept.components else alone
    assert fit.estimate == pytest.approx(chosen.estimate, rel=1e-9)
    assert fit.df.min() >= SMALLEST_DF

    clear = fit_random(*_sloped(1.0, seed), group="coffee", slopes={"grind by coffee"})
    assert isinstance(clear, Fit)
    assert "grind by coffee" in clear.components


def test_terms_behind_the_first_stay_out_of_sight():
    y, x, parts = _sloped(0.5, 3)
    fit = fit_random(y, x, parts, group="coffee")
    assert isinstance(fit, Fit)
    short = first_terms(fit, 1)

    assert short.estimate.tolist() == fit.estimate[:1].tolist()
    assert short.covariance.shape == (1, 1)
    assert short.half_width(0) == fit.half_width(0)
