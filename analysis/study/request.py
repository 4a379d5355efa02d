"""A declared study as the question put to the effects table."""

from __future__ import annotations

from analysis.effects.request import EffectsRequest
from schemas.study import Study


def effects_request(study: Study, *, group: str = "coffee_id") -> EffectsRequest:
    """The study's response, factors, curves, crosses, steps and method as an `EffectsRequest`."""
    return EffectsRequest(
        response=study.response,
        factors=study.factor_names,
        group=group,
        method=study.method,
        curves=study.curves,
        crosses=study.crosses,
        steps=study.steps,
    )
