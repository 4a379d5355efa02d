"""What is asked: a response, its factors, and how to state them; checked once, here."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from analysis.effects.factors import FACTORS, GROUPS, RESPONSES
from analysis.known_names import check_known
from schemas.methods import METHODS
from schemas.problem import ProblemError


@dataclass(frozen=True)
class EffectsRequest:
    """Explain `response` by `factors`, with one level for each value of `group`.

    `method` keeps the brews of one method; `curves` are factors that also get a square; `crosses` are pairs written
    "a:b"; `steps` gives the change an effect is stated for, by factor, in the factor's unit. `pool_methods` puts
    several methods into one model, each with slopes and an intercept of its own.
    """

    response: str
    factors: tuple[str, ...]
    group: str = "coffee_id"
    method: str | None = None
    curves: tuple[str, ...] = ()
    crosses: tuple[str, ...] = ()
    steps: Mapping[str, float] = field(default_factory=dict)
    pool_methods: bool = False

    def step(self, name: str) -> float:
        """The change that the effect of this factor is stated for."""
        return float(self.steps.get(name, FACTORS[name].step))

    def pairs(self) -> list[tuple[str, str]]:
        """The two factors of each cross."""
        return [(first, second) for first, _, second in (cross.partition(":") for cross in self.crosses)]


def check_request(request: EffectsRequest) -> None:
    """Raise ProblemError at the first thing asked for that cannot be answered whatever the brews are."""
    check_known("response", request.response, RESPONSES)
    if not request.factors:
        raise ProblemError("No factor is named: say what might explain it, such as grind_steps_finer.")
    for name in request.factors:
        check_known("factor", name, FACTORS)
    for name in request.factors:
        if request.factors.count(name) > 1:
            raise ProblemError(f"{name} is named twice as a factor; name it once.")
    if request.response in request.factors:
        raise ProblemError(f"{request.response} cannot explain itself; leave it out of the factors.")
    if {"grind_steps_finer", "grind_um_finer"} <= set(request.factors):
        raise ProblemError("grind_steps_finer and grind_um_finer are the same grind in two units; name one of them.")
    check_known("group", request.group, GROUPS)
    if request.method is not None:
        check_known("method", request.method, METHODS)
    if request.method is not None and request.pool_methods:
        raise ProblemError(
            f"Methods cannot be pooled when only {request.method} is asked for; leave one of the two out."
        )
    _check_curves(request)
    _check_crosses(request)
    _check_steps(request)


def _check_curves(request: EffectsRequest) -> None:
    for name in request.curves:
        _among_factors("curve", name, request)
        if FACTORS[name].is_yes_no:
            raise ProblemError(f"{name} is yes or no and cannot have a curve; leave it out of the curves.")
        if request.curves.count(name) > 1:
            raise ProblemError(f"{name} is named twice as a curve; name it once.")


def _check_crosses(request: EffectsRequest) -> None:
    seen: set[frozenset[str]] = set()
    for cross, (first, second) in zip(request.crosses, request.pairs(), strict=True):
        if not first or not second or ":" in second:
            raise ProblemError(f"The cross {cross!r} should be two factors with a colon between them, such as a:b.")
        _among_factors("cross", first, request)
        _among_factors("cross", second, request)
        if first == second:
            raise ProblemError(f"{first} cannot be crossed with itself; ask for its curve instead.")
        if frozenset((first, second)) in seen:
            raise ProblemError(f"{first} and {second} are crossed twice; name the cross once.")
        seen.add(frozenset((first, second)))


def _check_steps(request: EffectsRequest) -> None:
    for name, step in request.steps.items():
        _among_factors("step", name, request)
        if FACTORS[name].is_yes_no:
            raise ProblemError(f"{name} is yes or no: its effect is always stated as yes against no, without a step.")
        if not (math.isfinite(step) and step > 0):
            raise ProblemError(f"The step of {name} is {step:g}; it must be a number above 0.")


def _among_factors(what: str, name: str, request: EffectsRequest) -> None:
    if name not in request.factors:
        listed = ", ".join(request.factors)
        raise ProblemError(f"The {what} names {name!r}, which is not among the factors ({listed}); add it to them.")
