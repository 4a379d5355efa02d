"""A blind session: which cup each palate gets where, drawn once, with what the draw came to."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.sensory.serving.arrange import arranged, rearranged
from analysis.sensory.serving.balance import Balance, balance_of
from analysis.sensory.serving.efficiency import Spread, spread_of
from analysis.sensory.serving.incomplete import incomplete_blocks
from analysis.sensory.serving.williams import complete_orders
from schemas.problem import ProblemError

MOST_CUPS, MOST_PALATES = 300, 500
"""Sizes beyond which a plan is more likely a slip of the finger."""


@dataclass(frozen=True, slots=True)
class Size:
    """How many products, served how often each (`replicates`) in each of how many sessions, to how many assessors.

    `most_cups`: what a palate can take at one sitting; None is as many as there are.
    """

    n_products: int
    n_assessors: int
    replicates: int = 1
    n_sessions: int = 1
    most_cups: int | None = None

    @property
    def per_palate(self) -> int:
        """Products that each palate gets at a sitting, each `replicates` times."""
        if self.most_cups is None:
            return self.n_products
        return min(self.n_products, self.most_cups // self.replicates)


@dataclass(frozen=True, slots=True)
class Draw:
    """`cups` of shape (sessions, assessors, places): cup p * replicates + r is serving r of product p.

    `spread` is None where every palate gets every product.
    """

    cups: NDArray[np.int64]
    replicates: int
    balance: Balance
    spread: Spread | None


def draw_orders(size: Size, *, rng: np.random.Generator) -> Draw:
    """Draw who gets what in which order; ProblemError where the cups do not go round."""
    _check(size)
    rows = size.n_sessions * size.n_assessors
    products = np.arange(size.n_products * size.replicates) // size.replicates
    if size.per_palate == size.n_products:
        orders, spread = complete_orders(size.n_products * size.replicates, rows, rng=rng), None
        if not balance_of(orders // size.replicates, size.n_products).is_nearly_even:
            orders = rearranged(orders, products, rng=rng)
    else:
        blocks = incomplete_blocks(
            size.n_products, size.per_palate, n_assessors=size.n_assessors, n_sessions=size.n_sessions, rng=rng
        )
        servings = (blocks[:, :, None] * size.replicates + np.arange(size.replicates)).reshape(rows, -1)
        orders, spread = arranged(servings, products, rng=rng), spread_of(blocks, size.n_products)
    by_session = orders.reshape(size.n_sessions, size.n_assessors, -1)
    # Who is served which row is drawn anew at every sitting, where no palate's own selection depends on it.
    if spread is None:
        by_session = np.stack([one[rng.permutation(size.n_assessors)] for one in by_session])
    balance = balance_of(orders // size.replicates, size.n_products)
    return Draw(by_session, size.replicates, balance, spread)


def _check(size: Size) -> None:
    cups = size.n_products * size.replicates
    if cups > MOST_CUPS or size.n_assessors > MOST_PALATES:
        raise ProblemError(
            f"{cups:,} cups and {size.n_assessors:,} assessors are more than one plan takes ({MOST_CUPS} and "
            f"{MOST_PALATES}). Split it into several."
        )
    least = min(2, size.n_products) * size.replicates
    if size.most_cups is not None and size.most_cups < least:
        raise ProblemError(
            f"At most {size.most_cups} cups a palate is too few: {min(2, size.n_products)} to compare, each served "
            f"{size.replicates} times, are {least}. Raise --most-cups, or lower --replicates."
        )
    room = size.per_palate * size.n_assessors * size.n_sessions
    if room < size.n_products:
        raise ProblemError(
            f"{size.n_assessors} assessors with {size.per_palate} each in {size.n_sessions} sessions can taste {room} "
            f"of {size.n_products}: nobody would taste the rest. Add assessors or --sessions, or raise --most-cups."
        )
