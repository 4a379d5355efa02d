"""Serving orders in which every cup stands everywhere and follows every other equally often (Williams designs)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Orders = NDArray[np.int64]
"""One row per palate and sitting: what is served, from the first place to the last."""

PLACE_WEIGHT = 1000
"""A place that is taken unequally counts before any unequal neighbours: the first cup is judged unlike the others."""
STARTS = 12


def williams_design(n_cups: int) -> Orders:
    """Orders of cups 0 to n_cups - 1, shape (n_cups, n_cups) for an even number of cups, (2 n_cups, n_cups) for an odd.

    Each cup stands once (odd: twice) in each place and follows each other cup once (odd: twice).
    E. J. Williams (1949), Australian Journal of Scientific Research A 2, 149-168: a zigzag row, developed cyclically;
    an odd number needs its mirror image too.

    >>> williams_design(4).tolist()
    [[0, 1, 3, 2], [1, 2, 0, 3], [2, 3, 1, 0], [3, 0, 2, 1]]
    """
    zigzag = [(place + 1) // 2 if place % 2 else -(place // 2) for place in range(n_cups)]
    square = (np.array(zigzag, dtype=np.int64) + np.arange(n_cups)[:, None]) % n_cups
    return square if n_cups % 2 == 0 or n_cups == 1 else np.vstack([square, square[:, ::-1]])


def complete_orders(n_cups: int, n_rows: int, *, rng: np.random.Generator) -> Orders:
    """`n_rows` orders of all cups, shape (n_rows, n_cups), from a randomised Williams design.

    Whole designs are repeated; the rows that are left over are those that leave places, then neighbours, as equal as a
    search can make them. Rows are in a cycle, so that any run of them is nearly balanced too.
    """
    design = rng.permutation(n_cups)[williams_design(n_cups)]
    design = design[rng.permutation(len(design))]
    left_over = n_rows % len(design)
    if left_over and n_cups % 2:
        chosen = _most_balanced(design, left_over, rng)
        rest = np.setdiff1d(np.arange(len(design)), chosen)
        design = design[np.concatenate([chosen, rest])]
    return design[np.arange(n_rows) % len(design)]


def _most_balanced(design: Orders, size: int, rng: np.random.Generator) -> NDArray[np.int64]:
    """Rows of the design whose places and neighbours are most equal: exchange descent from several random starts.

    The squares of all counts add up to x'Gx for the 0/1 vector x of rows, so that an exchange costs two look-ups.
    """
    gram = _gram(design)
    best, best_cost = np.arange(size), np.inf
    for _ in range(STARTS):
        chosen = np.zeros(len(design), dtype=bool)
        chosen[rng.permutation(len(design))[:size]] = True
        cost = _descend(gram, chosen)
        if cost < best_cost:
            best, best_cost = np.flatnonzero(chosen), cost
    return best


def _gram(design: Orders) -> NDArray[np.float64]:
    rows, n_cups = design.shape
    at, who = np.arange(rows)[:, None], np.arange(n_cups)
    places, pairs = np.zeros((rows, n_cups * n_cups)), np.zeros((rows, n_cups * n_cups))
    places[at, design * n_cups + who] = 1
    pairs[at, design[:, :-1] * n_cups + design[:, 1:]] = 1
    return np.asarray(PLACE_WEIGHT * places @ places.T + pairs @ pairs.T)


def _descend(gram: NDArray[np.float64], chosen: NDArray[np.bool_]) -> float:
    """Exchange rows while that makes the counts more equal; `chosen` is changed in place."""
    own = np.diag(gram)
    while True:
        with_chosen = gram[:, chosen].sum(axis=1)
        inside, outside = np.flatnonzero(chosen), np.flatnonzero(~chosen)
        if not outside.size:
            return float(with_chosen[chosen].sum())
        loss = own[inside] - 2 * with_chosen[inside]
        gain = own[outside] + 2 * with_chosen[outside]
        change = loss[:, None] + gain[None, :] - 2 * gram[np.ix_(inside, outside)]
        worst, best = np.unravel_index(int(change.argmin()), change.shape)
        if change[worst, best] >= 0:
            return float(with_chosen[chosen].sum())
        chosen[inside[worst]], chosen[outside[best]] = False, True
