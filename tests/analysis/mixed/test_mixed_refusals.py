"""Data that cannot carry a mixed model: a reason in words, never a number."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.mixed import climb, model
from analysis.mixed.compare import component_test, information
from analysis.mixed.model import NoFit, RandomPart, fit_mixed_model

ONES = np.ones(20)
COFFEE = RandomPart("coffee", np.repeat(np.arange(5), 4), ONES)
RNG = np.random.default_rng(4)
NOISE = RNG.normal(size=20) + 3 * RNG.normal(size=5)[COFFEE.codes]


def _design(*columns: np.ndarray) -> np.ndarray:
    return np.column_stack([ONES, *columns])


def _reason(y, x, parts) -> str:
    fit, found = fit_mixed_model(y, x, parts), information(y, x, parts)
    assert isinstance(fit, NoFit)
    assert isinstance(found, NoFit)
    return fit.reason


@pytest.mark.parametrize(
    ("y", "x", "parts", "said"),
    [
        (NOISE[:3], np.eye(3), [], "3 brews for 3 terms"),
        (np.full(20, 20.13), _design(), [COFFEE], "fixed terms meet every brew exactly"),
        (np.zeros(20), _design(), [COFFEE], "fixed terms meet every brew exactly"),
        (np.array([1.0, 4, 2, 8, 5])[COFFEE.codes], _design(), [COFFEE], "repeat each other exactly"),
        (np.where(ONES > 0, np.nan, 1), _design(), [COFFEE], "missing or infinite"),
        (NOISE, _design(NOISE * np.inf), [COFFEE], "missing or infinite"),
        (NOISE, _design(np.arange(20), 2.0 * np.arange(20)), [COFFEE], "factors cannot be told apart"),
        (NOISE, _design(), [RandomPart("grind by coffee", COFFEE.codes, np.nan * ONES)], "missing or infinite"),
        (NOISE, _design(np.zeros(20)), [COFFEE], "factors cannot be told apart"),
        (NOISE, _design(), [RandomPart("grind by coffee", COFFEE.codes, 0 * ONES)], "grind by coffee is zero"),
        (NOISE, _design(COFFEE.codes[:, None] == np.arange(1, 5)), [COFFEE], "already hold every level of coffee"),
        (NOISE, _design(), [COFFEE, RandomPart("bag", 4 - COFFEE.codes, ONES)], "coffee and bag change together"),
        (NOISE, _design(), [RandomPart("brew", np.arange(20), ONES)], "brew to brew and brew change together"),
        (NOISE, _design(), [RandomPart("coffee", 0 * COFFEE.codes, ONES)], "already hold every level of coffee"),
    ],
)
def test_refused_in_words(y, x, parts, said):
    assert said in _reason(y, x, parts)


def test_levels_that_can_meet_every_brew_leave_nothing():
    """Nine brews, ten levels and a slope: the likelihood is highest without any residual (found by seed)."""
    rng = np.random.default_rng(0)
    said, under_ml = set(), set()
    for _ in range(30):
        parts = [RandomPart("coffee", rng.integers(5, size=9), np.ones(9))]
        parts.append(RandomPart("session", rng.integers(6, size=9), np.ones(9)))
        y, x = rng.normal(size=9), np.column_stack([np.ones(9), rng.normal(size=(9, 2))])
        fit, found = fit_mixed_model(y, x, parts), information(y, x, parts)
        said |= {fit.reason} if isinstance(fit, NoFit) else set()
        under_ml |= {found.reason} if isinstance(found, NoFit) else set()

    assert said == {
        "the levels of coffee and session meet every brew exactly, so nothing is left to judge an effect by"
    }


@pytest.mark.parametrize("n", [5, 6, 7])
def test_five_brews_are_fitted_or_refused(n):
    for seed in range(20):
        rng = np.random.default_rng(seed)
        parts = [RandomPart("coffee", np.arange(n) % 2, np.ones(n))]
        fit = fit_mixed_model(rng.normal(size=n), np.column_stack([np.ones(n), rng.normal(size=n)]), parts)

        assert isinstance(fit, NoFit) or (np.isfinite(fit.covariance).all() and fit.df(np.array([0.0, 1.0])) > 0)


def test_a_climb_that_does_not_arrive_shows_no_number(monkeypatch):
    monkeypatch.setattr(climb, "MAX_STEPS", 0)

    assert _reason(NOISE, _design(), [COFFEE]) == model.NOT_CONVERGED
    assert component_test(NOISE, _design(), [COFFEE], name="coffee") == NoFit(model.NOT_CONVERGED)


def test_a_step_that_never_gains_shows_no_number(monkeypatch):
    monkeypatch.setattr(climb, "MAX_HALVINGS", 0)

    assert _reason(NOISE, _design(), [COFFEE]) == model.NOT_CONVERGED


def test_components_are_told_apart_by_name():
    with pytest.raises(ValueError, match="same name"):
        fit_mixed_model(NOISE, _design(), [COFFEE, COFFEE])
    with pytest.raises(ValueError, match="no variance component is called 'session'"):
        component_test(NOISE, _design(), [COFFEE], name="session")


def test_a_test_that_cannot_fit_without_the_component_says_why():
    bag = RandomPart("bag", COFFEE.codes, ONES)

    assert "coffee and bag change together" in component_test(NOISE, _design(), [COFFEE, bag], name="bag").reason
