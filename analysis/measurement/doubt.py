"""When an instrument cannot be relied on: from the last check it passed before a failure to the next that it passes.

A failure is answered by a check of the same thing: a zero by a zero, a reference by one of much the same value.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from analysis.measurement.calibration import InstrumentChecks, limits_for
from analysis.measurement.zero_chart import Verdict, verdicts
from schemas.lab import LabSettings


@dataclass(frozen=True, slots=True)
class Doubt:
    """A span of time in which readings of an instrument are in doubt, its ends not included.

    `after` is the last passed check before, `before` the next passed one; None where there is none. `failed` is the
    first check that failed in it, `failures` how many did.
    """

    instrument_id: str
    unit: str
    failed: Verdict
    failures: int
    after: datetime | None
    before: datetime | None


def doubts(instrument: InstrumentChecks, settings: LabSettings) -> tuple[Doubt, ...]:
    """All spans of one instrument; checks without a verdict neither open nor close one."""
    judged = verdicts(instrument.checks, limits_for(instrument, settings), resolution=instrument.resolution)
    return tuple(span for part in judged for span in _spans(instrument, part))


def all_doubts(instruments: Sequence[InstrumentChecks], settings: LabSettings) -> tuple[Doubt, ...]:
    """The spans of several instruments."""
    return tuple(span for instrument in instruments for span in doubts(instrument, settings))


def _spans(instrument: InstrumentChecks, judged: Sequence[Verdict]) -> list[Doubt]:
    spans: list[Doubt] = []
    failing: list[Verdict] = []
    passed_at: datetime | None = None

    def close(before: datetime | None) -> None:
        if failing:
            name, unit = instrument.instrument_id, instrument.unit
            spans.append(Doubt(name, unit, failing[0], len(failing), passed_at, before))
            failing.clear()

    for verdict in judged:
        if verdict.passed is None:
            continue
        if verdict.passed:
            close(verdict.check.checked_at)
            passed_at = verdict.check.checked_at
        else:
            failing.append(verdict)
    close(None)
    return spans
