"""Codes mean nothing, are never used twice, and survive a slip of the pen."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.sensory.serving.codes import PLAIN_CODES, draw_codes, is_plain
from schemas.problem import ProblemError


def one_slip(code: str) -> set[str]:
    """Every other code that a wrong digit, or two neighbours changed over, would give."""
    wrong = {code[:place] + digit + code[place + 1 :] for place in range(3) for digit in "0123456789"}
    return (wrong | {code[1] + code[0] + code[2], code[0] + code[2] + code[1]}) - {code}


@settings(max_examples=50, deadline=None)
@given(
    n_cups=st.integers(1, 200), seed=st.integers(0, 2**32), taken=st.sets(st.sampled_from(PLAIN_CODES), max_size=300)
)
def test_codes_are_three_plain_digits_all_different_and_none_of_an_earlier_session(
    n_cups: int, seed: int, taken: set[str]
) -> None:
    drawn = draw_codes(n_cups, taken=taken, rng=np.random.default_rng(seed))

    assert len(set(drawn.codes)) == len(drawn.codes) == n_cups
    assert all(len(code) == 3 and is_plain(code) for code in drawn.codes)
    assert not set(drawn.codes) & taken
    assert drawn.used_before == 0


@pytest.mark.parametrize("seed", range(10))
def test_up_to_thirty_cups_no_slip_turns_one_code_into_another(seed: int) -> None:
    drawn = draw_codes(30, taken=(), rng=np.random.default_rng(seed))

    assert drawn.alike == 0
    assert not [pair for pair in combinations(drawn.codes, 2) if pair[1] in one_slip(pair[0])]


def test_when_codes_run_out_alike_and_used_ones_are_counted() -> None:
    many = draw_codes(len(PLAIN_CODES), taken=(), rng=np.random.default_rng(1))
    assert many.alike == len(PLAIN_CODES)
    used = draw_codes(5, taken=PLAIN_CODES[2:], rng=np.random.default_rng(1))
    assert used.used_before == 3
    assert set(PLAIN_CODES[:2]) < set(used.codes)
    with pytest.raises(ProblemError, match="more than there are"):
        draw_codes(len(PLAIN_CODES) + 1, taken=(), rng=np.random.default_rng(1))


@pytest.mark.parametrize("code", ["111", "101", "911", "042", "123", "765", "210", "420", "786", "666"])
def test_codes_that_people_read_meaning_into_are_left_out(code: str) -> None:
    assert code not in PLAIN_CODES


def test_codes_are_drawn_without_order_so_that_cups_cannot_be_told_by_them() -> None:
    # Mean code of the first of ten cups over many draws: that of all plain codes, or the place would show.
    first = [int(draw_codes(10, taken=(), rng=np.random.default_rng(seed)).codes[0]) for seed in range(300)]
    every = np.array([int(code) for code in PLAIN_CODES])

    assert np.mean(first) == pytest.approx(every.mean(), abs=4 * every.std() / np.sqrt(300))
