"""Crossed and nested components against lme4, lmerTest; tolerances in tests/reference/mixed_crossed/README.md."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.mixed.compare import component_test, information
from analysis.mixed.model import MixedFit, fit_mixed_model

VARIANCE, DF = 1e-5, 1e-3
PUBLIC = ["dyestuff", "pastes", "sleepstudy", "sleepstudy_slopes", "penicillin", "cake", "ergo_stool", "french_fries"]
INVENTED = ["brews_all", "brews_few", "brews_no_session", "brews_two_zeros"]
ZEROS = {"brews_no_session": ("session",), "brews_two_zeros": ("session", "grind_by_coffee")}
GRIND = ("grind_and_its_square", [1, 4]), ("all_four", [1, 2, 3, 4])
F_TESTS = [
    *((case, *test) for case in INVENTED for test in GRIND),
    ("cake", "recipe", [1, 2]),
    ("cake", "recipe_by_temperature", list(range(8, 18))),
    ("ergo_stool", "type", [1, 2, 3]),
    ("french_fries", "treatment", [1, 2]),
]


def _fit(crossed, case: str) -> MixedFit:
    fit = fit_mixed_model(*crossed(case))
    assert isinstance(fit, MixedFit)
    return fit


@pytest.mark.parametrize("case", [*PUBLIC, *INVENTED])
def test_variances_estimates_errors_and_df(crossed, expected, case):
    fit = _fit(crossed, case)
    names = [part.name for part in crossed(case)[2]]
    variances = [fit.components.get(name, 0.0) for name in names]
    units = np.eye(fit.estimate.size)

    assert [*variances, fit.sigma**2] == pytest.approx(expected(case, "variance"), rel=VARIANCE, abs=1e-9)
    assert fit.criterion == pytest.approx(expected(case, "reml_criterion")[0], rel=1e-8)
    assert fit.estimate == pytest.approx(expected(case, "estimate"), rel=1e-5)
    assert [fit.standard_error(unit) for unit in units] == pytest.approx(expected(case, "std_error"), rel=1e-5)
    assert [fit.df(unit) for unit in units] == pytest.approx(expected(case, "df"), rel=DF)
    assert [fit.p_value(unit) for unit in units] == pytest.approx(expected(case, "p_value"), rel=1e-2, abs=1e-12)


@pytest.mark.parametrize("case", [*PUBLIC, *INVENTED])
def test_only_what_came_out_as_zero_is_dropped_and_named(crossed, case):
    fit = _fit(crossed, case)
    names = [part.name for part in crossed(case)[2]]

    assert fit.dropped == ZEROS.get(case, ())
    assert list(fit.components) == list(fit.levels) == [name for name in names if name not in fit.dropped]
    assert all(variance > 0 for variance in fit.components.values())


@pytest.mark.parametrize(("case", "name", "rows"), F_TESTS)
def test_several_terms_at_once(crossed, expected, case, name, rows):
    fit = _fit(crossed, case)
    found = fit.f_test(np.eye(fit.estimate.size)[rows])
    place = [test for own, test, _ in F_TESTS if own == case].index(name)

    assert found.statistic == pytest.approx(expected(case, "f_statistic")[place], rel=1e-5)
    assert found.df_num == expected(case, "f_df_num")[place]
    assert found.df_den == pytest.approx(expected(case, "f_df_den")[place], rel=DF)
    assert found.p_value == pytest.approx(expected(case, "f_p_value")[place], rel=DF)


@pytest.mark.parametrize("case", [*PUBLIC, *INVENTED])
def test_information_criteria_under_maximum_likelihood(crossed, expected, case):
    y, x, parts = crossed(case)
    found = information(y, x, parts)
    zeros = expected(case, "ml_zero_variances")[0]

    assert found.log_likelihood == pytest.approx(expected(case, "ml_log_likelihood")[0], rel=1e-8)
    assert found.n_parameters == expected(case, "ml_parameters")[0] - zeros
    assert len(found.dropped) == zeros
    assert found.aic == pytest.approx(expected(case, "ml_aic")[0] - 2 * zeros, rel=1e-8)
    assert found.bic == pytest.approx(expected(case, "ml_bic")[0] - zeros * np.log(y.size), rel=1e-8)
    k = found.n_parameters
    assert found.aicc == pytest.approx(found.aic + 2 * k * (k + 1) / (y.size - k - 1))


@pytest.mark.parametrize("case", ["pastes", "sleepstudy_slopes", "penicillin", "french_fries", *INVENTED])
def test_likelihood_ratio_of_each_component(crossed, expected, case):
    y, x, parts = crossed(case)
    whole, without = expected(case, "reml_criterion")[0], expected(case, "reml_criterion_without")
    found = [component_test(y, x, parts, name=part.name) for part in parts]

    assert [test.statistic for test in found] == pytest.approx(without - whole, rel=1e-5, abs=2e-6)
    variances = expected(case, "variance")[:-1]
    assert [test.sd**2 for test in found] == pytest.approx(variances, rel=VARIANCE, abs=1e-9)
