"""Which of a method's questions is worth brewing for: settings that moved together, an effect that is open."""

from __future__ import annotations

from collections.abc import Callable

from analysis.charts.effect_words import SaidEffect, single_effects
from analysis.diagnostics.repeats import TOPIC as REPEATS
from analysis.diagnostics.report import Diagnosis
from analysis.diagnostics.together import TOPIC as TOGETHER
from analysis.effects.result import EffectsResult
from analysis.findings import Finding
from analysis.planning.factors import SETTABLE


def open_effect(
    result: EffectsResult, difference: float, *, steps: Callable[[SaidEffect], float] = lambda _: 1.0
) -> SaidEffect | None:
    """The setting that a trial between the ends brewed would tell most of; `difference` is in points.

    `steps` counts the steps between those ends. A setting is open while its interval over them includes zero, or is
    wider than the difference without lying wholly beyond it. Of those the one that could hide most; a setting that
    shares weights with the yield comes last. None where every setting is told well enough.
    """
    effects = [one for one in single_effects(result) if one.factor.name in SETTABLE and one.is_stated]
    unsure = [one for one in effects if _is_open(one, difference / max(steps(one), 1.0))]
    return min(unsure, key=lambda one: (one.shares_weights, one.is_settled, -_reach(one)), default=None)


def _is_open(one: SaidEffect, difference: float) -> bool:
    low, high = float(one.row["low"]), float(one.row["high"])
    return not one.is_settled or (high - low > difference >= min(abs(low), abs(high)))


def _reach(one: SaidEffect) -> float:
    return float(max(-one.row["low"], one.row["high"]))


def moved_together(found: Diagnosis | None) -> Finding | None:
    """The finding that settings moved together so far that it matters."""
    return _heavy(found, TOGETHER)


def unrepeated(found: Diagnosis | None) -> Finding | None:
    """The finding that too little was brewed twice."""
    return _heavy(found, REPEATS)


def _heavy(found: Diagnosis | None, topic: str) -> Finding | None:
    findings = found.findings if found else ()
    return next((one for one in findings if one.topic == topic and one.weight != "fine"), None)
