"""Mass closure in sentences: what is unaccounted for, and which brews to look at."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from analysis.measurement.closure import Closure
from analysis.measurement.closure_explain import Explanation
from analysis.measurement.closure_residuals import VERDICT_U, MethodClosure
from analysis.measurement.closure_suspects import Screen, Suspect
from analysis.words import count, listed, method_word, number, sentence, signed, span

LOOK = "Likely weighing errors: look at these"
MOST_EXPLANATIONS = 3
LEAST_VESSEL_G = 10.0
"""Lighter than this no cup or dish is thought of."""
NAMES = {"dose_g": "dose", "water_g": "water", "beverage_g": "beverage", "spent_wet_g": "spent grounds"}


def closure_sentences(closure: Closure) -> tuple[str, ...]:
    """The answer in full: each method's pooled residual, what the other brews were screened by, the suspects."""
    said = [method_sentence(method) for method in closure.methods]
    said += [screen_sentence(screen) for screen in closure.screens]
    if closure.suspects:
        said.append(f"{LOOK} ({count(len(closure.suspects), 'brew')}).")
        said += [suspect_sentence(suspect) for suspect in closure.suspects]
    elif closure.methods or closure.screens:
        said.append("No brew stands apart by its weights.")
    if closure.n_not_judged:
        said.append(
            f"{count(closure.n_not_judged, 'brew')} not judged: no spent grounds weighed, no retained water known."
        )
    return tuple(said)


def residual_sentence(row: Mapping[str, Any]) -> str:
    """The verdict on one row of `Closure.residuals`."""
    if row["residual_g"] is None:
        return sentence(f"brew {row['brew_id']}: no mass closure, because {row['closure_note']}")
    what = f"brew {row['brew_id']}: {_unaccounted(row['residual_g'])} ({signed(row['residual_pct'], 1)} % of the water)"
    if row["closes"] is None:
        return sentence(f"{what}; {row['closure_note']}")
    verdict = "the weights add up, within" if row["closes"] else "the weights do not add up, by more than"
    note = f"; {row['closure_note']}" if row["closure_note"] else ""
    return sentence(f"{what}: {verdict} {number(VERDICT_U * row['residual_u_g'], 2)} g, twice its uncertainty{note}")


def method_sentence(method: MethodClosure) -> str:
    """What the brews of one method leave unaccounted for on average, with n and interval, and what may be behind it."""
    brews = f"{count(method.n_brews, 'brew')} ({method_word(method.method)})"
    if method.low_g is None or method.high_g is None or method.low_pct is None or method.high_pct is None:
        return sentence(f"{brews} with spent grounds weighed: {_unaccounted(method.mean_g)}; no interval from one brew")
    text = (
        f"{brews} with spent grounds weighed: on average {_unaccounted(method.mean_g)} "
        f"(95 % interval {_signed_span(method.low_g, method.high_g, 2)} g; {signed(method.mean_pct, 2)} % of the "
        f"water, {_signed_span(method.low_pct, method.high_pct, 2)} %)"
    )
    if method.n_judged:
        text += f"; {method.n_closed} of {method.n_judged} add up within twice their standard uncertainty"
    if method.n_left_out:
        text += f"; {count(method.n_left_out, 'likely weighing error')} left out"
    return f"{sentence(text)} {_behind(method, method.low_g, method.high_g)}"


def screen_sentence(screen: Screen) -> str:
    """What brews without spent grounds were judged by."""
    usual, brews = screen.usual, f"{count(screen.n_judged, 'brew')} ({method_word(screen.method)})"
    if usual.low is None or usual.high is None:
        return sentence(
            f"{brews} without spent grounds weighed: too few brews of the method ({usual.n}) to say how much water is "
            "usually kept, and no common practice known"
        )
    limits = f"{span(usual.low, usual.high, 2)} g per g of dose"
    if usual.middle is None:
        return sentence(
            f"{brews} without spent grounds weighed: judged by common practice, {limits} of water kept, as "
            f"{usual.n} brews are too few to go by"
        )
    return sentence(
        f"{brews} without spent grounds weighed: judged by the method's own {count(usual.n, 'brew')}, median "
        f"{number(usual.middle, 2)} g of water kept per g of dose, limits {limits}"
    )


def suspect_sentence(suspect: Suspect) -> str:
    """One brew to look at: how far off, against what, and which weight would explain it."""
    return sentence(f"brew {suspect.brew_id} ({method_word(suspect.method)}): {suspect_words(suspect)}")


def suspect_words(suspect: Suspect) -> str:
    """The same without the brew's name."""
    usual = suspect.usual
    if suspect.residual_g is not None:
        seen = _unexplained(suspect.residual_g, suspect.value)
        limits = f"{_signed_span(suspect.middle - suspect.limit, suspect.middle + suspect.limit, 1)} %"
    else:
        seen = f"{number(suspect.value, 2)} g of water was kept per g of dose"
        limits = f"{span(suspect.middle - suspect.limit, suspect.middle + suspect.limit, 2)} g per g"
    basis = {
        "brews": f"usual of its method: {limits}, from {count(usual.n, 'brew')}",
        "common practice": f"allowed: {limits}, a rule of thumb, as only {count(usual.n, 'brew')} of its method "
        f"{'tells' if usual.n == 1 else 'tell'}",
        "nothing": f"allowed: {limits}",
    }[usual.basis]
    if not suspect.explanations:
        return f"{seen} ({basis}); no single weight explains it"
    ways = [_explained(one) for one in suspect.explanations[:MOST_EXPLANATIONS]]
    return f"{seen} ({basis}); it would fit if {listed(ways, last='or if')}"


def _unexplained(residual_g: float, residual_pct: float) -> str:
    """What came out less than went in, or the other way round, in g and % of the water."""
    grams, percent = f"{number(abs(residual_g), 1)} g", f"{signed(residual_pct, 1)} % of the water"
    if residual_g < 0:
        return f"{grams} more came out than went in, {percent}"
    return f"{grams} of what went in are unaccounted for, {percent}"


def _explained(one: Explanation) -> str:
    name, recorded, would_be = NAMES[one.column], f"{number(one.recorded_g, 1)} g", f"{number(one.would_be_g, 1)} g"
    if one.how == "tenfold":
        return f"{name} were {would_be} instead of {recorded} (decimal point)"
    if one.how == "digits swapped":
        return f"{name} were {would_be} instead of {recorded} (two digits swapped)"
    if one.how == "swapped":
        return f"{name} and {NAMES[one.other]} were swapped"
    difference = f"{number(abs(one.recorded_g - one.would_be_g), 1)} g"
    slip = f"{difference} too much" if one.how == "too heavy" else f"{difference} not weighed"
    if one.how == "too heavy" and one.recorded_g - one.would_be_g >= LEAST_VESSEL_G:
        slip += ", as of a vessel not taken off"
    return f"{name} were about {would_be} instead of {recorded} ({slip})"


def _behind(method: MethodClosure, low_g: float, high_g: float) -> str:
    """What a pooled residual may come from."""
    if low_g <= 0 <= high_g:
        return "No loss or gain is shown."
    if method.calibration_u_g is not None:
        half = (high_g - low_g) / 2
        if abs(method.mean_g) <= math.hypot(VERDICT_U * method.calibration_u_g, half):
            return (
                "What is left of the weighing scale's calibration could explain it (each weighing counted as wrong in "
                "its own way: what they share cancels between in and out, so this errs on the safe side)."
            )
    if method.mean_g > 0:
        return "More went in than came out: vapour that was not weighed, or drops left in kettle and brewer."
    return "More came out than went in: a vessel or wet filter weighed with the grounds, or water that was not weighed."


def _unaccounted(residual_g: float) -> str:
    """A residual in words: missing, or too much."""
    if round(residual_g, 2) == 0:
        return "0.00 g unaccounted for"
    return f"{number(abs(residual_g), 2)} g {'missing' if residual_g > 0 else 'too much'}"


def _signed_span(low: float, high: float, digits: int) -> str:
    return f"{signed(low, digits)} to {signed(high, digits)}"
