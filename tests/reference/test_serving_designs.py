"""Serving orders and incomplete blocks against another construction, least squares in R, and the published tables."""

from __future__ import annotations

import csv
from collections import defaultdict
from itertools import permutations
from pathlib import Path

import numpy as np
import pytest

from analysis.sensory.serving.efficiency import efficiency, spread_of
from analysis.sensory.serving.incomplete import incomplete_blocks
from analysis.sensory.serving.williams import williams_design

HERE = Path(__file__).parent / "williams"


def rows(name: str) -> list[dict[str, str]]:
    with (HERE / name).open() as file:
        return list(csv.DictReader(file))


def by_sheehe_and_bross(n_cups: int) -> set[tuple[int, ...]]:
    return {tuple(map(int, row["order"].split())) for row in rows("sheehe_bross.csv") if row["n_cups"] == str(n_cups)}


@pytest.mark.parametrize("n_cups", range(2, 10))
def test_the_orders_are_those_of_another_construction_up_to_the_names_of_the_cups(n_cups: int) -> None:
    own = williams_design(n_cups)
    other = by_sheehe_and_bross(n_cups)

    assert len(other) == len(own)
    # The first row of the other may be any of ours: renaming by one of them must turn the whole design into it.
    first = min(other)
    renamings = ({int(cup): name for cup, name in zip(row, first, strict=True)} for row in own)
    assert any({tuple(to[int(cup)] for cup in row) for row in own} == other for to in renamings)


def test_the_square_of_four_is_the_published_one() -> None:
    # Williams (1949) for four treatments, as reprinted by Jones and Kenward, from memory: 1423, 2134, 3241, 4312.
    published = {(0, 3, 1, 2), (1, 0, 2, 3), (2, 1, 3, 0), (3, 2, 0, 1)}

    own = {tuple(row) for row in williams_design(4).tolist()}

    assert any({tuple(to[cup] for cup in row) for row in own} == published for to in permutations(range(4)))


@pytest.mark.parametrize("expected", rows("efficiency.csv"), ids=lambda row: row["design"])
def test_efficiency_is_that_of_least_squares(expected: dict[str, str]) -> None:
    blocks = defaultdict(list)
    for row in rows("designs.csv"):
        if row["design"] == expected["design"]:
            blocks[row["block"]].append(int(row["product"]))
    design = np.array(list(blocks.values()))

    assert efficiency(design, int(design.max()) + 1) == pytest.approx(float(expected["efficiency"]), rel=1e-9)


@pytest.mark.parametrize(
    ("products", "size", "servings", "blocks", "meets", "printed"),
    [
        (4, 2, 3, 6, 1, 0.67),
        (4, 3, 3, 4, 2, 0.89),
        (5, 2, 4, 10, 1, 0.62),
        (5, 3, 6, 10, 3, 0.83),
        (6, 3, 5, 10, 2, 0.80),
        (7, 3, 3, 7, 1, 0.78),
        (8, 4, 7, 14, 3, 0.86),
        (9, 3, 4, 12, 1, 0.75),
        (10, 4, 6, 15, 2, 0.83),
        (11, 5, 5, 11, 2, 0.88),
        (13, 4, 4, 13, 1, 0.81),
        (21, 5, 5, 21, 1, 0.84),
    ],
)
def test_the_search_finds_the_published_balanced_designs(
    products: int, size: int, servings: int, blocks: int, meets: int, printed: float
) -> None:
    assert blocks * size == products * servings
    assert servings * (size - 1) == meets * (products - 1)

    found = spread_of(
        incomplete_blocks(products, size, n_assessors=blocks, n_sessions=1, rng=np.random.default_rng(1)), products
    )

    assert found.is_balanced
    assert (found.served_most, found.meets_most) == (servings, meets)
    assert found.efficiency == pytest.approx(printed, abs=0.005 + 1e-9)
    assert found.efficiency == pytest.approx(products * (size - 1) / (size * (products - 1)), rel=1e-9)
