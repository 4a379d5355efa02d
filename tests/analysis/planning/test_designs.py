"""Designs from the books: their geometry, what they mix up, and their balance, counted."""

from __future__ import annotations

from collections import Counter
from itertools import combinations, product

import numpy as np
import pydoe
import pytest

from analysis.planning.aliases import alias_groups, alias_sentences, resolution_words
from analysis.planning.designs import (
    box_behnken,
    central_composite,
    defining_resolution,
    fractional_factorial,
    full_factorial,
    latin_square,
    response_surface,
)
from schemas.problem import ProblemError


@pytest.mark.parametrize(("k", "alpha"), [(2, 1.414214), (3, 1.681793), (4, 2.0)])
def test_the_stars_stand_at_the_rotatable_distance(k: int, alpha: float) -> None:
    # check-values.md 3.4: (2^k)^(1/4).
    design = central_composite(k, n_centre=4)

    assert np.abs(design).max() == pytest.approx(alpha, abs=5e-7)
    assert Counter(np.count_nonzero(row) for row in design) == Counter([k] * 2**k + [1] * (2 * k) + [0] * 4)


@pytest.mark.parametrize(("k", "edges"), [(3, 12), (4, 24)])
def test_box_behnken_has_edge_middles_and_no_corner(k: int, edges: int) -> None:
    # check-values.md 3.4.
    design = box_behnken(k, n_centre=3)

    outside = design[np.any(design != 0, axis=1)]
    assert (len(outside), len(design)) == (edges, edges + 3)
    assert np.all(np.count_nonzero(outside, axis=1) == 2)
    assert set(np.unique(design)) == {-1.0, 0.0, 1.0}


def test_a_surface_never_leaves_the_range_that_was_given() -> None:
    assert all(np.abs(response_surface(k)).max() == 1 for k in (2, 3, 4, 5))
    assert np.allclose(response_surface(2) * np.sqrt(2), central_composite(2))


@pytest.mark.parametrize(
    ("k", "n_runs", "resolution"),
    # Largest resolution of two-level fractions: Box, Hunter and Hunter, Statistics for Experimenters, table of
    # fractional designs (from memory).
    [(3, 4, 3), (4, 8, 4), (5, 8, 3), (5, 16, 5), (6, 8, 3), (6, 16, 4), (6, 32, 6), (7, 16, 4), (7, 64, 7), (8, 16, 4),
     (8, 64, 5)],
)  # fmt: skip
def test_fractions_have_the_best_resolution_for_their_size(k: int, n_runs: int, resolution: int) -> None:
    design = fractional_factorial(k, n_runs=n_runs)

    assert design.shape == (n_runs, k)
    assert defining_resolution(design) == resolution
    # Every pair of columns holds its four combinations equally often.
    for a, b in combinations(range(k), 2):
        assert set(Counter(map(tuple, design[:, [a, b]])).values()) == {n_runs // 4}


@pytest.mark.parametrize("generator", ["a b ab", "a b c abc", "a b c ab ac", "a b c d abc bcd"])
def test_what_is_mixed_up_agrees_with_the_library_s_alias_map(generator: str) -> None:
    design = pydoe.fracfact(generator)
    told, _ = pydoe.fracfact_aliasing(design)
    names = "abcdefgh"
    expected = set()
    for line in told:
        low = frozenset(word for word in line.split(" = ") if len(word) <= 2)
        if len(low) > 1:
            expected.add(low)

    ours = {frozenset("".join(names[j] for j in effect) for effect in group) for group in alias_groups(design)}

    assert ours == expected


def test_aliases_are_named_in_words() -> None:
    half = fractional_factorial(3, n_runs=4)

    assert alias_sentences(half, ["grind", "dose", "temperature"]) == (
        "Cannot be told apart: grind and dose x temperature.",
        "Cannot be told apart: dose and grind x temperature.",
        "Cannot be told apart: temperature and grind x dose.",
    )
    assert "resolution III" in resolution_words(half)
    assert "resolution IV" in resolution_words(fractional_factorial(4, n_runs=8))
    assert "resolution V)" in resolution_words(fractional_factorial(5, n_runs=16))
    assert resolution_words(full_factorial([2, 2])) == (
        "Every combination is brewed: no effect is mixed up with another."
    )
    assert "always move together" in resolution_words(np.array([[-1.0, -1.0], [1.0, 1.0]]))


def test_a_full_factorial_holds_every_combination_once() -> None:
    design = full_factorial([2, 3, 4])

    levels = [(-1, 1), (-1, 0, 1), (-1, -1 / 3, 1 / 3, 1)]
    assert Counter(map(tuple, design.round(9))) == Counter(
        tuple(round(float(v), 9) for v in row) for row in product(*levels)
    )


@pytest.mark.parametrize("n", [3, 4, 5, 6])
def test_every_level_stands_once_in_every_row_and_column_of_a_latin_square(n: int) -> None:
    squares = [latin_square(n, rng=np.random.default_rng(seed)) for seed in range(20)]

    for square in squares:
        assert all(sorted(line) == list(range(n)) for line in (*square, *square.T))
    assert len({square.tobytes() for square in squares}) > 5


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: full_factorial([1, 2]), "two levels or more"),
        (lambda: full_factorial([5] * 5), "makes 3,125 brews"),
        (lambda: fractional_factorial(2), "three settings or more"),
        (lambda: fractional_factorial(4, n_runs=6), "has 4, 8, 16, 32, ... brews, not 6"),
        (lambda: fractional_factorial(6, n_runs=4), "do not fit into 4 brews; it takes 8"),
        (lambda: central_composite(1), "two settings or more"),
        (lambda: box_behnken(2), "three settings or more"),
        (lambda: latin_square(2, rng=np.random.default_rng(1)), "three levels or more, not 2"),
    ],
)
def test_what_cannot_be_designed_is_refused_plainly(make, said: str) -> None:
    with pytest.raises(ProblemError) as refused:
        make()

    assert said in str(refused.value)
