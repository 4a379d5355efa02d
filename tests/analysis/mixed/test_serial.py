"""Correlated neighbours: the test against every order written out, whitening against nlme and n x n matrices."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest

from analysis.mixed.model import MixedFit, NoFit, RandomPart, fit_mixed_model
from analysis.mixed.serial import Serial, fit_serial, session_serial
from analysis.mixed.whitening import Whitening

SESSION = np.repeat(np.arange(5), [6, 5, 4, 2, 6])
ORDER = np.concatenate([np.arange(m) for m in (6, 5, 4, 2, 6)])


def _rng() -> np.random.Generator:
    return np.random.default_rng(7)


def _neighbours(session: np.ndarray, rho: float, rng: np.random.Generator) -> np.ndarray:
    noise = rng.normal(size=session.size)
    for row in range(1, session.size):
        if session[row] == session[row - 1]:
            noise[row] = rho * noise[row - 1] + np.sqrt(1 - rho**2) * noise[row]
    return noise


def test_lag_one_and_its_expected_value_by_hand():
    residual = _rng().normal(size=SESSION.size)
    found = session_serial(residual, SESSION, ORDER, rng=_rng())
    runs = [own - own.mean() for own in np.split(residual, [6, 11, 15, 17]) if own.size > 2]
    squares = sum(run @ run for run in runs)
    every = [np.mean([np.dot(p[:-1], p[1:]) for p in permutations(run)]) for run in runs]

    assert isinstance(found, Serial)
    assert (found.n_pairs, found.n_sessions) == (5 + 4 + 3 + 5, 4)
    assert found.lag_one == pytest.approx(sum(run[:-1] @ run[1:] for run in runs) / squares)
    assert found.expected == pytest.approx(sum(every) / squares)


def test_p_value_is_the_share_of_all_orders():
    """Fifteen pairs in sessions of 3 to 4: every order of every session counted, 2,985,984 of them."""
    session, order = np.repeat(np.arange(6), [4, 3, 4, 3, 4, 3]), np.concatenate([np.arange(m) for m in (4, 3) * 3])
    residual = np.random.default_rng(12).integers(-3, 4, size=session.size).astype(float)
    runs = [residual[session == k] - residual[session == k].mean() for k in range(6)]
    squares = sum(run @ run for run in runs)
    values = np.zeros(1)
    for run in runs:
        own = np.array([np.dot(p[:-1], p[1:]) for p in permutations(run)]) / squares
        values = np.add.outer(values, own).ravel()
    found = session_serial(residual, session, order, rng=_rng(), shuffles=9999)
    due = np.mean(np.abs(values - values.mean()) >= abs(found.lag_one - values.mean()) - 1e-12)

    assert found.p_value == pytest.approx(due, abs=4 * np.sqrt(due * (1 - due) / 9999))


def test_order_comes_from_the_order_column():
    residual, shuffled = _rng().normal(size=SESSION.size), _rng().permutation(SESSION.size)
    straight = session_serial(residual, SESSION, ORDER, rng=_rng())
    turned = session_serial(residual[shuffled], SESSION[shuffled], ORDER[shuffled], rng=_rng())

    assert turned.lag_one == pytest.approx(straight.lag_one)
    assert turned.p_value == pytest.approx(straight.p_value)


def test_unrelated_neighbours_are_called_related_five_times_in_a_hundred():
    rng = np.random.default_rng(99)
    session, order = np.repeat(np.arange(6), 8), np.tile(np.arange(8), 6)
    p = [session_serial(rng.normal(size=48), session, order, rng=rng, shuffles=199).p_value for _ in range(400)]

    assert np.mean(np.array(p) <= 0.05) == pytest.approx(0.05, abs=3 * np.sqrt(0.05 * 0.95 / 400))


def test_related_neighbours_are_found():
    session, order = np.repeat(np.arange(10), 12), np.tile(np.arange(12), 10)
    found = session_serial(_neighbours(session, 0.6, _rng()), session, order, rng=_rng())

    assert found.p_value < 0.01
    assert found.lag_one > 0.2


@pytest.mark.parametrize(
    ("session", "residual", "said"),
    [
        (np.repeat(np.arange(10), 2), np.arange(20.0), "0 pairs of neighbouring brews"),
        (np.repeat(np.arange(3), 5), np.arange(15.0), "12 pairs of neighbouring brews"),
        (np.repeat(np.arange(5), 5), np.repeat(np.arange(5.0), 5), "do not differ"),
    ],
)
def test_too_little_to_say_is_said(session, residual, said):
    order = np.arange(session.size)
    found = session_serial(residual, session, order, rng=_rng())

    assert isinstance(found, NoFit)
    assert said in found.reason


def test_whitening_takes_the_correlation_out():
    """L R L' = I and log |R|, R written out; places are missing, rows are out of order."""
    session, order = np.array([2, 0, 0, 1, 2, 0, 2]), np.array([5, 3, 1, 4, 2, 9, 3])
    for rho in (0.6, -0.4, 0.0):
        near = np.abs(order[:, None] - order[None, :])
        r = np.where(session[:, None] == session[None, :], np.power(float(rho), near), 0.0)
        white = Whitening(session, order, rho)

        assert white.apply(white.apply(r).T) == pytest.approx(np.eye(7), abs=1e-12)
        assert white.log_det() == pytest.approx(np.linalg.slogdet(r)[1], abs=1e-12)


@pytest.mark.parametrize(("rho", "order", "said"), [(1.0, [0, 1], "between -1 and 1"), (0.5, [1, 1], "same place")])
def test_whitening_that_cannot_be(rho, order, said):
    with pytest.raises(ValueError, match=said):
        Whitening(np.zeros(2, dtype=np.int64), np.array(order), rho)


@pytest.mark.parametrize("case", ["serial_gls", "serial_lme"])
def test_rho_and_effects_as_nlme(table, expected, case):
    rows = table("mixed_crossed/serial.csv")
    x = np.column_stack([np.ones(rows.height), rows["grind"]])
    parts = [RandomPart("coffee", rows["coffee"].to_numpy() - 1, np.ones(rows.height))] if case == "serial_lme" else []
    found = fit_serial(
        rows["y"].to_numpy(), x, parts, session=rows["session"].to_numpy(), order=rows["order"].to_numpy()
    )

    assert found.rho == pytest.approx(expected(case, "rho")[0], rel=1e-5)
    assert found.fit.estimate == pytest.approx(expected(case, "estimate"), rel=1e-6)
    assert np.sqrt(np.diag(found.fit.covariance)) == pytest.approx(expected(case, "std_error"), rel=1e-5)
    assert found.fit.sigma == pytest.approx(expected(case, "sigma")[0], rel=1e-5)
    assert found.fit.criterion == pytest.approx(expected(case, "reml_criterion")[0], rel=1e-9)
    if parts:
        assert found.fit.components["coffee"] == pytest.approx(expected(case, "variance")[0], rel=1e-5)
    plain = fit_mixed_model(rows["y"].to_numpy(), x, parts)
    assert found.statistic == pytest.approx(plain.criterion - found.fit.criterion, rel=1e-9)
    assert found.p_value < 1e-6


def test_a_whitened_fit_is_generalised_least_squares():
    rng = _rng()
    coffee = rng.integers(4, size=SESSION.size)
    x = np.column_stack([np.ones(SESSION.size), rng.normal(size=SESSION.size)])
    y = x @ [20, 0.4] + 2 * rng.normal(size=4)[coffee] + _neighbours(SESSION, 0.5, rng)
    part = RandomPart("coffee", coffee, np.ones(y.size))
    fit = fit_mixed_model(y, x, [part], whitening=Whitening(SESSION, ORDER, 0.5))
    assert isinstance(fit, MixedFit)
    near = np.where(SESSION[:, None] == SESSION, 0.5 ** np.abs(ORDER[:, None] - ORDER), 0.0)
    random = fit.components["coffee"] * (coffee[:, None] == coffee)
    vi = np.linalg.inv(fit.sigma**2 * near + random)
    covariance = np.linalg.inv(x.T @ vi @ x)
    beta = covariance @ x.T @ vi @ y

    assert fit.estimate == pytest.approx(beta, rel=1e-9)
    assert fit.covariance == pytest.approx(covariance, rel=1e-9)
    assert fit.fitted == pytest.approx(x @ beta + random @ vi @ (y - x @ beta), rel=1e-9)
    assert fit.residual == pytest.approx(y - fit.fitted)


def test_neighbours_that_are_all_but_one_have_no_best_rho():
    session, order = np.repeat(np.arange(4), 10), np.tile(np.arange(10), 4)
    steps = np.cumsum(_rng().normal(size=(4, 10)), axis=1).ravel() * 1.0
    y = 100 * np.repeat(_rng().normal(size=4), 10) + 1e-3 * steps
    found = fit_serial(y, np.ones((40, 1)), [], session=session, order=order)

    assert isinstance(found, NoFit)
    assert "so much that" in found.reason


def test_a_model_that_cannot_be_fitted_plainly_is_not_fitted_with_rho():
    found = fit_serial(np.ones(SESSION.size), np.ones((SESSION.size, 1)), [], session=SESSION, order=ORDER)

    assert isinstance(found, NoFit)
    assert "exactly" in found.reason
