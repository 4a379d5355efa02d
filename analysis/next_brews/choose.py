"""Which of a method's questions is worth brewing for: settings that moved together, an effect that is open."""

from __future__ import annotations

from analysis.charts.effect_words import SaidEffect, single_effects
from analysis.diagnostics.repeats import TOPIC as REPEATS
from analysis.diagnostics.report import Diagnosis
from analysis.diagnostics.together import TOPIC as TOGETHER
from analysis.effects.result import EffectsResult
from analysis.findings import Finding
from analysis.planning.factors import SETTABLE


def open_effect(result: EffectsResult, difference: float) -> SaidEffect | None:
    """The setting that a trial would tell most of: its interval includes zero, or is wider than `difference` (points).

    Of those the one that could hide most; a setting that shares weights with the yield comes last. None where every
    setting is told well enough.
    """
    effects = [one for one in single_effects(result) if one.factor.name in SETTABLE and one.is_stated]
    unsure = [one for one in effects if not one.is_settled or one.row["high"] - one.row["low"] > difference]
    return min(unsure, key=lambda one: (one.shares_weights, one.is_settled, -_reach(one)), default=None)


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
