"""In which order each palate gets its own selection: places and neighbours as equal as a search can make them."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from analysis.sensory.serving.balance import unevenness
from analysis.sensory.serving.williams import Orders, williams_design

STEPS, STEPS_A_CUP = 30_000, 1000
"""Exchanges tried at most, and for each cup of each row."""
PLACE_COST = 4
"""What an unequal place costs against an unequal pair of neighbours."""
WARM, COOL = 2.0, 0.1


def arranged(servings: NDArray[np.int64], products: NDArray[np.int64], *, rng: np.random.Generator) -> Orders:
    """The cups of each row of `servings` in an order, shape as given; `products` says what each cup holds.

    Rows begin as rows of a Williams design of their own size; then two cups of a row change places (simulated
    annealing) so that places and neighbours of the products become more equal.
    """
    size = servings.shape[1]
    design = williams_design(size)
    shuffled = rng.permuted(servings, axis=1)
    rows = np.take_along_axis(shuffled, design[np.arange(len(servings)) % len(design)], axis=1)
    return rearranged(rows, products, rng=rng)


def rearranged(orders: Orders, products: NDArray[np.int64], *, rng: np.random.Generator) -> Orders:
    """The same rows in orders that a search finds more even; the given ones where it finds none."""
    if orders.shape[1] == 1:
        return orders
    search = _Places(orders.tolist(), products.tolist())
    search.run(rng)
    found = np.array(search.rows, dtype=np.int64)
    return min((orders, found), key=lambda one: unevenness(products[one], int(products.max()) + 1))


class _Places:
    """Orders that change by exchanges within a row; counts of products in places, and of pairs of neighbours."""

    def __init__(self, rows: list[list[int]], product: list[int]) -> None:
        self.rows, self.product = rows, product
        n_products = max(product) + 1
        self.places = [[0] * len(rows[0]) for _ in range(n_products)]
        self.follows = [[0] * n_products for _ in range(n_products)]
        for row in rows:
            self._count(row, 1)

    def run(self, rng: np.random.Generator) -> None:
        """Try random exchanges, at first also some that do harm; the best orders met stand."""
        size = len(self.rows[0])
        steps = min(STEPS, STEPS_A_CUP * size * len(self.rows))
        rows = rng.integers(len(self.rows), size=steps).tolist()
        firsts = rng.integers(size, size=steps).tolist()
        seconds = rng.integers(size, size=steps).tolist()
        luck = (rng.exponential(size=steps) * np.geomspace(WARM, COOL, steps)).tolist()
        total = best = 0
        best_rows = [list(row) for row in self.rows]
        for which, first, second, allowed in zip(rows, firsts, seconds, luck, strict=True):
            if first == second:
                continue
            row = self.rows[which]
            before = self._count(row, -1)
            row[first], row[second] = row[second], row[first]
            change = self._cost(row) - before
            if change > allowed:
                row[first], row[second] = row[second], row[first]
                change = 0
            self._count(row, 1)
            total += change
            if total < best:
                best, best_rows = total, [list(one) for one in self.rows]
        self.rows = best_rows

    def _cost(self, row: list[int]) -> int:
        """What the row adds to the counts that the other rows leave: same order as half the sum of squares."""
        kinds = [self.product[cup] for cup in row]
        cost = PLACE_COST * sum(self.places[kind][place] for place, kind in enumerate(kinds))
        seen: dict[tuple[int, int], int] = {}
        for pair in pairwise(kinds):
            again = seen.get(pair, 0)
            cost += self.follows[pair[0]][pair[1]] + again
            seen[pair] = again + 1
        return cost

    def _count(self, row: list[int], step: int) -> int:
        """Count the row in (1) or out (-1); what it costs among the others."""
        kinds = [self.product[cup] for cup in row]
        for place, kind in enumerate(kinds):
            self.places[kind][place] += step
        for before, after in pairwise(kinds):
            self.follows[before][after] += step
        return self._cost(row) if step < 0 else 0
