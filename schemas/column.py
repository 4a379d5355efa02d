"""What is known of one column: its unit, its meaning, what it may hold."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Kind = Literal["text", "number", "integer", "boolean", "date", "time", "choice"]


@dataclass(frozen=True, slots=True)
class Column:
    """One column of the data dictionary.

    `low` and `high` are hard limits (a value beyond them is set aside); `above` is a hard limit that the
    value itself must exceed. `usual` is the plausible range, for people and flags only.
    """

    name: str
    kind: Kind
    meaning: str
    unit: str = ""
    choices: tuple[str, ...] = ()
    low: float | None = None
    above: float | None = None
    high: float | None = None
    usual: tuple[float, float] | None = None
    usual_note: str = ""


def text(name: str, meaning: str) -> Column:
    """Free text; ids keep their leading zeros."""
    return Column(name, "text", meaning)


def choice(name: str, meaning: str, *choices: str) -> Column:
    """One word out of a closed list."""
    return Column(name, "choice", meaning, choices=choices)


def boolean(name: str, meaning: str) -> Column:
    """True or false, yes or no, 1 or 0."""
    return Column(name, "boolean", meaning)


def date(name: str, meaning: str) -> Column:
    """A calendar date."""
    return Column(name, "date", meaning, unit="date")


def time(name: str, meaning: str) -> Column:
    """A moment: ISO 8601 with an offset, or naive in the lab's zone; a bare date is accepted."""
    return Column(name, "time", meaning, unit="time")


def integer(name: str, meaning: str, *, low: float | None = None) -> Column:
    """A whole number."""
    return Column(name, "integer", meaning, low=low)


def number(
    name: str,
    meaning: str,
    unit: str = "",
    *,
    low: float | None = None,
    above: float | None = None,
    high: float | None = None,
    usual: tuple[float, float] | None = None,
    usual_note: str = "",
) -> Column:
    """A measured or computed number with its unit."""
    return Column(name, "number", meaning, unit, low=low, above=above, high=high, usual=usual, usual_note=usual_note)


def mass(name: str, meaning: str, *, usual: tuple[float, float] | None = None, usual_note: str = "") -> Column:
    """A mass in grams, never negative."""
    return number(name, meaning, "g", low=0, usual=usual, usual_note=usual_note)


def seconds(name: str, meaning: str, *, usual: tuple[float, float] | None = None) -> Column:
    """A duration in seconds, never negative."""
    return number(name, meaning, "s", low=0, usual=usual)
