"""The effects of the settings as the effects table states them, for these brews or for some of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import polars as pl

from analysis.charts.plain_words import plain_words
from analysis.effects.estimate import effect_of
from analysis.effects.model import fit_chosen
from analysis.effects.request import EffectsRequest, check_request
from analysis.effects.rows import choose_rows
from schemas.problem import ProblemError


@dataclass(frozen=True, slots=True)
class Slope:
    """One effect for its step, in the response's unit, with its standard error and 95 % interval."""

    name: str
    per: str
    estimate: float
    std_error: float
    low: float
    high: float

    @property
    def settled(self) -> bool:
        """Whether the interval leaves zero out."""
        return self.low > 0 or self.high < 0


@dataclass(frozen=True)
class Slopes:
    """The effects of single settings by (term, per); empty with `refusal` when none.

    The first factor stands first; where each grinder has its own slope, the clearest of them leads.
    """

    by_term: Mapping[tuple[str, str], Slope]
    n_brews: int
    refusal: str = ""


def slopes_of(brews: pl.DataFrame, request: EffectsRequest) -> Slopes:
    """The effects that the effects table states for these brews; the reason in words when it refuses."""
    try:
        check_request(request)
        chosen = choose_rows(brews, request)
        fitted = fit_chosen(chosen, request)
    except ProblemError as problem:
        return Slopes({}, brews.height, plain_words(str(problem)))
    found = {}
    for k, term in enumerate(fitted.design.terms):
        if term.name in request.factors:
            row = effect_of(fitted.fit, k, step=1.0 if term.step is None else term.step)
            found[term.name, term.per] = Slope(
                term.name, term.per, row["estimate"], row["std_error"], row["low"], row["high"]
            )
    lead = request.factors[0]
    clearest = sorted(found, key=lambda key: (key[0] != lead, key[0] == lead and -_clear(found[key])))
    return Slopes({key: found[key] for key in clearest}, chosen.brews.height)


def _clear(slope: Slope) -> float:
    """How many standard errors an effect lies from zero."""
    return abs(slope.estimate) / slope.std_error
