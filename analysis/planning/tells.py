"""What a plan would be able to tell, before anybody brews: intervals, chances, and what it cannot."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.planning.model import PlanModel
from analysis.planning.noise import Noise
from analysis.planning.power import chance_of_t, smallest_seen
from analysis.planning.strata import Layout, Precision, correlations, inflation, precision


@dataclass(frozen=True, slots=True)
class Tell:
    """One term. All in the response's unit, for the change from low to high (see `scale_of`).

    `half_width`: half the expected 95 % interval; `smallest`: the difference seen four times in five; `chance`: of
    seeing the difference that matters (None where none is named, or the term is no slope). `inflation` is the variance
    inflation; `rests_on` counts the degrees of freedom.
    """

    name: str
    std_error: float
    half_width: float
    smallest: float
    chance: float | None
    inflation: float
    rests_on: float


def scale_of(model: PlanModel, place: int) -> float:
    """From a coded coefficient to what it does over the whole range.

    A slope moves the response by 2 from low to high; a square lifts both ends by 1 over the centre; a product makes
    one setting's move from low to high differ by 4 between the other's low and high.
    """
    if len(model.terms[place]) == 1:
        return 2.0
    return 1.0 if model.is_square(place) else 4.0


def what_it_tells(
    model: PlanModel, layout: Layout, noise: Noise, *, difference: float | None = None
) -> tuple[Tell, ...] | None:
    """Every term of a plan; None where its terms cannot be told apart within coffees and sessions."""
    known = precision(layout, noise)
    if known is None:
        return None
    inflated = inflation(layout)
    return tuple(_tell(model, known, place, float(inflated[place]), difference) for place in range(len(model.names)))


def _tell(model: PlanModel, known: Precision, place: int, inflated: float, difference: float | None) -> Tell:
    scale, df = scale_of(model, place), float(known.df[place])
    error = float(known.std_error[place]) * scale
    slope = len(model.terms[place]) == 1
    return Tell(
        name=model.names[place],
        std_error=error,
        half_width=float(known.half_width()[place]) * scale,
        smallest=smallest_seen(error, df),
        chance=chance_of_t(difference, error, df) if difference and slope else None,
        inflation=inflated,
        rests_on=df,
    )


def confounded(model: PlanModel, layout: Layout, *, above: float = 0.5) -> tuple[tuple[str, str, float], ...]:
    """Pairs of single effects whose settings moved together within coffees and sessions, the worst first."""
    r = correlations(layout)
    slopes = [place for place, term in enumerate(model.terms) if len(term) == 1]
    pairs = [
        (model.names[a], model.names[b], float(r[a, b]))
        for k, a in enumerate(slopes)
        for b in slopes[k + 1 :]
        if np.isfinite(r[a, b]) and abs(r[a, b]) > above
    ]
    return tuple(sorted(pairs, key=lambda pair: -abs(pair[2])))
