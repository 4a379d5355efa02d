"""A finding with the factors it touches, so that the verdict can say which parts of the question it closes."""

from __future__ import annotations

from dataclasses import dataclass

from analysis.findings import WEIGHTS, Finding


@dataclass(frozen=True, slots=True)
class Seen:
    """A finding; `blocks` names the factors whose effects it puts out of reach (empty: none)."""

    finding: Finding
    blocks: tuple[str, ...] = ()


def in_order(seen: list[Seen]) -> list[Seen]:
    """The heaviest first; findings of one weight stay in the order of the checks."""
    return sorted(seen, key=lambda one: WEIGHTS.index(one.finding.weight))
