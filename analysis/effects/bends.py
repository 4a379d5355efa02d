"""A straight line through a curve with a top: look for it wherever grind is given a straight line."""

from __future__ import annotations

from dataclasses import dataclass, replace

import polars as pl

from analysis.effects.design import Term
from analysis.effects.model import fit_chosen
from analysis.effects.request import EffectsRequest
from analysis.effects.rows import ChosenRows
from schemas.problem import ProblemError

GRINDS = ("grind_steps_finer", "grind_um_finer")
MIN_SETTINGS = 3


@dataclass(frozen=True)
class Bend:
    """A grind slope that seems to bend `way` ("up" or "down"); `place` in words where it is one of several."""

    name: str
    place: str
    way: str

    @property
    def note(self) -> str:
        """What to tell the reader."""
        return (
            f"{self.name}{self.place} seems to bend {self.way}: a step does not do the same everywhere, so one number "
            "for it may mislead. The option --curve shows the bend."
        )

    def is_of(self, term: Term) -> bool:
        """Whether `term` is the slope that bends."""
        return term.factors == (self.name,) and term.place == self.place


def find_bends(chosen: ChosenRows, request: EffectsRequest) -> tuple[Bend, ...]:
    """The grind slopes whose square, were it asked for, has a 95 % interval that leaves zero out."""
    straight = [name for name in request.factors if name in GRINDS and name not in request.curves]
    if not straight:
        return ()
    name = straight[0]
    chosen = _with_settings(chosen, name)
    if chosen.brews.is_empty():
        return ()
    curved = replace(request, curves=(*request.curves, name))
    try:
        fitted = fit_chosen(chosen, curved)
    except ProblemError:
        return ()  # these brews can carry the line but not the curve, so nothing is said of it
    return tuple(
        Bend(name, term.place, "down" if fitted.fit.estimate[k] < 0 else "up")
        for k, term in enumerate(fitted.design.terms)
        if term.factors == (name, name) and abs(fitted.fit.estimate[k]) > fitted.fit.half_width(k)
    )


def _with_settings(chosen: ChosenRows, name: str) -> ChosenRows:
    """The brews that can show a bend: where each grinder has its own slope, those of grinders with three settings."""
    settings = pl.col(name).n_unique()
    brews = chosen.brews.filter((settings.over("grinder_id") if chosen.grinders else settings) >= MIN_SETTINGS)
    grinders = tuple(sorted(brews["grinder_id"].unique())) if chosen.grinders else ()
    return replace(chosen, brews=brews, grinders=grinders)
