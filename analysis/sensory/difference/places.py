"""Where the cups stood: whether the orders of serving were balanced, and whether the place itself was picked."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass

import numpy as np
import polars as pl
from scipy.stats import fisher_exact

from analysis.sensory.difference.answers import Answers
from analysis.sensory.difference.palates import sign_flip_p

LETTERS = {"paired": 2, "triangle": 3}
PLACES = ("first", "second", "third")


@dataclass(frozen=True, slots=True)
class Served:
    """Hits out of answers with the odd cup (triangle), or the cup that counts as a hit (paired), in one place."""

    place: str
    hits: int
    n: int


@dataclass(frozen=True)
class Places:
    """`served` by place; `unread` answers have no order that can be read.

    `first` of `first_n` paired answers picked the cup served first, `first_p` the two-sided exact p against half.
    `free_p` asks whether hits depend on the cup whatever the liking for a place (Fisher's exact test of the place of
    the cup by the place picked, two-sided); None unless it stood in both places and each palate answered once.
    """

    served: tuple[Served, ...]
    unread: int
    first: int | None = None
    first_n: int = 0
    first_p: float | None = None
    free_p: float | None = None

    @property
    def balanced(self) -> bool:
        """Whether the places were used equally often, to within one answer, and all of them are known."""
        counts = [one.n for one in self.served]
        return bool(counts) and not self.unread and max(counts) - min(counts) <= 1

    @property
    def even_share(self) -> float | None:
        """Share of hits with all places weighing the same; None unless each was used."""
        if not self.served or not all(one.n for one in self.served):
            return None
        return sum(one.hits / one.n for one in self.served) / len(self.served)


def look_at_places(answers: Answers) -> Places | None:
    """Hits by place; None for a duo-trio test, and where no order was recorded (or, paired, no chosen brew)."""
    if answers.kind not in LETTERS:
        return None
    orders = [_letters(text, LETTERS[answers.kind]) for text in answers.rows["serving_order"].to_list()]
    rows = answers.rows.with_columns(order=pl.Series(orders, dtype=pl.String)).filter(
        pl.col("serving_order").is_not_null()
    )
    if answers.kind == "paired":
        rows = rows.filter(pl.col("chosen_brew_id").is_not_null())
    if rows.is_empty():
        return None
    unread = answers.rows.height - rows["order"].count()
    known = rows.filter(pl.col("order").is_not_null())
    if known.is_empty():
        return Places((), unread)
    if answers.kind == "paired":
        return _paired(known, unread)
    return Places(_served([_odd_place(order) for order in known["order"]], known["hit"].to_list(), PLACES), unread)


def _letters(text: str | None, length: int) -> str | None:
    """The order as A and B, both of them there; None for anything else.

    >>> _letters("a-b", 2), _letters("AAB", 3), _letters("412, 903", 2)
    ('AB', 'AAB', None)
    """
    letters = "".join(re.findall(r"\w", (text or "").upper()))
    return letters if len(letters) == length and set(letters) == {"A", "B"} else None


def _odd_place(order: str) -> str:
    """Where the odd cup of three stands.

    >>> _odd_place("ABB"), _odd_place("AAB")
    ('first', 'third')
    """
    return PLACES[order.index("A" if order.count("A") == 1 else "B")]


def _served(places: list[str], hits: list[bool], names: tuple[str, ...]) -> tuple[Served, ...]:
    n = Counter(places)
    found = Counter(place for place, hit in zip(places, hits, strict=True) if hit)
    return tuple(Served(name, found[name], n[name]) for name in names)


def _paired(known: pl.DataFrame, unread: int) -> Places:
    a_picked = pl.col("chosen_brew_id") == pl.col("brew_id_a")
    rows = known.with_columns(first=a_picked == (pl.col("order") == "AB"))
    # The cup that counts stood first where it was picked in that place, or missed in the other.
    stood = ["first" if first == hit else "second" for first, hit in rows.select("first", "hit").iter_rows()]
    served = _served(stood, rows["hit"].to_list(), PLACES[:2])
    of = rows.group_by("assessor", maintain_order=True).agg(pl.col("first").sum(), n=pl.len())
    first, n = of["first"].to_numpy().astype(np.int64), of["n"].to_numpy().astype(np.int64)
    p = sign_flip_p(first, n - first)
    return Places(served, unread, int(first.sum()), int(n.sum()), p, _free_p(served) if n.max() == 1 else None)


def _free_p(served: tuple[Served, ...]) -> float | None:
    """Without a difference the first place is picked as often whichever cup stands there."""
    one, other = served
    if not one.n or not other.n:
        return None
    return float(fisher_exact([[one.hits, one.n - one.hits], [other.n - other.hits, other.hits]]).pvalue)
