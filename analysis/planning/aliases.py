"""What a fraction cannot tell apart, in words."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

from analysis.mixed.arrays import Floats
from analysis.planning.designs import defining_words
from analysis.words import listed

Word = tuple[int, ...]
RESOLUTION_WORDS = {
    3: "Single effects stand apart from each other, but each is mixed up with a product of two others (resolution "
    "III): good for finding what matters, not for saying how two settings work together.",
    4: "Single effects stand clear of each other and of every product of two (resolution IV); products of two are "
    "mixed up with one another.",
    5: "Single effects and products of two all stand clear of each other (resolution V).",
}


def resolution_words(coded: Floats) -> str:
    """What the resolution of two-level runs means; for a full factorial, that nothing is mixed up."""
    words = defining_words(coded)
    if not words:
        return "Every combination is brewed: no effect is mixed up with another."
    shortest = len(words[0])
    if shortest < 3:
        return "Two settings always move together here: their effects cannot be told apart."
    return RESOLUTION_WORDS[min(shortest, 5)]


def alias_groups(coded: Floats) -> tuple[tuple[Word, ...], ...]:
    """Single effects and products of two that share one contrast: groups of two or more, as column numbers."""
    k = coded.shape[1]
    effects: list[Word] = [(j,) for j in range(k)] + list(combinations(range(k), 2))
    words = [frozenset(word) for word in defining_words(coded)]
    groups: list[tuple[Word, ...]] = []
    seen: set[Word] = set()
    for effect in effects:
        same = [other for other in effects if other == effect or frozenset(effect) ^ frozenset(other) in words]
        if len(same) > 1 and effect not in seen:
            groups.append(tuple(same))
            seen.update(same)
    return tuple(groups)


def alias_sentences(coded: Floats, names: Sequence[str]) -> tuple[str, ...]:
    """One sentence for each group of effects that these runs cannot tell apart; `names` in the columns' order."""
    sentences = []
    for group in alias_groups(coded):
        told = [" x ".join(names[j] for j in effect) for effect in group]
        sentences.append(f"Cannot be told apart: {listed(told)}.")
    return tuple(sentences)
