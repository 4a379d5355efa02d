"""Which products each palate gets when there are more than it can take: incomplete blocks, found by search."""

from __future__ import annotations

from itertools import combinations, islice

import numpy as np

from analysis.sensory.serving.efficiency import Blocks, concurrences

STARTS, STEPS = 4, 24_000
"""Searches, and the exchanges that each tries."""
WARM, COOL = 3.0, 0.05
REPEAT_COST, SITTING_COST = 20, 4
"""What it costs when a palate meets a product again before it had all, or when a sitting serves products unequally,
against one for two products that meet too often."""
MOST_INITIAL = 3000
"""Initial blocks of a cyclic design that are looked at."""


def incomplete_blocks(
    n_products: int, block_size: int, *, n_assessors: int, n_sessions: int, rng: np.random.Generator
) -> Blocks:
    """Products of each sitting and palate, shape (n_sessions * n_assessors, block_size), sitting by sitting.

    Each product is served equally often, or once more or less; then pairs of products meet as equally as the better of
    a cyclic design and simulated annealing over exchanges finds them to, palates meet no product again before they had
    all, and each sitting serves all alike.
    """
    tried = []
    for _ in range(STARTS):
        search = _Search(_dealt(n_products, block_size, n_assessors, n_sessions, rng), n_products, n_assessors)
        tried.append((search.run(rng), search.blocks_found()))
    found = min(tried, key=lambda one: one[0])[1]
    if n_sessions == 1 and n_assessors % n_products == 0:
        cyclic = _cyclic(n_products, block_size, n_assessors // n_products, rng)
        if _unevenness(cyclic, n_products) < _unevenness(found, n_products):
            found = cyclic
    names = rng.permutation(n_products)
    return np.sort(names[found], axis=1)


def _unevenness(blocks: Blocks, n_products: int) -> int:
    return int((np.triu(concurrences(blocks, n_products), 1) ** 2).sum())


def _dealt(n_products: int, size: int, n_assessors: int, n_sessions: int, rng: np.random.Generator) -> list[list[int]]:
    """Blocks of the products that were served least, this palate's first among them."""
    served = np.zeros(n_products)
    own = np.zeros((n_assessors, n_products))
    blocks = []
    for _ in range(n_sessions):
        for assessor in range(n_assessors):
            order = np.lexsort((rng.random(n_products), own[assessor], served))
            block = [int(product) for product in order[:size]]
            served[block] += 1
            own[assessor, block] += 1
            blocks.append(block)
    return blocks


def _cyclic(n_products: int, size: int, n_cycles: int, rng: np.random.Generator) -> Blocks:
    """Blocks developed cyclically from initial blocks that are chosen one after the other (John and Williams 1995)."""
    met = np.zeros(n_products)
    rows = []
    for _ in range(n_cycles):
        block = min(_initial_blocks(n_products, size, rng), key=lambda one: _spread(met + _gaps(one, n_products)))
        met += _gaps(block, n_products)
        rows.append((np.array(block) + np.arange(n_products)[:, None]) % n_products)
    return np.vstack(rows)


def _initial_blocks(n_products: int, size: int, rng: np.random.Generator) -> list[tuple[int, ...]]:
    """All blocks with product 0, or as many random ones as are looked at."""
    every = [(0, *rest) for rest in islice(combinations(range(1, n_products), size - 1), MOST_INITIAL + 1)]
    if len(every) <= MOST_INITIAL:
        return every
    return [tuple(int(one) for one in rng.permutation(n_products)[:size]) for _ in range(MOST_INITIAL)]


def _gaps(block: tuple[int, ...], n_products: int) -> np.ndarray:
    """How often two products at each cyclic distance meet once the block is developed; distance 0 left out."""
    places = np.array(block)
    gaps = np.bincount(((places[:, None] - places[None, :]) % n_products).ravel(), minlength=n_products)
    gaps[0] = 0
    return gaps


def _spread(met: np.ndarray) -> float:
    return float((met**2).sum())


class _Search:
    """Simulated annealing: two blocks exchange a product each, so that servings stay equal; squares of counts fall.

    `meets`, `own` and `sitting` count pairs in a block, products of a palate, and products of a sitting.
    """

    def __init__(self, blocks: list[list[int]], n_products: int, n_assessors: int) -> None:
        self.blocks, self.n_assessors = blocks, n_assessors
        self.best = [list(block) for block in blocks]
        n_sessions = len(blocks) // n_assessors
        self.meets = [[0] * n_products for _ in range(n_products)]
        self.own = [[0] * n_products for _ in range(n_assessors)]
        self.sitting = [[0] * n_products for _ in range(n_sessions)]
        for place, block in enumerate(blocks):
            for product in block:
                self.own[place % n_assessors][product] += 1
                self.sitting[place // n_assessors][product] += 1
                for other in block:
                    self.meets[product][other] += product != other

    def run(self, rng: np.random.Generator) -> float:
        """Search, remembering the best; half the weighted sum of squares there."""
        n_blocks, start = len(self.blocks), self._cost()
        if n_blocks < 2:
            return start
        size = len(self.blocks[0])
        firsts, seconds = rng.integers(n_blocks, size=STEPS), rng.integers(n_blocks, size=STEPS)
        takes, gives = rng.integers(size, size=STEPS), rng.integers(size, size=STEPS)
        luck = rng.exponential(size=STEPS) * np.geomspace(WARM, COOL, STEPS)
        cost = best = 0.0
        for first, second, take, give, allowed in zip(
            firsts.tolist(), seconds.tolist(), takes.tolist(), gives.tolist(), luck.tolist(), strict=True
        ):
            one, other = self.blocks[first], self.blocks[second]
            p, q = one[take], other[give]
            if first == second or q in one or p in other:
                continue
            change = self._change(first, second, p, q)
            if change > allowed:
                continue
            self._exchange(first, second, take, give)
            cost += change
            if cost < best - 1e-9:
                best, self.best = cost, [list(block) for block in self.blocks]
        return start + best

    def _cost(self) -> float:
        squares = [
            weight * sum(count * count for row in table for count in row)
            for weight, table in ((0.5, self.meets), (REPEAT_COST, self.own), (SITTING_COST, self.sitting))
        ]
        return sum(squares) / 2

    def blocks_found(self) -> Blocks:
        """The best blocks met."""
        return np.array(self.best, dtype=np.int64)

    def _change(self, first: int, second: int, p: int, q: int) -> float:
        """By how much half the sum of squares changes if `first` gives p to `second` for q."""
        to_p, to_q = self.meets[p], self.meets[q]
        change = sum(to_q[x] - to_p[x] + 1 for x in self.blocks[first] if x != p)
        change += sum(to_p[x] - to_q[x] + 1 for x in self.blocks[second] if x != q)
        # A product in both blocks loses and wins the same pairs, so it changes nothing.
        change -= 2 * len(set(self.blocks[first]) & set(self.blocks[second]))
        here, there = first % self.n_assessors, second % self.n_assessors
        if here != there:
            change += REPEAT_COST * _exchanged(self.own[here], self.own[there], p, q)
        here, there = first // self.n_assessors, second // self.n_assessors
        if here != there:
            change += SITTING_COST * _exchanged(self.sitting[here], self.sitting[there], p, q)
        return float(change)

    def _exchange(self, first: int, second: int, take: int, give: int) -> None:
        p, q = self.blocks[first][take], self.blocks[second][give]
        for place, gone, come in ((first, p, q), (second, q, p)):
            for x in self.blocks[place]:
                if x != gone:
                    for product, step in ((gone, -1), (come, 1)):
                        self.meets[product][x] += step
                        self.meets[x][product] += step
            for counts in (self.own[place % self.n_assessors], self.sitting[place // self.n_assessors]):
                counts[gone] -= 1
                counts[come] += 1
        self.blocks[first][take], self.blocks[second][give] = q, p


def _exchanged(here: list[int], there: list[int], p: int, q: int) -> int:
    """Half the change of squares when `here` gives p for q of `there`."""
    return here[q] - here[p] + 1 + there[p] - there[q] + 1
