"""Value, slope and curvature against n x n matrices written out and finite differences."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.mixed.likelihood import evaluate, profile
from analysis.mixed.model import RandomPart, fit_mixed_model
from analysis.mixed.scaled import scale

N = 23


def _small(seed: int = 5):
    rng = np.random.default_rng(seed)
    coffee, session, grind = rng.integers(5, size=N), rng.integers(4, size=N), rng.normal(size=N)
    x = np.column_stack([np.ones(N), grind, rng.normal(size=N)])
    parts = [
        RandomPart("coffee", coffee, np.ones(N)),
        RandomPart("session", session, np.ones(N)),
        RandomPart("grind by coffee", coffee, grind),
    ]
    y = x @ [1.0, 0.5, 0.0] + rng.normal(size=5)[coffee] + rng.normal(size=4)[session] + rng.normal(size=N)
    return y, x, parts


def _covariance(parts, theta):
    z = [part.slope[:, None] * (part.codes[:, None] == np.arange(part.codes.max() + 1)) for part in parts]
    return theta[0] * np.eye(N) + sum(t * own @ own.T for t, own in zip(theta[1:], z, strict=True))


def _criterion(y, x, v, *, reml: bool) -> float:
    """-2 log-likelihood as textbooks write it (Searle, Casella and McCulloch 1992, section 6.6)."""
    vi = np.linalg.inv(v)
    a = x.T @ vi @ x
    p = vi - vi @ x @ np.linalg.solve(a, x.T @ vi)
    free = len(y) - x.shape[1] if reml else len(y)
    return free * np.log(2 * np.pi) + np.linalg.slogdet(v)[1] + reml * np.linalg.slogdet(a)[1] + y @ p @ y


@pytest.mark.parametrize("reml", [True, False])
@pytest.mark.parametrize("theta", [(0.8, 1.1, 0.2, 0.5), (1.3, 0.0, 2.0, 0.1), (0.5, 30.0, 0.0, 0.0)])
def test_criterion_slope_and_information(reml, theta):
    y, x, parts = _small()
    data = scale(y, x, parts, reml=reml)
    units = data.height**2 / np.concatenate([[1.0], data.depth]) ** 2
    here = evaluate(data.rotated, np.array(theta) / units)

    def at(*moves: float) -> float:
        return -0.5 * _criterion(y, x, _covariance(parts, np.array(theta) + moves), reml=reml)

    steps = 1e-4 * np.eye(4)
    slope = [(at(*u) - at(*-u)) / 2e-4 for u in steps]
    curve = [[(at(*u + w) - at(*u - w) - at(*w - u) + at(*-u - w)) / 4e-8 for w in steps] for u in steps]
    assert here.criterion + data.lift == pytest.approx(-2 * at(0, 0, 0, 0), rel=1e-12)
    assert here.slope / units == pytest.approx(slope, rel=1e-5, abs=1e-6)
    assert here.information / np.outer(units, units) == pytest.approx(-np.array(curve), rel=1e-3, abs=1e-4)


def test_the_profile_is_the_lowest_on_its_ray():
    y, x, parts = _small()
    data = scale(y, x, parts)
    value, s = profile(data.rotated, np.array([[0.4, 1.2, 0.1], [0.0, 0.0, 0.0]]))

    for k, ratios in enumerate([(0.4, 1.2, 0.1), (0.0, 0.0, 0.0)]):
        ray = np.array([1.0, *ratios])
        assert evaluate(data.rotated, s[k] * ray).criterion == pytest.approx(value[k], rel=1e-12)
        assert min(evaluate(data.rotated, s[k] * c * ray).criterion for c in (0.99, 1.01)) > value[k]


def test_outside_the_positive_definite_there_is_no_likelihood():
    data = scale(*_small())

    assert evaluate(data.rotated, np.array([-1.0, 1.0, 1.0, 1.0])) is None
    assert evaluate(data.rotated, np.array([1.0, -50.0, 1.0, 1.0])) is None


def test_estimates_predictions_and_leverage_are_those_of_generalised_least_squares():
    """Henderson's equations written out: beta, its covariance, Z T Z'V^-1 (y - x beta), and s^4 P for the residuals."""
    y, x, parts = _small()
    fit = fit_mixed_model(y, x, parts)
    theta = [fit.sigma**2, *(fit.components.get(part.name, 0.0) for part in parts)]
    v = _covariance(parts, theta)
    vi = np.linalg.inv(v)
    covariance = np.linalg.inv(x.T @ vi @ x)
    beta = covariance @ x.T @ vi @ y
    p = vi - vi @ x @ covariance @ x.T @ vi
    random = (v - theta[0] * np.eye(N)) @ vi @ (y - x @ beta)

    assert fit.estimate == pytest.approx(beta, rel=1e-9)
    assert fit.covariance == pytest.approx(covariance, rel=1e-9)
    assert fit.fitted == pytest.approx(x @ beta + random, rel=1e-9)
    assert fit.residual == pytest.approx(theta[0] * p @ y, abs=1e-10)
    assert fit.standardised == pytest.approx(fit.residual / (theta[0] * np.sqrt(np.diag(p))), abs=1e-9)
    levels = sum(part.slope * fit.levels[part.name][part.codes] for part in parts if part.name in fit.levels)
    assert levels == pytest.approx(random, abs=1e-10)
    vary = [_covariance(parts, unit) for unit in np.eye(4)]
    kept = [0, *(k for k, part in enumerate(parts, start=1) if part.name in fit.components)]
    slopes = [covariance @ x.T @ vi @ vary[k] @ vi @ x @ covariance for k in kept]
    assert fit.covariance_slope == pytest.approx(np.array(slopes), rel=1e-8, abs=1e-12)
