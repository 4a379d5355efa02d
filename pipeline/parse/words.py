"""Text to yes or no, and to the words of a list."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import polars as pl

YES_OR_NO = {"true": True, "false": False, "yes": True, "no": False, "1": True, "0": False}


def parse_booleans(text: pl.Series) -> pl.Series:
    """Yes or no of one column, whatever the case; null where a cell is neither."""
    return text.str.to_lowercase().replace_strict(YES_OR_NO, default=None, return_dtype=pl.Boolean())


def parse_choices(text: pl.Series, choices: Sequence[str], own_words: Mapping[str, str]) -> pl.Series:
    """Words of a list as the list writes them; a word outside it stays as it stands.

    Case, spaces and hyphens do not matter: 'Pour over' is pour_over. `own_words` are declared by the lab.
    """
    own = {_key(word): meant for word, meant in own_words.items()}
    known = {_key(choice): choice for choice in choices} | own
    texts = text.unique().drop_nulls()
    meant = {word: known.get(_key(word), word) for word in texts}
    if all(word == choice for word, choice in meant.items()):
        return text
    return text.replace_strict(meant, return_dtype=pl.String())


def _key(word: str) -> str:
    return "_".join(word.casefold().replace("-", " ").replace("_", " ").split())
