"""How even a set of serving orders came out, by counting."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.sensory.serving.williams import Orders
from analysis.words import count


@dataclass(frozen=True, slots=True)
class Balance:
    """How often one product stood in one place, and followed one other product: fewest and most, all counted."""

    place_fewest: int
    place_most: int
    follows_fewest: int
    follows_most: int

    @property
    def is_even(self) -> bool:
        """Whether all places and all neighbours came equally often."""
        return self.place_fewest == self.place_most and self.follows_fewest == self.follows_most

    @property
    def is_nearly_even(self) -> bool:
        """Whether no two places, and no two pairs of neighbours, differ by more than one: no draw could do better."""
        return self.place_most - self.place_fewest <= 1 and self.follows_most - self.follows_fewest <= 1

    def sentences(self, what: str) -> tuple[str, ...]:
        """The counts in words; `what` is one of the things served, such as "brew"."""
        place = f"Each {what} is served in each place {_times(self.place_fewest, self.place_most)}"
        follow = f"and right after each other {what} {_times(self.follows_fewest, self.follows_most)}"
        if self.is_even:
            return (f"{place}, {follow}: places and carry-over from cup to cup are balanced.",)
        best = "as even as can be" if self.is_nearly_even else "as even as was found"
        return (f"{place}, {follow}: {best} with this number of cups and palates.",)


def balance_of(orders: Orders, n_products: int) -> Balance:
    """Count places and neighbours of products in orders of shape (rows, places); a product may stand in a row again."""
    follows = follow_counts(orders, n_products)[~np.eye(n_products, dtype=bool)]
    places = place_counts(orders, n_products)
    return Balance(
        place_fewest=int(places.min()),
        place_most=int(places.max()),
        follows_fewest=int(follows.min()) if follows.size else 0,
        follows_most=int(follows.max()) if follows.size else 0,
    )


def unevenness(orders: Orders, n_products: int) -> tuple[int, int]:
    """Sums of squares of the counts of places, and of neighbours that differ: the smaller, the more even."""
    follows = follow_counts(orders, n_products)
    np.fill_diagonal(follows, 0)
    return int((place_counts(orders, n_products) ** 2).sum()), int((follows**2).sum())


def place_counts(orders: Orders, n_products: int) -> NDArray[np.int64]:
    """How often each product stands in each place, shape (n_products, places)."""
    counts = np.zeros((n_products, orders.shape[1]), dtype=np.int64)
    np.add.at(counts, (orders, np.broadcast_to(np.arange(orders.shape[1]), orders.shape)), 1)
    return counts


def follow_counts(orders: Orders, n_products: int) -> NDArray[np.int64]:
    """How often the row's product comes right before the column's, shape (n_products, n_products)."""
    counts = np.zeros((n_products, n_products), dtype=np.int64)
    np.add.at(counts, (orders[:, :-1], orders[:, 1:]), 1)
    return counts


def _times(fewest: int, most: int) -> str:
    if fewest == most:
        return "once" if most == 1 else "never" if most == 0 else count(most, "time")
    joined = "or" if most == fewest + 1 else "to"
    return f"{fewest} {joined} {count(most, 'time')}"
