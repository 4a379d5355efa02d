"""What a plan is asked for, checked once, here."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal, get_args

from analysis.planning.factors import PlanFactor, check_factors
from analysis.words import count, listed
from schemas.problem import ProblemError
from schemas.study import Impossible

DesignKind = Literal["full", "fractional", "surface", "composite", "box-behnken", "optimal", "square"]
DESIGNS: tuple[DesignKind, ...] = get_args(DesignKind)
DESIGN_WORDS: dict[DesignKind, str] = {
    "full": "full factorial: every combination",
    "fractional": "fractional factorial: a chosen part of all combinations of two levels",
    "surface": "response surface",
    "composite": "central composite design: corners, stars and centre",
    "box-behnken": "Box-Behnken design: middles of the edges and centre, three levels of every setting",
    "optimal": "D-optimal: the runs that together tell the asked-for effects best",
    "square": "Latin square: every level once in every session and once in every place",
}


@dataclass(frozen=True)
class PlanRequest:
    """What to vary (`factors`) on which `coffees`, and how.

    `n_runs` brews are made in all where the design leaves that open (optimal) or is a fraction of a size; otherwise
    every coffee gets the whole design `replicates` times. `sessions` is the number of sittings; in each, what is hard
    to change is set anew `resets` times. `curves` and `crosses` are the squares and products an optimal plan must be
    able to tell.
    """

    factors: tuple[PlanFactor, ...]
    coffees: tuple[str, ...]
    method: str
    design: DesignKind = "full"
    n_runs: int | None = None
    replicates: int = 1
    sessions: int = 1
    curves: tuple[str, ...] = ()
    crosses: tuple[str, ...] = ()
    impossible: tuple[Impossible, ...] = ()
    coffee_hard_to_change: bool = False
    resets: int = 1


def check_plan(request: PlanRequest) -> PlanRequest:
    """The request with its surface settled, or ProblemError at the first thing that cannot be planned."""
    check_factors(request.factors, request.method)
    if request.design not in DESIGNS:
        raise ProblemError(f"{request.design!r} is not a design. The list: {', '.join(DESIGNS)}.")
    _check_coffees(request.coffees)
    if min(request.replicates, request.sessions, request.resets) < 1:
        raise ProblemError("Replicates, sessions and resets are counted from 1.")
    _check_runs(request)
    n = len(request.factors)
    if request.design == "square" and n != 1:
        raise ProblemError(f"A Latin square varies one setting, not {n}. Name one, or take another design.")
    if request.design == "surface":
        return replace(request, design="box-behnken" if n in (3, 4) else "composite")
    return request


def _check_coffees(coffees: tuple[str, ...]) -> None:
    if not coffees or not all(name.strip() for name in coffees):
        raise ProblemError("No coffee is named: say which coffee or coffees are brewed, with --coffee ID.")
    doubled = sorted({name for name in coffees if coffees.count(name) > 1})
    if doubled:
        raise ProblemError(f"{listed(doubled)} is named twice as a coffee; name it once.")


def _check_runs(request: PlanRequest) -> None:
    if request.n_runs is None:
        if request.design == "optimal":
            raise ProblemError("An optimal plan needs to know how many brews there may be: add --runs N.")
        return
    if request.n_runs < 1:
        raise ProblemError(f"{request.n_runs} brews are no plan; --runs counts from 1.")
    if request.design not in ("optimal", "fractional"):
        raise ProblemError(
            f"The number of brews follows from the design ({request.design}); --runs goes with optimal and fractional. "
            "To brew the design more often, use --replicates."
        )
    if request.n_runs <= len(request.factors):
        raise ProblemError(
            f"{count(request.n_runs, 'brew')} cannot tell {count(len(request.factors), 'setting')} apart: it takes "
            f"{len(request.factors) + 1} at the least, and some more to know the noise."
        )
