"""What is compared: the levels of one column, in one response; checked once, here."""

from __future__ import annotations

from dataclasses import dataclass

from analysis.effects.factors import FACTORS, RESPONSES
from analysis.known_names import check_known
from schemas.methods import METHODS
from schemas.problem import ProblemError

SIDES: dict[str, str] = {
    "recipe_id": "recipe",
    "grinder_id": "grinder",
    "basket": "basket",
    "water_id": "water",
    "brewer": "brewer",
    "filter": "filter",
    "machine_id": "machine",
    "coffee_id": "coffee",
    "roast_level": "roast",
    "process": "process",
    "lot_id": "lot",
    "operator": "operator",
    "site": "site",
    "session_id": "session",
}
"""Columns whose levels can be compared, with the word for one level."""
BETWEEN_COFFEES = ("roast_level", "process")
"""What is one and the same for every brew of a coffee: coffees, not brews, are what is compared then."""


@dataclass(frozen=True)
class CompareRequest:
    """Compare the levels of `by` in `response`.

    `levels`: only these (empty: all that were brewed at least twice); `against`: compare each with this one alone;
    `adjust`: factors held at their means; `margin`: the difference that matters, in the response's unit (points where
    that is %), None where it is not declared.
    """

    by: str
    response: str = "extraction_yield_pct"
    method: str | None = None
    levels: tuple[str, ...] = ()
    against: str | None = None
    adjust: tuple[str, ...] = ()
    margin: float | None = None

    @property
    def word(self) -> str:
        """The word for one level."""
        return SIDES[self.by]


def check_compare_request(request: CompareRequest) -> None:
    """Raise ProblemError at the first thing asked for that cannot be answered whatever the brews are."""
    check_known("column to compare", request.by, SIDES)
    check_known("response", request.response, RESPONSES)
    for name in request.adjust:
        check_known("factor", name, FACTORS)
    if request.response in request.adjust:
        raise ProblemError(f"{request.response} cannot be held while it is compared; leave it out of the factors.")
    if request.method is not None:
        check_known("method", request.method, METHODS)
    if request.margin is not None and not request.margin > 0:
        raise ProblemError(f"The difference that matters must be above zero, not {request.margin:g}.")
    for name in request.levels:
        if request.levels.count(name) > 1:
            raise ProblemError(f"{request.word} {name} is named twice; name it once.")
    if len(request.levels) == 1 and request.against in (None, *request.levels):
        raise ProblemError(f"One {request.word} cannot be compared with itself; name another.")
