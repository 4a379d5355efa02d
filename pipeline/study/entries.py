"""One block of `study.toml`: its entries checked for kind, its complaints with file, line and entry."""

from __future__ import annotations

import difflib
from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

from pipeline.toml_file import TomlFile
from schemas.problem import ProblemError


@dataclass(frozen=True)
class Block:
    """The entries below one heading; `name` is the heading, counted where it stands more than once."""

    file: TomlFile
    name: str
    entries: dict[str, Any]

    def problem(self, key: str, said: str) -> ProblemError:
        """A complaint about one entry, or about the whole block where `key` is empty."""
        return self.file.problem(self.name, key, said)

    def only_known(self, known: Collection[str]) -> None:
        """Refuse an entry that means nothing, with the likely one."""
        self.file.only_known(self.name, self.entries, known)

    def needs(self, *keys: str) -> None:
        """Refuse a block that lacks any of these."""
        missing = [key for key in keys if key not in self.entries]
        if missing:
            raise self.problem("", f"lacks {', '.join(missing)}.")

    def text(self, key: str, *, one_of: Collection[str] = ()) -> str:
        """Text that says something, perhaps out of a closed list; the entry must be there."""
        value = self.file.words(self.name, key, self.entries[key], one_of=one_of).strip()
        if not value:
            raise self.problem(key, "is empty; say it in words.")
        return value

    def amount(self, key: str) -> float:
        """A finite number; the entry must be there."""
        return self.file.number(self.name, key, self.entries[key])

    def number(self, key: str) -> float | None:
        """A finite number, None where there is no such entry."""
        return self.amount(key) if key in self.entries else None

    def yes_no(self, key: str) -> bool:
        """True or false; false where there is no such entry."""
        value = self.entries.get(key, False)
        if not isinstance(value, bool):
            raise self.problem(key, "should be true or false, without quotes.")
        return value

    def texts(self, key: str, *, one_of: Collection[str] = ()) -> tuple[str, ...]:
        """A list of different texts, each perhaps out of a closed list; empty where there is no such entry."""
        values = self._list(key, 'texts in square brackets, such as ["a", "b"]')
        found = tuple(self.file.words(self.name, key, value, one_of=one_of) for value in values)
        self._no_repeats(key, found)
        return found

    def numbers(self, key: str) -> tuple[float, ...]:
        """A list of different numbers, ascending; empty where there is no such entry."""
        values = self._list(key, "numbers in square brackets, such as [90, 92, 94]")
        found = tuple(sorted(self.file.number(self.name, key, value) for value in values))
        self._no_repeats(key, [f"{value:g}" for value in found])
        return found

    def _list(self, key: str, what: str) -> list[object]:
        values = self.entries.get(key, [])
        if not isinstance(values, list):
            raise self.problem(key, f"should be a list: {what}.")
        return values

    def _no_repeats(self, key: str, values: Collection[str]) -> None:
        for value in values:
            if list(values).count(value) > 1:
                raise self.problem(key, f"names {value} twice; name it once.")


def did_you_mean(name: str, known: Collection[str]) -> str:
    """A hint at the likely name, with a space before it; empty where none is near.

    >>> did_you_mean("es-01", ["es-001", "po-7"]), did_you_mean("x", ["es-001"])
    (' Did you mean es-001?', '')
    """
    near = difflib.get_close_matches(name, list(known), n=1)
    return f" Did you mean {near[0]}?" if near else ""
