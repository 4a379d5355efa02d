"""Orders are proved by counting: every cup in every place, every cup after every other, equally often."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.sensory.serving.balance import balance_of
from analysis.sensory.serving.session import Size, draw_orders
from analysis.sensory.serving.williams import complete_orders, williams_design
from schemas.problem import ProblemError


def places_and_pairs(orders: list[list[int]]) -> tuple[Counter, Counter]:
    places = Counter((cup, place) for row in orders for place, cup in enumerate(row))
    return places, Counter(pair for row in orders for pair in pairwise(row))


@pytest.mark.parametrize("n_cups", [*range(1, 14), 20, 25, 30])
def test_a_whole_design_has_every_cup_in_every_place_and_after_every_other_equally_often(n_cups: int) -> None:
    design = williams_design(n_cups).tolist()

    places, pairs = places_and_pairs(design)
    each = 1 if n_cups % 2 == 0 or n_cups == 1 else 2
    assert len(design) == each * n_cups
    assert places == {(cup, place): each for cup in range(n_cups) for place in range(n_cups)}
    assert pairs == {(a, b): each for a in range(n_cups) for b in range(n_cups) if a != b}


@settings(max_examples=40, deadline=None)
@given(n_cups=st.integers(1, 12), n_rows=st.integers(1, 40), seed=st.integers(0, 2**32))
def test_with_any_number_of_assessors_places_differ_by_one_at_most(n_cups: int, n_rows: int, seed: int) -> None:
    orders = complete_orders(n_cups, n_rows, rng=np.random.default_rng(seed))

    assert all(sorted(row) == list(range(n_cups)) for row in orders.tolist())
    balance = balance_of(orders, n_cups)
    if n_cups % 2 == 0:
        assert balance.is_nearly_even
        assert balance.follows_most <= -(-n_rows // n_cups)
    whole = 2 * n_cups if n_cups % 2 and n_cups > 1 else n_cups
    assert balance.is_even == (n_rows % whole == 0) or n_cups <= 2
    assert balance.place_most - balance.place_fewest <= 1 + n_cups % 2


@settings(max_examples=15, deadline=None)
@given(
    n_products=st.integers(1, 8),
    n_assessors=st.integers(1, 6),
    replicates=st.integers(1, 3),
    n_sessions=st.integers(1, 3),
    seed=st.integers(0, 2**32),
)
def test_every_palate_gets_every_product_as_often_as_asked_at_every_sitting(
    n_products: int, n_assessors: int, replicates: int, n_sessions: int, seed: int
) -> None:
    size = Size(n_products, n_assessors, replicates, n_sessions)
    draw = draw_orders(size, rng=np.random.default_rng(seed))

    assert draw.cups.shape == (n_sessions, n_assessors, n_products * replicates)
    n_cups = n_products * replicates
    assert all(sorted(row) == list(range(n_cups)) for row in draw.cups.reshape(-1, n_cups).tolist())
    assert draw.spread is None


@settings(max_examples=8, deadline=None)
@given(data=st.data(), seed=st.integers(0, 2**32))
def test_where_palates_get_a_part_servings_are_equal_and_everything_is_tasted(data: st.DataObject, seed: int) -> None:
    n_products = data.draw(st.integers(3, 14))
    most = data.draw(st.integers(2, n_products - 1))
    replicates = data.draw(st.integers(1, 2))
    n_assessors = data.draw(st.integers(-(-n_products // most), 12))
    n_sessions = data.draw(st.integers(1, 2))
    size = Size(n_products, n_assessors, replicates, n_sessions, most * replicates)

    draw = draw_orders(size, rng=np.random.default_rng(seed))

    tasted = draw.cups // replicates
    for palate in tasted.reshape(-1, most * replicates).tolist():
        assert set(Counter(palate).values()) == {replicates}
    served = Counter(tasted.ravel().tolist())
    assert set(served) == set(range(n_products))
    assert max(served.values()) - min(served.values()) <= replicates
    assert draw.spread is not None
    assert 0 <= draw.spread.efficiency <= 1 + 1e-9


def test_over_two_sittings_a_palate_gets_everything_once_before_anything_twice() -> None:
    draw = draw_orders(Size(12, 5, n_sessions=2, most_cups=6), rng=np.random.default_rng(4))

    for palate in range(5):
        assert sorted(draw.cups[:, palate].ravel().tolist()) == list(range(12))


def test_the_same_seed_draws_the_same_and_another_draws_another() -> None:
    for size in (Size(4, 7, 2), Size(7, 4, most_cups=3)):
        first, again, other = (draw_orders(size, rng=np.random.default_rng(seed)).cups for seed in (1, 1, 2))
        assert (first == again).all()
        assert (first != other).any()


def test_thirty_cups_and_one_cup_and_one_assessor_can_be_planned() -> None:
    assert draw_orders(Size(30, 1), rng=np.random.default_rng(1)).balance.place_most == 1
    assert draw_orders(Size(1, 3), rng=np.random.default_rng(1)).cups.tolist() == [[[0], [0], [0]]]
    assert draw_orders(Size(30, 60), rng=np.random.default_rng(1)).balance.is_even
    many = draw_orders(Size(3, 50), rng=np.random.default_rng(1)).balance
    # 50 are eight designs of six and two more orders: with all places filled differently these two share a neighbour.
    assert (many.place_fewest, many.place_most, many.follows_fewest, many.follows_most) == (16, 17, 16, 18)


@pytest.mark.parametrize(
    ("size", "said"),
    [
        (Size(5, 3, replicates=3, most_cups=5), "At most 5 cups a palate is too few"),
        (Size(30, 1, most_cups=8), "can taste 8 of 30"),
        (Size(400, 3), "more than one plan takes"),
    ],
)
def test_what_cannot_be_served_is_refused_with_what_to_change(size: Size, said: str) -> None:
    with pytest.raises(ProblemError, match=said):
        draw_orders(size, rng=np.random.default_rng(1))


def test_the_balance_is_said_by_its_counts() -> None:
    even = balance_of(williams_design(4), 4)
    assert even.sentences("brew") == (
        "Each brew is served in each place once, and right after each other brew once: places and carry-over from cup "
        "to cup are balanced.",
    )
    one_row = balance_of(williams_design(4)[:1], 4)
    assert "0 or 1 time, and right after each other brew 0 or 1 time: as even as can be" in one_row.sentences("brew")[0]


def test_an_unconnected_design_says_that_some_are_never_compared() -> None:
    spread = draw_orders(Size(8, 2, most_cups=4), rng=np.random.default_rng(1)).spread

    assert spread is not None
    assert spread.efficiency == 0
    assert "never compared" in spread.sentences("brew")[-1]
