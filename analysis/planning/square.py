"""A Latin square: one setting over sessions, and over coffees or places in the session."""

from __future__ import annotations

import numpy as np

from analysis.planning.designs import latin_square
from analysis.planning.model import plan_model
from analysis.planning.planned import Plan, PlannedRun
from analysis.planning.request import PlanRequest
from analysis.words import count
from schemas.problem import ProblemError


def plan_square(asked: PlanRequest, *, rng: np.random.Generator) -> Plan:
    """One setting's n levels over n sessions (rows) and n coffees or places in the session (columns)."""
    factor = asked.factors[0]
    own = factor.settings or factor.levels(max(len(asked.coffees), 3))
    n = len(own)
    if len(asked.coffees) not in (1, n):
        raise ProblemError(
            f"A Latin square of {count(n, 'level')} takes {n} coffees, or one coffee and {n} places in each session; "
            f"{count(len(asked.coffees), 'coffee')} is neither. Declare as many levels as coffees, or take full."
        )
    by_place = len(asked.coffees) == 1
    runs = []
    for repeat in range(asked.replicates):
        letters = latin_square(n, rng=rng)
        for row in range(n):
            turns = np.arange(n) if by_place else rng.permutation(n)
            session = repeat * n + row + 1
            runs += [
                PlannedRun(asked.coffees[0 if by_place else column], (own[letters[row, column]],), session, session, at)
                for at, column in enumerate(turns, start=1)
            ]
    curves = (factor.name,) if n > 2 else ()
    column = "place in the session" if by_place else "coffee"
    note = f"{count(n * asked.replicates, 'session')}; every level once in each session and once with each {column}."
    return Plan(asked, plan_model((factor,), curves=curves), tuple(runs), (), (), (note,))
