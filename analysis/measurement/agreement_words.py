"""What a comparison of two instruments says, in sentences that name their number, interval and basis."""

from __future__ import annotations

import math
from typing import Literal

from analysis.measurement.agreement import Agreement, NotCompared, predict_b
from analysis.measurement.deming import Line
from analysis.words import count, number, sentence, signed, span

UNIT = "% TDS"
SLOPE_DIGITS = 3
MOST_DIGITS = 6
Verdict = Literal["agree", "disagree", "open"]


def verdict(agreement: Agreement, tolerance_pct: float) -> Verdict:
    """Whether one may stand in for the other where a gap of `tolerance_pct` either way does not matter.

    "agree": both limits lie within it, intervals included; "disagree": an interval lies wholly outside; else "open".
    """
    if agreement.lower.low >= -tolerance_pct and agreement.upper.high <= tolerance_pct:
        return "agree"
    if agreement.lower.high < -tolerance_pct or agreement.upper.low > tolerance_pct:
        return "disagree"
    return "open"


def agreement_sentences(agreement: Agreement, *, tolerance_pct: float | None = None) -> tuple[str, ...]:
    """The answer in full: gap, limits, stand-in verdict where a tolerance is given, slope, basis, notes."""
    said = [_gap(agreement), _limits(agreement)]
    if tolerance_pct is not None:
        said.append(_stand_in(agreement, tolerance_pct))
    said += [_slope(agreement), *_stated(agreement), _basis(agreement), *agreement.notes]
    return tuple(_sentence(text, agreement.b) for text in said)


def agreement_sentence(agreement: Agreement | NotCompared) -> str:
    """The verdict in one sentence with what it is based on, or why there is none."""
    if isinstance(agreement, NotCompared):
        return _sentence(agreement.reason, agreement.a)
    text = f"{_gap(agreement)}; {_limits(agreement)}; {_short_slope(agreement)}; {_basis(agreement)}"
    return _sentence(text, agreement.b)


def prediction_words(agreement: Agreement, reading_pct: float) -> str:
    """What `b` would read, with its interval and a word where no such strength was read, or why it cannot be said."""
    found, line, digits = predict_b(agreement, reading_pct), agreement.line, _digits(agreement)
    if found is None or line is None:
        return sentence(f"what {agreement.b} would read cannot be said: {agreement.no_slope}")
    text = (
        f"where {agreement.a} reads {number(reading_pct, digits)} {UNIT}, a single reading on {agreement.b} would be "
        f"{number(found.value, digits)} (95 in 100 such readings: {span(found.low, found.high, digits)})"
    )
    if found.outside_range:
        text += f"; {agreement.a} read {span(line.x_low, line.x_high, 2)} {UNIT} here, so do not rely on it"
    return sentence(text)


def _digits(agreement: Agreement) -> int:
    """Decimals for differences: 3, one more than instruments show; 2 where the gap is known no better than 0.1 %."""
    return 3 if agreement.bias.high - agreement.bias.low < 0.2 else 2


def _gap(agreement: Agreement) -> str:
    bias, digits = agreement.bias, _digits(agreement)
    interval = f"95 % interval {_signed_span(bias.low, bias.high, digits)}"
    if bias.low <= 0 <= bias.high:
        return (
            f"no gap shown between {agreement.b} and {agreement.a}: {signed(bias.value, digits)} {UNIT} "
            f"on average ({interval})"
        )
    way = "higher" if bias.value > 0 else "lower"
    return (
        f"{agreement.b} reads {number(abs(bias.value), digits)} {UNIT} {way} than {agreement.a} on average ({interval})"
    )


def _limits(agreement: Agreement) -> str:
    lower, upper, digits = agreement.lower, agreement.upper, _digits(agreement)
    return (
        f"of one sample, 95 in 100 single readings on {agreement.b} differ from one on {agreement.a} by "
        f"{_signed_span(lower.value, upper.value, digits)} {UNIT} (95 % intervals of the two ends "
        f"{_signed_span(lower.low, lower.high, digits)} and {_signed_span(upper.low, upper.high, digits)})"
    )


def _stand_in(agreement: Agreement, tolerance_pct: float) -> str:
    within = f"within {number(tolerance_pct, _digits(agreement))} {UNIT} either way"
    if verdict(agreement, tolerance_pct) == "agree":
        return f"one may stand in for the other {within}"
    if verdict(agreement, tolerance_pct) == "disagree":
        return f"one may not stand in for the other {within}"
    return f"these brews do not settle whether one may stand in for the other {within}: read more brews on both"


def _slope(agreement: Agreement) -> str:
    line, trend = agreement.line, agreement.trend
    if line is None or trend is None:
        return f"whether the gap changes with strength cannot be said: {agreement.no_slope}"
    slope = trend.slope
    digits = _digits_beside(0.0, slope.low, slope.high)
    text = (
        f"{_short_slope(agreement)}; against the mean of both, the gap changes by {signed(slope.value, digits)} {UNIT} "
        f"per {UNIT}, 95 % interval {_signed_span(slope.low, slope.high, digits)}"
    )
    if abs(trend.artefact) * 2 > slope.high - slope.value:
        text += f", of which {signed(trend.artefact, digits)} is made by the unequal scatter of the two and is no gap"
    return text


def line_sentence(agreement: Agreement) -> str:
    """How the slope was found, for a method note; empty without one."""
    line = agreement.line
    if line is None:
        return ""
    return sentence(
        f"slope of {agreement.b} against {agreement.a}: Deming regression with an error ratio of {_ratio(agreement)} "
        f"({agreement.errors.basis}{_worth_of_ratio(line)})"
    )


def _short_slope(agreement: Agreement) -> str:
    line = agreement.line
    if line is None:
        return f"no slope: {agreement.no_slope}"
    digits = _digits_beside(1.0, line.slope_low, line.slope_high)
    interval = f"slope {number(line.slope, digits)}, 95 % interval {span(line.slope_low, line.slope_high, digits)}"
    if line.slope_low <= 1 <= line.slope_high:
        return f"the gap is not shown to change with strength ({interval})"
    return f"the gap {_change(line, agreement)} with strength ({interval})"


def _digits_beside(no_change: float, low: float, high: float) -> int:
    """Decimals of a slope: `SLOPE_DIGITS`, or as many more as it takes to see that an end is not `no_change`."""
    return next(
        (d for d in range(SLOPE_DIGITS, MOST_DIGITS) if no_change not in (round(low, d), round(high, d))), MOST_DIGITS
    )


def _change(line: Line, agreement: Agreement) -> str:
    """Whether the gap opens or closes over the strengths read; where its sign changes, neither."""
    first, last = (line.intercept + (line.slope - 1) * at for at in (agreement.range_low, agreement.range_high))
    if first * last < 0:
        return "changes its sign"
    return "grows" if abs(last) > abs(first) else "shrinks"


def _ratio(agreement: Agreement) -> str:
    errors = agreement.errors
    if not math.isfinite(errors.ratio):
        return f"0 on {agreement.a}, which is taken as exact"
    return f"{number(errors.ratio, 2)} (95 % interval {span(errors.low, errors.high, 2)})" if errors.known else "1"


def _worth_of_ratio(line: Line) -> str:
    low, high = sorted((line.slope_at_low, line.slope_at_high))
    if round(low, SLOPE_DIGITS) == round(high, SLOPE_DIGITS):
        return ""
    return f"; any ratio that these allow gives a slope of {span(low, high, SLOPE_DIGITS)}"


def _stated(agreement: Agreement) -> list[str]:
    """Whether stated uncertainties explain the gap: twice their root sum of squares, and the gap's own."""
    if agreement.stated_u is None or agreement.bias.low <= 0 <= agreement.bias.high:
        return []
    half = (agreement.bias.high - agreement.bias.low) / 2
    explained = math.hypot(2 * agreement.stated_u, half)
    digits = _digits(agreement)
    word = "explain" if abs(agreement.bias.value) <= explained else "do not explain"
    return [
        f"the uncertainties stated of the two {word} the gap: they allow {number(explained, digits)} {UNIT} either way"
    ]


def _basis(agreement: Agreement) -> str:
    samples = "" if agreement.n_samples == agreement.n_brews else f", {count(agreement.n_samples, 'sample')}"
    return (
        f"based on {count(agreement.n_brews, 'brew')}{samples} from "
        f"{span(agreement.range_low, agreement.range_high, 2)} {UNIT}, "
        f"{count(agreement.n_readings_a, 'reading')} on {agreement.a} and {count(agreement.n_readings_b, 'reading')} "
        f"on {agreement.b}"
    )


def _signed_span(low: float, high: float, digits: int) -> str:
    return f"{signed(low, digits)} to {signed(high, digits)}"


def _sentence(text: str, name: str) -> str:
    """A sentence; an instrument's name that it begins with keeps its letters."""
    return f"{name}{sentence(text)[len(name) :]}" if text.startswith(f"{name} ") else sentence(text)
