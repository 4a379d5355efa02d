"""One sentence on whether these brews can answer what is asked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from analysis.diagnostics.case import Case
from analysis.diagnostics.seen import Seen
from analysis.effects.factors import FACTORS
from analysis.words import count, listed

Answer = Literal["can", "can in part", "cannot"]


@dataclass(frozen=True, slots=True)
class Verdict:
    """The answer, its sentence, and the factors out of reach."""

    answer: Answer
    sentence: str
    blocked: tuple[str, ...]


def verdict(case: Case, seen: Sequence[Seen], *, refused: bool) -> Verdict:
    """Cannot when no effect comes out or every factor is blocked; in part when anything stands in the way; else can."""
    heavy = [one for one in seen if one.finding.weight == "stands in the way"]
    blocked = tuple(name for name in case.request.factors if any(name in one.blocks for one in heavy))
    open_ = [name for name in case.request.factors if name not in blocked]
    scope = f"({case.of}, {case.here})"
    if refused or not open_:
        why = heavy[0].finding.said if heavy else "no effect comes out."
        return Verdict("cannot", f"These brews cannot answer it {scope}, because: {why}", case.request.factors)
    if blocked:
        said = f"These brews can answer parts {scope}: what {_do(_nouns(open_))}, but not what {_do(_nouns(blocked))}."
        return Verdict("can in part", said, blocked)
    if heavy:
        ways = "one thing stands in the way" if len(heavy) == 1 else f"{len(heavy)} things stand in the way, first"
        return Verdict("can in part", f"These brews can answer parts {scope}; {ways}: {heavy[0].finding.said}", ())
    known = sum(1 for one in seen if one.finding.weight == "worth knowing")
    tail = f"; {count(known, 'thing is', 'things are')} worth knowing before you do" if known else ""
    return Verdict("can", f"These brews can answer it {scope}{tail}.", ())


def _do(nouns: Sequence[str]) -> str:
    return f"{listed(nouns)} {'does' if len(nouns) == 1 else 'do'}"


def _nouns(names: Sequence[str]) -> list[str]:
    return list(dict.fromkeys(FACTORS[name].noun for name in names))
