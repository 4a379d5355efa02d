"""Checks of an instrument over time: what it read too high, its limits, its drift, and when it was in doubt."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

import altair as alt

from analysis.charts import palette, theme
from analysis.charts.domain import around
from analysis.charts.measurement.grammar import (
    ALERT,
    DAY_MS,
    chart,
    difference_axis,
    flat,
    layer,
    local_ms,
    points,
    time_axis,
)
from analysis.measurement.calibration import Check
from analysis.measurement.doubt import Doubt
from analysis.measurement.drift import TOGETHER, WEEK, Drift, NoDrift, drift
from analysis.measurement.instrument_record import InstrumentRecord
from analysis.measurement.zero_chart import Verdict
from analysis.words import count, day, number, signed, span

PAD = 0.03
LEAST_MS = 3 * DAY_MS
FAILED = "failed"


@dataclass(frozen=True, slots=True)
class CheckSeries:
    """Checks of one kind and level of an instrument, with the drift they show."""

    title: str
    verdicts: tuple[Verdict, ...]
    drift: Drift | NoDrift

    @property
    def checks(self) -> tuple[Check, ...]:
        """The checks in order of time."""
        return tuple(verdict.check for verdict in self.verdicts)

    @property
    def n_failed(self) -> int:
        """How many did not pass."""
        return sum(verdict.passed is False for verdict in self.verdicts)


def check_series(record: InstrumentRecord) -> tuple[CheckSeries, ...]:
    """The charts that an instrument's checks make: zeros, then each level of reference."""
    found = []
    for part in record.verdicts:
        checks = [verdict.check for verdict in part]
        found.append(CheckSeries(_title(record, checks), part, drift(checks, resolution=record.instrument.resolution)))
    return tuple(found)


def _title(record: InstrumentRecord, checks: Sequence[Check]) -> str:
    name, unit = record.instrument.instrument_id, record.instrument.unit
    if checks[0].kind == "water_zero":
        return f"{name}: zero on water"
    values = [check.reference for check in checks]
    low, high = min(values), max(values)
    at = number(low, 2) if low == high else span(low, high, 2)
    return f"{name}: against {at}{f' {unit}' if unit else ''}"


def check_chart(
    one: CheckSeries, doubts: Sequence[Doubt], *, unit: str, timezone: str, last: datetime | None = None
) -> Any:
    """Chart of one series; `doubts` are the instrument's; an open one reaches to `last`, its last reading."""
    ends = [check.checked_at for check in one.checks] + ([last] if last is not None else [])
    start, end = local_ms(min(ends), timezone), local_ms(max(ends), timezone)
    air = max(int(PAD * (end - start)), LEAST_MS - (end - start), 0)
    start, end = start - air, end + air
    limits = [limit for v in one.verdicts[-1:] for limit in (v.low, v.high) if math.isfinite(limit)]
    domain = around([*(check.error for check in one.checks), *limits, 0.0], least=0.02)
    x, y = time_axis("at:Q", start, end), difference_axis("error:Q", f"Reading less reference{_in(unit)}", domain)
    layers = [_in_doubt(doubts, x, start, end, timezone)] if doubts else []
    layers.append(flat("zero", [0.0], y))
    if limits:
        layers.append(flat("limits", limits, y, dashed=True))
    if isinstance(one.drift, Drift):
        layers.append(_line(one, one.drift, x, y, timezone))
    layers.append(points([_row(verdict, unit, timezone) for verdict in one.verdicts], x, y))
    return chart(layers, f"{one.title}: {series_words(one, unit)}", height=190)


def series_words(one: CheckSeries, unit: str) -> str:
    """How many checks, how far off, and how many failed."""
    errors = [check.error for check in one.checks]
    low, high = signed(min(errors), 3), signed(max(errors), 3)
    ends = f"{f'error {low}' if low == high else f'errors {low} to {high}'}{f' {unit}' if unit else ''}"
    if one.verdicts[0].passed is None:
        verdict = "nothing decides whether they passed"
    else:
        limits = f"limits {signed(one.verdicts[0].low, 3)} to {signed(one.verdicts[0].high, 3)}"
        verdict = f"{limits} by {_basis(one.verdicts[0])}; {one.n_failed or 'none'} outside"
    return f"{count(len(errors), 'check')}, {ends}; {verdict}."


def _basis(verdict: Verdict) -> str:
    return "lab.toml" if verdict.basis == "tolerance" else f"the scatter of {count(verdict.n, 'check')}"


def _row(verdict: Verdict, unit: str, timezone: str) -> dict[str, Any]:
    check = verdict.check
    state = {True: "passed", False: FAILED, None: "neither passed nor failed"}[verdict.passed]
    at = local_ms(check.checked_at, timezone)
    return {
        "at": at,
        "error": check.error,
        "odd": verdict.passed is False,
        "hollow": verdict.passed is None,
        "words": (
            f"{day(datetime.fromtimestamp(at / 1000, tz=UTC).date())}: read {number(check.observed, 3)} where "
            f"{number(check.reference, 3)}{f' {unit}' if unit else ''} was due, {signed(check.error, 3)}; {state}"
        ),
    }


def _in(unit: str) -> str:
    return f" ({unit})" if unit else ""


def _in_doubt(doubts: Sequence[Doubt], x: Any, start: int, end: int, timezone: str) -> Any:
    """Spans in which readings are in doubt, from the last passed check to the next one, shaded."""
    rows = [
        {
            "at": local_ms(one.after, timezone) if one.after else start,
            "end": local_ms(one.before, timezone) if one.before else end,
            "words": "readings in doubt: from the last passed check before a failed one to the next passed one",
        }
        for one in doubts
    ]
    return (
        layer(rows, "doubt")
        .mark_rect(fill=ALERT, fillOpacity=0.14, clip=True)
        .encode(x=x, x2=alt.X2("end"), tooltip=alt.Tooltip("words:N"))
    )


def _line(one: CheckSeries, found: Drift, x: Any, y: Any, timezone: str) -> Any:
    """The drift as a line through the mean of the occasions, from the first check to the last."""
    checks = sorted(one.checks, key=lambda check: check.checked_at)
    occasions: list[list[Check]] = []
    for check in checks:
        if occasions and check.checked_at - occasions[-1][0].checked_at <= TOGETHER:
            occasions[-1].append(check)
        else:
            occasions.append([check])
    first, n = checks[0].checked_at, len(occasions)
    weeks = math.fsum(math.fsum((c.checked_at - first) / WEEK for c in group) / len(group) for group in occasions) / n
    error = math.fsum(math.fsum(c.error for c in group) / len(group) for group in occasions) / n
    ends = [
        {
            "at": local_ms(check.checked_at, timezone),
            "error": error + found.per_week * ((check.checked_at - first) / WEEK - weeks),
        }
        for check in (checks[0], checks[-1])
    ]
    dash: dict[str, Any] = {} if found.shown else {"strokeDash": [2, 3]}
    return (
        layer(ends, "drift")
        .mark_line(color=palette.INK, strokeWidth=1.5, clip=True, **dash)
        .encode(x=x, y=theme.along(y, "error:Q"))
    )
