"""The restricted likelihood against dense matrices, finite differences, statsmodels and lme4's published fits."""

from __future__ import annotations

import numpy as np
import pytest
from statsmodels.regression.mixed_linear_model import MixedLM

from analysis.effects.blocks import make_blocks
from analysis.effects.reml import best_on_ray, climb, evaluate, satterthwaite_df

INTERCEPT_AND_SLOPE = np.array([[[1, 0], [0, 0]], [[0, 1], [1, 0]], [[0, 0], [0, 1]]], dtype=float)


def _small(seed: int = 5, n: int = 23):
    rng = np.random.default_rng(seed)
    codes = np.sort(rng.integers(5, size=n))
    x = np.column_stack([np.ones(n), rng.normal(size=n), rng.normal(size=n)])
    return x @ [1.0, 0.5, 0.0] + rng.normal(size=5)[codes] + rng.normal(size=n), x, codes


def _dense_criterion(y, x, codes, theta) -> float:
    """-2 restricted log-likelihood with the n x n matrix written out."""
    z = x[:, :2]
    g = np.array([[theta[1], theta[2]], [theta[2], theta[3]]])
    v = theta[0] * np.eye(len(y)) + (z @ g @ z.T) * (codes[:, None] == codes[None, :])
    vi = np.linalg.inv(v)
    a = x.T @ vi @ x
    p = vi - vi @ x @ np.linalg.solve(a, x.T @ vi)
    free = len(y) - x.shape[1]
    return free * np.log(2 * np.pi) + np.linalg.slogdet(v)[1] + np.linalg.slogdet(a)[1] + y @ p @ y


def test_criterion_slope_and_information_against_dense_matrices():
    y, x, codes = _small()
    theta = np.array([0.8, 1.1, 0.2, 0.5])
    here = evaluate(make_blocks(y, x, x[:, :2], codes), INTERCEPT_AND_SLOPE, theta)
    assert here is not None

    def at(*moves: float) -> float:
        return -0.5 * _dense_criterion(y, x, codes, theta + np.array(moves))

    step = 1e-4
    units = step * np.eye(4)
    slope = [(at(*u) - at(*-u)) / (2 * step) for u in units]
    curvature = [[(at(*u + w) - at(*u - w) - at(*w - u) + at(*-u - w)) / (4 * step**2) for w in units] for u in units]
    assert here.criterion == pytest.approx(-2 * at(0, 0, 0, 0), rel=1e-12)
    assert here.slope == pytest.approx(slope, rel=1e-6)
    assert here.information == pytest.approx(-np.array(curvature), rel=1e-4, abs=1e-5)


def test_agrees_with_the_likelihood_of_statsmodels():
    y, x, codes = _small()
    model = MixedLM(y, x, groups=codes)
    fit = model.fit(reml=True)
    theta = np.array([fit.scale, fit.cov_re[0, 0]])
    ours = evaluate(make_blocks(y, x, np.ones((len(y), 1)), codes), np.ones((1, 1, 1)), theta)

    assert ours is not None
    assert -0.5 * ours.criterion == pytest.approx(fit.llf, rel=1e-6)
    assert ours.beta == pytest.approx(fit.fe_params, rel=1e-6)


def test_outside_the_positive_definite_there_is_no_likelihood():
    y, x, codes = _small()
    blocks = make_blocks(y, x, np.ones((len(y), 1)), codes)

    assert evaluate(blocks, np.ones((1, 1, 1)), np.array([-1.0, 1.0])) is None
    assert evaluate(blocks, np.ones((1, 1, 1)), np.array([1.0, -1.0])) is None


def _numbers(expected, case: str, quantity: str) -> np.ndarray:
    return expected.filter(case=case, quantity=quantity)["value"].to_numpy()


@pytest.mark.parametrize("rows", ["sleepstudy", "sleepstudy_unbalanced"])
def test_slopes_by_subject_as_lme4_and_lmertest(reference, rows):
    data = reference("mixed/inputs.csv").filter(case=rows)
    expected = reference("mixed/expected.csv")
    days = data["x1"].to_numpy().astype(float)
    x = np.column_stack([np.ones(days.size), days])
    blocks = make_blocks(data["y"].to_numpy(), x, x, data["group"].rank("dense").to_numpy().astype(np.int64))
    top = climb(blocks, INTERCEPT_AND_SLOPE, np.array([600.0, 600.0, 0.0, 40.0]))

    assert top is not None
    residual, *others = top.theta
    # lme4's optimiser leaves about 1e-4 on these variances; the criterion is flat there.
    assert others == pytest.approx(_numbers(expected, f"slopes_{rows}", "variance")[:3], rel=1e-3)
    assert residual == pytest.approx(_numbers(expected, f"slopes_{rows}", "variance")[3], rel=1e-3)
    assert top.criterion == pytest.approx(_numbers(expected, f"slopes_{rows}", "reml_criterion")[0], rel=1e-9)
    assert top.beta == pytest.approx(_numbers(expected, f"slopes_{rows}", "estimate"), rel=1e-5)
    assert satterthwaite_df(top) == pytest.approx(_numbers(expected, f"slopes_{rows}", "df"), rel=1e-3)


def test_pastes_nested_components_as_lme4(reference):
    """lme4 1.1-31: strength ~ 1 + (1 | batch / cask), REML (computed with R 4.2.2)."""
    data = reference("mixed/pastes.csv")
    cask = (data["cask"].to_numpy()[:, None] == np.array(["a", "b", "c"])).astype(float)
    x = np.ones((data.height, 1))
    codes = data["batch"].rank("dense").to_numpy().astype(np.int64)
    components = np.array([np.diag([1.0, 0, 0, 0]), np.diag([0, 1.0, 1, 1])])
    blocks = make_blocks(data["strength"].to_numpy(), x, np.column_stack([x, cask]), codes)
    top = climb(blocks, components, np.array([1.0, 1.0, 1.0]))

    assert top is not None
    assert top.theta == pytest.approx([0.6779999497, 1.6573109118, 8.4336659313], rel=1e-5)
    assert top.beta == pytest.approx([60.05333333], rel=1e-9)
    assert np.sqrt(top.covariance[0, 0]) == pytest.approx(0.6768702151, rel=1e-6)
    assert top.criterion == pytest.approx(246.9907459, abs=5e-8)


def test_no_way_up_from_outside_and_no_height_without_scatter():
    y, x, codes = _small()
    one = np.ones((len(y), 1))

    assert climb(make_blocks(y, x, one, codes), np.ones((1, 1, 1)), np.array([-1.0, 0.0])) is None
    assert best_on_ray(make_blocks(0 * y, x, one, codes), np.ones((1, 1, 1)), np.array([1.0])) is None


def test_best_on_ray_is_the_lowest_on_it():
    y, x, codes = _small()
    blocks, components = make_blocks(y, x, x[:, :2], codes), INTERCEPT_AND_SLOPE
    found = best_on_ray(blocks, components, np.array([1.0, 0.1, 0.3]))
    assert found is not None
    criterion, theta = found

    assert theta / theta[0] == pytest.approx([1.0, 1.0, 0.1, 0.3])
    assert criterion == pytest.approx(_dense_criterion(y, x, codes, theta), rel=1e-12)
    assert min(_dense_criterion(y, x, codes, theta * s) for s in (0.99, 1.01)) > criterion
