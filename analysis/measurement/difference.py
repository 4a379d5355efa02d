"""The uncertainty of a difference: what two results share cancels, as far as it moves both alike."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from analysis.measurement.component import LEVEL, Budget, Component, combine
from analysis.measurement.shared import Shared, shared_words
from analysis.words import signed, span


@dataclass(frozen=True, slots=True)
class Difference:
    """First less second with its budget; `shared` lists the errors that both sides have in common."""

    budget: Budget
    shared: tuple[Shared, ...]
    explained: str

    @property
    def is_clear(self) -> bool:
        """Whether the interval leaves zero out."""
        return abs(self.budget.value) > self.budget.expanded_u

    def sentence(self) -> str:
        """The difference with its interval, the verdict, and what the instruments do to it."""
        budget = self.budget
        verdict = "a difference" if self.is_clear else "no difference that these measurements can show"
        return (
            f"{signed(budget.value, 2)} {budget.unit}, {100 * budget.level:g} % interval "
            f"{span(budget.low, budget.high, 2)}: {verdict}. {self.explained}"
        )


def difference(first: Budget, second: Budget, *, level: float = LEVEL) -> Difference:
    """First result less second: `u^2 = independent parts + (c1 - c2)^2 u^2` of each shared error.

    Lines of one name and one shared instrument are one error. A display step, and scatter, belong to each brew alone;
    scatter of one pool keeps that pool's degrees of freedom.
    """
    return difference_of_means([first], [second], level=level)


def difference_of_means(first: Sequence[Budget], second: Sequence[Budget], *, level: float = LEVEL) -> Difference:
    """Mean result of the first brews less that of the second; what one instrument does to all of them stays whole."""
    weighted = [(budget, 1 / len(first)) for budget in first] + [(budget, -1 / len(second)) for budget in second]
    value = math.fsum(weight * budget.value for budget, weight in weighted)
    own = [_weighted(part, weight) for budget, weight in weighted for part in budget.components if not part.shared]
    common = _shared_lines(weighted)
    lines = [*own, *(line for line, _, _ in common)]
    budget = combine(value, lines, unit="points" if first[0].unit == "%" else first[0].unit, level=level)
    shared = tuple(
        Shared(line.name, line.shared, abs(one), abs(two), abs(line.contribution))
        for line, one, two in common
        if one != 0 and two != 0
    )
    return Difference(budget, shared, shared_words(first, second, shared))


def _weighted(part: Component, weight: float) -> Component:
    return replace(part, sensitivity=weight * part.sensitivity)


def _shared_lines(weighted: Sequence[tuple[Budget, float]]) -> list[tuple[Component, float, float]]:
    """One line per shared error, with what it gives the first and the second side alone.

    Where its size differs between brews (a correction read at two places) the line's `u` is the first one's and the
    sensitivity carries the rest.
    """
    found: dict[tuple[str, str], list[tuple[Component, float]]] = {}
    for budget, weight in weighted:
        for part in budget.components:
            if part.shared:
                found.setdefault((part.name, part.shared), []).append((part, weight))
    lines = []
    for parts in found.values():
        one = math.fsum(weight * part.contribution for part, weight in parts if weight > 0)
        two = math.fsum(weight * part.contribution for part, weight in parts if weight < 0)
        model = max((part for part, _ in parts), key=lambda part: part.u)
        sensitivity = (one + two) / model.u if model.u > 0 else 0.0
        lines.append((replace(model, sensitivity=sensitivity), one, two))
    return lines
