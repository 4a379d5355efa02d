"""Names of people out of sight: assessor A, B and so on, unless the project folder has words of its own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from string import ascii_uppercase


def assessor_labels(names: Sequence[str], *, own: Mapping[str, str] | None = None) -> dict[str, str]:
    """A label for each name, in the order given: the order in which people first scored keeps labels as they are.

    A label says nothing of how well somebody scores. `own` holds the lab's words; a letter is used up by its person
    either way, so that naming one person renames nobody else.

    >>> assessor_labels(["q7", "b2"], own={"b2": "Bea"})
    {'q7': 'assessor A', 'b2': 'Bea'}
    """
    own = own or {}
    unique = list(dict.fromkeys(names))
    return {name: own.get(name, f"assessor {letters(place)}") for place, name in enumerate(unique)}


def letters(place: int) -> str:
    """A, B, ..., Z, AA, AB, ... for 0, 1, ...

    >>> letters(0), letters(25), letters(26)
    ('A', 'Z', 'AA')
    """
    text = ""
    place += 1
    while place:
        place, rest = divmod(place - 1, len(ascii_uppercase))
        text = ascii_uppercase[rest] + text
    return text
