"""Least squares against StRD certified values, base R, numpy and an independent hat matrix."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.effects.ols import fit_ols, leverages, pinned_rows

NINE_DIGITS = 1e-9  # see tests/reference/regression/README.md


@pytest.mark.parametrize(("dataset", "response"), [("norris", "y"), ("longley", "TOTEMP")])
def test_strd_certified_regression(reference, dataset, response):
    data = reference(f"regression/{dataset}.csv")
    certified = reference("regression/certified.csv").filter(dataset=dataset)
    names = certified["term"].to_list()[1:]
    x = np.column_stack([np.ones(data.height), *(data[name].to_numpy().astype(float) for name in names)])

    fit = fit_ols(data[response].to_numpy().astype(float), x, errors="classical")

    assert fit.estimate == pytest.approx(certified["estimate"].to_numpy(), rel=NINE_DIGITS)
    assert fit.std_error == pytest.approx(certified["std_error"].to_numpy(), rel=NINE_DIGITS)
    assert fit.sigma == pytest.approx(certified["residual_sd"][0], rel=NINE_DIGITS)


def test_strd_noint1_has_no_intercept():
    x = np.arange(60.0, 71.0)
    fit = fit_ols(x + 70, x[:, None], errors="classical")

    # Certified slope 2.07438016528926 from memory; the others computed, printed to 8 digits.
    assert fit.estimate[0] == pytest.approx(2.07438016528926, rel=NINE_DIGITS)
    assert fit.std_error[0] == pytest.approx(0.01652893, abs=5e-9)
    assert fit.sigma == pytest.approx(3.56753034, abs=5e-9)
    assert fit.df.tolist() == [10.0]


@pytest.mark.parametrize("truth", [np.ones(6), 10.0 ** -np.arange(6)], ids=["wampler1", "wampler2"])
def test_strd_wampler_polynomials(truth):
    x = np.vander(np.arange(21.0), 6, increasing=True)
    assert fit_ols(x @ truth, x, errors="classical").estimate == pytest.approx(truth, rel=NINE_DIGITS)


def _design(seed: int, n: int = 40) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    x = np.column_stack([np.ones(n), rng.normal(93, 2, n), rng.normal(size=n), rng.random(n) < 0.3]).astype(float)
    return x @ [2.0, 0.2, 0.4, -1.8] + rng.normal(size=n) * (1 + x[:, 3]), x


def test_agrees_with_numpy_lstsq_and_qr():
    y, x = _design(1)
    q, r = np.linalg.qr(x)
    fit = fit_ols(y, x)

    assert fit.estimate == pytest.approx(np.linalg.lstsq(x, y, rcond=None)[0], rel=1e-10)
    assert fit.estimate == pytest.approx(np.linalg.solve(r, q.T @ y), rel=1e-10)


def test_hc3_against_an_independent_hat_matrix():
    y, x = _design(2)
    bread = np.linalg.inv(x.T @ x)
    hat = x @ bread @ x.T
    # Leave-one-out residuals, each from a regression that never saw its row: e_i / (1 - h_i), MacKinnon & White.
    loo = []
    for row in range(len(y)):
        kept = np.arange(len(y)) != row
        loo.append(y[row] - x[row] @ np.linalg.lstsq(x[kept], y[kept], rcond=None)[0])
    hc3 = bread @ (x.T * np.square(loo)) @ x @ bread
    fit = fit_ols(y, x)

    assert fit.std_error == pytest.approx(np.sqrt(np.diag(hc3)), rel=1e-9)
    assert fit.leverage == pytest.approx(np.diag(hat), rel=1e-9)
    assert fit.df.tolist() == [36.0] * 4
    assert fit.standardised == pytest.approx((y - hat @ y) / (fit.sigma * np.sqrt(1 - np.diag(hat))), rel=1e-8)
    assert fit.fitted + fit.residual == pytest.approx(y)


def test_a_row_with_a_column_of_its_own_is_pinned():
    _, x = _design(3)
    x[:, 3] = np.arange(len(x)) == 7

    assert leverages(x)[7] == pytest.approx(1)
    assert pinned_rows(x) == [7]
