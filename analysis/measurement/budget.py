"""The uncertainty budget of one brew: its yield, its yield on the dry dose, its strength as served."""

from __future__ import annotations

from analysis.measurement.component import LEVEL, Budget, combine, share_words
from analysis.measurement.measured import MeasuredBrew
from analysis.measurement.model import Result, check_result, evaluate
from analysis.measurement.slopes import cup_strength_slopes, dry_yield_slopes, yield_slopes
from analysis.measurement.sources import error_sources
from analysis.words import count, number, sentence, span

NAMES: dict[Result, str] = {
    "extraction_yield_pct": "extraction yield",
    "extraction_yield_dry_pct": "extraction yield on the dry dose",
    "cup_tds_pct": "strength",
}


def brew_budget(brew: MeasuredBrew, *, result: Result = "extraction_yield_pct", level: float = LEVEL) -> Budget:
    """Everything that makes a brew's result uncertain, line by line, in percentage points of the result.

    Type A lines are the repeatability pooled over brews, never the two or three readings of this brew alone.
    Refuses (`ProblemError`) an instrument whose uncertainty is not known.
    """
    check_result(brew, result)
    slopes = slopes_of(brew, result)
    lines = [source.component(slopes) for source in error_sources(brew)]
    value = evaluate(brew, brew.inputs(), result)
    return combine(value, [line for line in lines if line.sensitivity != 0], unit="%", level=level)


def slopes_of(brew: MeasuredBrew, result: Result) -> dict[str, float]:
    """Change of the result for one unit of each input."""
    if result == "cup_tds_pct":
        return cup_strength_slopes(brew)
    if result == "extraction_yield_dry_pct":
        return dry_yield_slopes(brew, yield_pct=evaluate(brew, brew.inputs(), "extraction_yield_pct"))
    return yield_slopes(brew)


def budget_sentence(brew: MeasuredBrew, budget: Budget, *, result: Result = "extraction_yield_pct") -> str:
    """The budget in one or two sentences: value, interval, what it rests on, shares, what is left out."""
    n = sum(group.n_readings for group in brew.readings)
    digits = 3 if result == "cup_tds_pct" else 2
    said = (
        f"{NAMES[result]} {number(budget.value, digits)} %, "
        f"{100 * budget.level:g} % interval {span(budget.low, budget.high, digits)} % "
        f"({count(n, 'reading')}, coverage factor {number(budget.coverage_factor, 2)})"
    )
    shares = share_words(budget.shares())
    parts = [said, f"Its uncertainty comes from {shares}" if shares else "", *left_out(brew)]
    return " ".join(sentence(part) for part in parts if part)


def left_out(brew: MeasuredBrew) -> list[str]:
    """What the budget could not count, in words."""
    found = []
    for group in brew.readings:
        who = group.instrument or "the unnamed instrument"
        if group.scatter_pct is None:
            found.append(f"no repeated readings on {who}: scatter is not counted")
        if group.resolution_pct is None:
            found.append(f"{who} has no resolution: its display step is not counted")
    exact = [name for name, mass in brew.masses().items() if mass.scale == 0.0]
    if exact:
        found.append(f"no weighing scale and no default for {', '.join(exact)}: counted as exact")
    return found
