"""How often 95 % intervals hold the truth: 4,000 invented instruments a case, seeds fixed before the first look.

Run from the top of the project as `python -m tests.reference.calibration.coverage`; it writes coverage.csv beside
itself. The test runs the same cases again and compares. Strengths in % TDS. Every run draws the errors of its
references, its instrument's daily state and its scatter anew.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import polars as pl

from analysis.measurement.calibration import Check
from analysis.measurement.correction import FittedCorrection, fit_correction
from analysis.measurement.drift import Drift, drift

RUNS = 4000
TABLE = Path(__file__).with_name("coverage.csv")
START = datetime(2026, 3, 2, 8, tzinfo=UTC)
PER_WEEK = 0.004
OFFSET, SLOPE = 0.02, 1.015


@dataclass(frozen=True)
class DriftCase:
    """An instrument checked on `occasions` mornings at `bottles`, one bottle after the other where `in_turn`.

    It differs by `sd_day` from morning to morning and by `sd` from check to check; its display has steps of `step`.
    """

    name: str
    occasions: int
    bottles: tuple[float, ...] = (1.3,)
    in_turn: bool = False
    sd: float = 0.01
    sd_day: float = 0.0
    step: float = 0.0


@dataclass(frozen=True)
class CorrectionCase:
    """References, each checked as often as `times` says, and strengths `at` which corrected readings are judged.

    `reference_u` is the standard uncertainty of a reference; `sd_day` what the instrument differs by from one check to
    the next in its zero, `sd` the scatter of its readings, which `knows_repeats` says is known.
    """

    name: str
    references: tuple[float, ...]
    times: tuple[int, ...]
    at: tuple[float, ...]
    reference_u: float = 0.01
    sd: float = 0.01
    sd_day: float = 0.0
    step: float = 0.0
    slope: float = SLOPE
    knows_repeats: bool = True


DRIFTS = (
    DriftCase("3 checks", 3),
    DriftCase("8 checks, display step as wide as the scatter", 8, step=0.01),
    DriftCase("8 mornings, 3 references each, which share the morning", 8, (1.3, 5.0, 9.8), sd=0.005, sd_day=0.01),
    DriftCase("12 checks, three bottles one after the other", 12, (1.28, 1.30, 1.31), in_turn=True),
    DriftCase("30 checks, display step three times the scatter", 30, sd=0.01, step=0.03),
)
OVEN = tuple(np.round(np.linspace(1.15, 1.45, 10), 3))
CORRECTIONS = (
    CorrectionCase("one reference, 3 checks", (1.3,), (3,), (1.3,), slope=1.0),
    CorrectionCase("one reference, 8 checks", (1.3,), (8,), (1.3,), slope=1.0),
    CorrectionCase("one reference, 8 checks, its zero differs by day", (1.3,), (8,), (1.3,), sd_day=0.01, slope=1.0),
    CorrectionCase("the same, repeats not known", (1.3,), (8,), (1.3,), sd_day=0.01, slope=1.0, knows_repeats=False),
    CorrectionCase("two references, 4 checks each", (1.3, 9.8), (4, 4), (1.3, 5.0, 12.0)),
    CorrectionCase(
        "three references, 4 checks each, by day", (1.3, 5.0, 9.8), (4, 4, 4), (1.3, 9.0, 13.0), sd_day=0.01
    ),
    CorrectionCase("20 checks at one, 2 at two more", (1.3, 5.0, 9.8), (20, 2, 2), (1.3, 9.0), reference_u=0.02),
    CorrectionCase("10 samples from the oven", OVEN, (1,) * 10, (1.2, 1.3, 1.6), reference_u=0.012),
    CorrectionCase(
        "three references, display step twice the scatter", (1.3, 5.0, 9.8), (3,) * 3, (1.3, 9.0), step=0.02
    ),
)


def shown(value: float, step: float) -> float:
    return round(value / step) * step if step else value


def drifting(case: DriftCase, rng: np.random.Generator) -> list[Check]:
    """One instrument's checks; each bottle is off by its own amount."""
    off = dict(zip(case.bottles, rng.normal(0, 0.02, len(case.bottles)), strict=True))
    found = []
    per_bottle = case.occasions // len(case.bottles)
    for week in range(case.occasions):
        day = rng.normal(0, case.sd_day)
        bottles = (case.bottles[week // per_bottle],) if case.in_turn else case.bottles
        for minute, bottle in enumerate(bottles):
            error = 0.01 + PER_WEEK * week + day + rng.normal(0, case.sd)
            at = START + timedelta(weeks=week, minutes=5 * minute)
            found.append(Check(at, "reference", bottle, shown(bottle + off[bottle] + error, case.step)))
    return found


def drift_covers(case: DriftCase, rng: np.random.Generator) -> Iterator[tuple[str, float]]:
    held = 0
    for _ in range(RUNS):
        found = drift(drifting(case, rng), resolution=case.step or None)
        assert isinstance(found, Drift)
        held += found.low <= PER_WEEK <= found.high
    yield "drift", held / RUNS


def referenced(case: CorrectionCase, rng: np.random.Generator) -> list[Check]:
    found = []
    for value, times in zip(case.references, case.times, strict=True):
        true = value + rng.normal(0, case.reference_u)
        for week in range(times):
            reading = OFFSET + case.slope * true + rng.normal(0, case.sd_day) + rng.normal(0, case.sd)
            found.append(Check(START + timedelta(weeks=week), "reference", value, shown(reading, case.step)))
    return found


def correction_covers(case: CorrectionCase, rng: np.random.Generator) -> Iterator[tuple[str, float]]:
    """Readings of another day, free of scatter, corrected as `lab.toml` would: within 1.96 declared uncertainties."""
    held = dict.fromkeys(case.at, 0)
    for _ in range(RUNS):
        found = fit_correction(
            referenced(case, rng),
            resolution=case.step or None,
            reference_u=case.reference_u,
            repeat_sd=case.sd if case.knows_repeats else None,
        )
        assert isinstance(found, FittedCorrection)
        declared, day = found.declared("r"), rng.normal(0, case.sd_day)
        for true in case.at:
            corrected = (OFFSET + case.slope * true + day - declared.offset) / declared.slope
            turned = declared.slope_u / declared.slope * (corrected - declared.centre)
            held[true] += abs(corrected - true) <= 1.96 * np.hypot(declared.standard_uncertainty, turned)
    for true, times in held.items():
        yield f"corrected reading at {true:g} %", times / RUNS


def measured() -> pl.DataFrame:
    """Coverage of every case, one generator a case."""
    rows = []
    for number, case in enumerate(DRIFTS):
        found = drift_covers(case, np.random.default_rng(20261101 + number))
        rows += [("drift", case.name, what, value) for what, value in found]
    for number, of_case in enumerate(CORRECTIONS):
        found = correction_covers(of_case, np.random.default_rng(20261201 + number))
        rows += [("correction", of_case.name, what, value) for what, value in found]
    return pl.DataFrame(rows, schema=["kind", "case", "interval_of", "coverage"], orient="row")


if __name__ == "__main__":
    measured().write_csv(TABLE, float_precision=4)
