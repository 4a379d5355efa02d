"""The exchange finds the best runs there are: against every possible choice, and against the library."""

from __future__ import annotations

from itertools import combinations_with_replacement, product

import numpy as np
import pydoe
import pytest

from analysis.mixed.arrays import Floats
from analysis.planning.exchange import choose_runs
from schemas.problem import ProblemError

GRID = np.array(list(product((-1.0, 0.0, 1.0), repeat=2)))


def quadratic(points: Floats) -> Floats:
    """Intercept, slopes, squares and product of two settings."""
    a, b = points.T
    return np.column_stack([np.ones(len(points)), a, b, a * a, b * b, a * b])


def log_det(x: Floats) -> float:
    sign, value = np.linalg.slogdet(x.T @ x)
    return float(value) if sign > 0 else -np.inf


def best_of_all(candidates: Floats, n: int, fixed: Floats) -> float:
    """The largest determinant of all choices with repeats, by trying every one."""
    return max(
        log_det(np.vstack([fixed, candidates[list(rows)]]))
        for rows in combinations_with_replacement(range(len(candidates)), n)
    )


@pytest.mark.parametrize("n", [6, 7])
def test_no_choice_of_runs_is_better(n: int) -> None:
    x = quadratic(GRID)

    chosen = choose_runs(x, n, rng=np.random.default_rng(4))

    assert chosen.rows.size == n
    assert log_det(x[chosen.rows]) == pytest.approx(chosen.log_det, abs=1e-9)
    assert chosen.log_det == pytest.approx(best_of_all(x, n, np.zeros((0, 6))), abs=1e-9)
    assert 1 <= chosen.reached <= chosen.starts


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_runs_already_made_are_kept_and_the_best_are_added(seed: int) -> None:
    rng = np.random.default_rng(seed)
    together = np.repeat(np.linspace(-1, 1, 6)[:, None], 2, axis=1) + 0.1 * rng.standard_normal((6, 2))
    made, x = quadratic(together)[:, [0, 1, 2, 5]], quadratic(GRID)[:, [0, 1, 2, 5]]

    chosen = choose_runs(x, 4, rng=rng, fixed=made)

    assert chosen.log_det == pytest.approx(best_of_all(x, 4, made), abs=1e-9)
    assert chosen.log_det == pytest.approx(log_det(np.vstack([made, x[chosen.rows]])), abs=1e-9)


@pytest.mark.parametrize("n", [6, 9, 12])
def test_it_is_as_good_as_the_library_s_exchange_where_both_apply(n: int) -> None:
    points = np.array(list(product((-1.0, -0.5, 0.0, 0.5, 1.0), repeat=2)))
    theirs = pydoe.fedorov(points, n, 2, "D")

    chosen = choose_runs(quadratic(points), n, rng=np.random.default_rng(8))

    assert chosen.log_det >= log_det(quadratic(theirs)) - 1e-9


def test_two_slopes_and_their_product_take_the_four_corners() -> None:
    # Four runs, four columns: |X'X| <= 4^4, reached only by the corners (Hadamard's bound).
    x = quadratic(GRID)[:, [0, 1, 2, 5]]

    chosen = choose_runs(x, 4, rng=np.random.default_rng(1))

    assert np.exp(chosen.log_det) == pytest.approx(256)
    assert {tuple(point) for point in GRID[chosen.rows]} == {(-1, -1), (-1, 1), (1, -1), (1, 1)}


def test_columns_of_very_different_size_do_not_matter() -> None:
    x = quadratic(GRID)

    chosen = choose_runs(x * np.array([1, 1e-4, 1e5, 1, 10, 1e3]), 6, rng=np.random.default_rng(4))

    assert log_det(x[chosen.rows]) == pytest.approx(best_of_all(x, 6, np.zeros((0, 6))), abs=1e-9)


@pytest.mark.parametrize(
    ("candidates", "n", "fixed", "said"),
    [
        (quadratic(GRID), 0, None, "one brew or more"),
        (quadratic(GRID)[:0], 6, None, "every one is called impossible"),
        (quadratic(GRID), 5, None, "5 brews are too few: it takes 6"),
        (quadratic(GRID), 2, quadratic(GRID[:3]), "it takes 3 to tell 6 numbers apart"),
        (quadratic(GRID[GRID[:, 0] == 0]), 12, None, "cannot tell all of this apart"),
        (quadratic(np.repeat(GRID[:, :1], 2, axis=1)), 12, None, "cannot tell all of this apart"),
    ],
)
def test_what_cannot_be_chosen_is_refused_plainly(candidates: Floats, n: int, fixed: Floats | None, said: str) -> None:
    with pytest.raises(ProblemError) as refused:
        choose_runs(candidates, n, rng=np.random.default_rng(1), fixed=fixed)

    assert said in str(refused.value)
