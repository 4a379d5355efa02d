"""What an incomplete block design costs: how often products meet, and its efficiency against complete blocks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.words import count, number

Blocks = NDArray[np.int64]
"""One row per palate and sitting: which products it gets, in no order."""
NEARLY_ZERO = 1e-9


@dataclass(frozen=True, slots=True)
class Spread:
    """`n_blocks` servings of `block_size` products out of `n_products`, fewest and most servings of a product.

    `meets` count how often two products are tasted by one palate in one sitting. `efficiency` is that of comparing
    two products, on average, against complete blocks with as many cups: 1 is no loss, 0 means that some products are
    never compared, not even by way of others.
    """

    n_products: int
    n_blocks: int
    block_size: int
    served_fewest: int
    served_most: int
    meets_fewest: int
    meets_most: int
    efficiency: float

    @property
    def is_balanced(self) -> bool:
        """Whether every product is served, and every two products meet, equally often."""
        return self.served_fewest == self.served_most and self.meets_fewest == self.meets_most

    def sentences(self, what: str) -> tuple[str, ...]:
        """The design in words; `what` is one of the things served, such as "brew"."""
        served = _between(self.served_fewest, self.served_most, "time")
        meets = _between(self.meets_fewest, self.meets_most, "time")
        kind = "a balanced incomplete block design" if self.is_balanced else "nearly balanced, found by search"
        said = (
            f"Each palate gets {self.block_size} of {count(self.n_products, what)} at a sitting: {kind}.",
            f"Each {what} is served {served}; two of them meet on one palate at one sitting {meets}.",
        )
        if self.efficiency == 0:
            return (*said, f"Some are never compared, not even by way of others: add assessors or sessions, or let "
                           f"each palate have more than {self.block_size}.")  # fmt: skip
        return (*said, f"Efficiency {number(self.efficiency, 2)}: as good as {number(100 * self.efficiency, 0)} % of "
                       "these cups would be if every palate had all.")  # fmt: skip


def spread_of(blocks: Blocks, n_products: int) -> Spread:
    """Count a design of shape (n_blocks, block_size); no product stands twice in a block."""
    meets = concurrences(blocks, n_products)
    served, pairs = np.diag(meets), meets[np.triu_indices(n_products, 1)]
    return Spread(
        n_products=n_products,
        n_blocks=len(blocks),
        block_size=blocks.shape[1],
        served_fewest=int(served.min()),
        served_most=int(served.max()),
        meets_fewest=int(pairs.min()) if pairs.size else 0,
        meets_most=int(pairs.max()) if pairs.size else 0,
        efficiency=efficiency(blocks, n_products),
    )


def concurrences(blocks: Blocks, n_products: int) -> NDArray[np.int64]:
    """How often two products share a block, shape (n_products, n_products); how often each is served, on the diagonal.

    >>> concurrences(np.array([[0, 1], [1, 2]]), 3).tolist()
    [[1, 1, 0], [1, 2, 1], [0, 1, 1]]
    """
    has = np.zeros((len(blocks), n_products), dtype=np.int64)
    has[np.arange(len(blocks))[:, None], blocks] = 1
    return np.asarray(has.T @ has)


def efficiency(blocks: Blocks, n_products: int) -> float:
    """Mean variance of a difference between two products in complete blocks over that of this design, 0 to 1.

    With the information matrix C = diag(r) - NN'/k the mean variance is 2 tr(C+)/(v - 1) (J. A. John and E. R.
    Williams, Cyclic and Computer Generated Designs, 1995, chapter 2; from memory), and 2/r in complete blocks.

    >>> round(efficiency(np.array([[0, 1], [1, 2], [0, 2]]), 3), 9)
    0.75
    """
    if n_products == 1:
        return 1.0
    meets = concurrences(blocks, n_products).astype(float)
    information = np.diag(np.diag(meets)) - meets / blocks.shape[1]
    values = np.linalg.eigvalsh(information)[1:]
    if values[0] < NEARLY_ZERO:
        return 0.0
    mean_served = blocks.size / n_products
    return float((n_products - 1) / (mean_served * np.sum(1 / values)))


def _between(fewest: int, most: int, noun: str) -> str:
    return count(most, noun) if fewest == most else f"{fewest} to {count(most, noun)}"
