from __future__ import annotations

from math import comb

import numpy as np
import pytest

from analysis.sensory.difference.binomial import (
    allowed_right,
    exact_interval,
    minimum_right,
    needed_right,
    p_at_least,
    p_at_most,
    p_two_sided,
    tellers,
)

# Exact binomial tails; the rule of ISO 4120 table A.1, n = 6..30 (level 0.001: six answers can never do).
TRIANGLE = {
    0.05: "5 5 6 6 7 7 8 8 9 9 9 10 10 11 11 12 12 12 13 13 14 14 15 15 15",
    0.01: "6 6 7 7 8 8 9 9 10 10 11 11 12 12 13 13 14 14 15 15 15 16 16 17 17",
    0.001: "none 7 8 8 9 10 10 11 11 12 12 13 13 14 14 15 15 16 16 17 17 18 18 19 19",
}
LARGE = {
    0.05: "18 20 22 25 27 29 32 34 36 38 41 43",
    0.01: "20 22 25 27 30 32 34 37 39 42 44 46",
}
# ISO 10399 and ISO 5495, n = 6..30.
HALF = {
    0.05: "6 7 7 8 9 9 10 10 11 12 12 13 13 14 15 15 16 16 17 18 18 19 19 20 20",
    0.01: "none 7 8 9 10 10 11 12 12 13 14 14 15 15 16 17 17 18 19 19 20 20 21 22 22",
}
TWO_SIDED = "6 7 8 8 9 10 10 11 12 12 13 13 14 15 15 16 17 17 18 18 19 20 20 21 21"
CASES = ("14 30 third", "8 12 third", "22 30 half", "0 7 third", "7 7 half", "3 30 third")


def numbers(text: str) -> list[int | None]:
    return [None if word == "none" else int(word) for word in text.split()]


@pytest.mark.parametrize("level", TRIANGLE)
def test_right_answers_needed_of_a_triangle_test_are_the_table(level: float) -> None:
    needed = [minimum_right(n, chance=1 / 3, level=level) for n in range(6, 31)]

    assert needed == numbers(TRIANGLE[level])


@pytest.mark.parametrize("level", LARGE)
def test_right_answers_needed_of_large_triangle_tests_are_the_table(level: float) -> None:
    assert [minimum_right(n, chance=1 / 3, level=level) for n in range(36, 103, 6)] == numbers(LARGE[level])


@pytest.mark.parametrize("level", HALF)
def test_right_answers_needed_of_two_cups_are_the_table(level: float) -> None:
    assert [minimum_right(n, chance=0.5, level=level) for n in range(6, 31)] == numbers(HALF[level])


def test_picks_needed_two_sided_are_the_table() -> None:
    needed = [minimum_right(n, chance=0.5, level=0.05, two_sided=True) for n in range(6, 31)]

    assert needed == numbers(TWO_SIDED)


@pytest.mark.parametrize("case", CASES)
def test_tails_and_intervals_equal_r(case: str, from_r: dict[tuple[str, str], float]) -> None:
    right, n, guess = case.split()
    k, m, chance = int(right), int(n), 1 / 3 if guess == "third" else 0.5
    interval = exact_interval(k, m)
    found = {
        "p_greater": p_at_least(k, m, chance),
        "p_less": p_at_most(k, m, chance),
        "p_two_sided": p_two_sided(k, m),
        "low": interval.low,
        "high": interval.high,
    }

    assert found == {name: pytest.approx(from_r[name, case], rel=1e-9) for name in found}


@pytest.mark.parametrize(("chance", "thirds"), [(1 / 3, 1), (2 / 3, 2)])
def test_needed_holds_where_a_tail_all_but_equals_the_level(chance: float, thirds: int) -> None:
    # Whole numbers cannot round: a tail of n answers in units of 3**-n, taken as the level itself.
    for n in range(3, 25):
        for k in range(n // 2, n + 1):
            tail = sum(comb(n, j) * thirds**j * (3 - thirds) ** (n - j) for j in range(k, n + 1))
            assert needed_right(np.array([n]), chance=chance, level=tail / 3**n)[0] == k


def test_similarity_allows_what_the_lower_tail_allows() -> None:
    # 0.3 who tell give 8/15 right; tails in whole numbers of 15**-n.
    for n in range(1, 40):
        tails = [sum(comb(n, j) * 8**j * 7 ** (n - j) for j in range(k + 1)) for k in range(n + 1)]
        most = max((k for k in range(n + 1) if 20 * tails[k] <= 15**n), default=-1)
        assert allowed_right(np.array([n]), chance=1 / 3, share=0.3, level=0.05)[0] == most


def test_those_who_tell_are_never_fewer_than_none() -> None:
    assert tellers(0.1, 1 / 3) == 0.0
    assert tellers(1.0, 0.5) == 1.0
