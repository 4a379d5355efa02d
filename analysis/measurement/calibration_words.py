"""What the checks of an instrument say, in sentences with number, unit, interval and the checks they rest on."""

from __future__ import annotations

from analysis.measurement.correction_words import correction_words
from analysis.measurement.doubt import Doubt
from analysis.measurement.drift import Drift, NoDrift
from analysis.measurement.instrument_record import InstrumentRecord
from analysis.measurement.said import full_stop, moment_words, of_day, section_for, with_unit
from analysis.measurement.zero_chart import IndividualsChart, NotCharted, Verdict
from analysis.words import count, day, day_span, digits_for, number, signed

KIND_WORDS = {"water_zero": "zero check", "reference": "reference check"}


def record_sentences(record: InstrumentRecord, *, timezone: str = "UTC") -> tuple[str, ...]:
    """All that is to be said of one instrument, most urgent first; times in `timezone`."""
    instrument = record.instrument
    if not instrument.checks:
        read = f" {count(record.readings.n, 'reading rests', 'readings rest')} on it." if record.readings else ""
        how = "a zero and a reference check each week" if instrument.reads_strength else "a reference check each week"
        if instrument.kind == "oven":
            return (f"{instrument.instrument_id} has no checks of its own: its dishes and blank dishes speak for it.",)
        unknown = f"{instrument.instrument_id} has no checks, so that nothing is known of its drift.{read} Log {how}."
        return (
            unknown,
            *(full_stop(text) for text in correction_words(record, timezone=timezone)[-1:] if record.applied),
        )
    said = [doubt_words(span_, timezone=timezone) for span_ in record.doubts]
    said += [
        _zero(record),
        *_drifts(record, timezone),
        *correction_words(record, timezone=timezone),
        *_verdict_basis(record, timezone),
    ]
    if not instrument.unit:
        said.append(f"{instrument.instrument_id} states no unit: these numbers are in whatever it shows")
    return tuple(full_stop(text) for text in said if text)


def doubt_words(doubt: Doubt, *, timezone: str = "UTC") -> str:
    """A failed check and the span that it puts in doubt."""
    return (
        f"{failure_words(doubt, timezone=timezone)}; {span_words(doubt, timezone=timezone)}, readings on "
        f"{doubt.instrument_id} are in doubt."
    )


def failure_words(doubt: Doubt, *, timezone: str = "UTC") -> str:
    """Which check failed, when, what it read and what was allowed, as in the rule `reading_in_doubt`."""
    said = failure_parts(doubt, timezone=timezone)
    return (
        f"{said['instrument']} failed its {said['check']} on {said['checked_at']}: it read {said['observed']} where "
        f"{said['reference']} was due, and {said['allowed']}"
    )


def failure_parts(doubt: Doubt, *, timezone: str = "UTC") -> dict[str, str]:
    """A failed check in words, by what they say."""
    verdict, unit = doubt.failed, with_unit(doubt.unit)
    check = verdict.check
    places = max(digits_for([check.error], figures=1), 2)
    return {
        "instrument": doubt.instrument_id,
        "check": KIND_WORDS[check.kind],
        "checked_at": moment_words(check.checked_at, timezone),
        "observed": f"{number(check.observed, places)}{unit}",
        "reference": f"{number(check.reference, places)}{unit}",
        "allowed": _allowed(verdict, unit),
    }


def _allowed(verdict: Verdict, unit: str) -> str:
    if verdict.basis == "tolerance":
        return f"{verdict.high:g}{unit} either way is allowed"
    places = digits_for([verdict.high - verdict.low])
    return (
        f"control limits from {count(verdict.n, 'check')} allow errors of {signed(verdict.low, places)} to "
        f"{signed(verdict.high, places)}{unit}"
    )


def span_words(doubt: Doubt, *, timezone: str = "UTC") -> str:
    """From when to when."""
    start = f"from {moment_words(doubt.after, timezone)}" if doubt.after else "from the first reading"
    end = f"until {moment_words(doubt.before, timezone)}" if doubt.before else "until a check passes"
    return f"{start} {end}"


def drift_words(found: Drift | NoDrift, *, who: str, unit: str, timezone: str = "UTC") -> str:
    """Whether something drifts, such as "The zero of lens-1", with its interval and basis."""
    if isinstance(found, NoDrift):
        return full_stop(f"{who}: no drift can be told, {found.reason}")
    said = with_unit(unit)
    places = digits_for([found.high - found.low], figures=2)
    checks = count(found.n_checks, "check")
    basis = (
        f"95 % interval {signed(found.low, places)} to {signed(found.high, places)}{said}; {checks}, "
        f"{day_span(of_day(found.first, timezone), of_day(found.last, timezone))}"
    )
    if not found.shown:
        text = f"{who} is not shown to drift: {signed(found.per_week, places)}{said} a week ({basis})"
    else:
        way = "up" if found.per_week > 0 else "down"
        text = f"{who} drifts {way} by {number(abs(found.per_week), places)}{said} a week ({basis})"
    if found.wanders:
        text += ". Neighbouring checks are alike beyond a straight line, so that the interval is too narrow"
    return full_stop(text)


def _zero(record: InstrumentRecord) -> str:
    chart, name, unit = record.zero_chart, record.instrument.instrument_id, with_unit(record.instrument.unit)
    if isinstance(chart, NotCharted):
        return f"No control limits for the zero of {name}: {chart.reason}" if chart.n else ""
    places = digits_for([chart.upper - chart.lower])
    out = len(chart.outside)
    within = "all are within" if not out else f"{out} of them {'is' if out == 1 else 'are'} outside"
    step = ", set by the display step" if chart.widened else ""
    return (
        f"The zero of {name} averages {signed(chart.centre, places)}{unit} over {count(chart.n, 'check')}; {within} "
        f"its control limits of {_signed_span(chart, places)}{unit}{step}"
    )


def _signed_span(chart: IndividualsChart, places: int) -> str:
    return f"{signed(chart.lower, places)} to {signed(chart.upper, places)}"


def _drifts(record: InstrumentRecord, timezone: str) -> list[str]:
    name, unit = record.instrument.instrument_id, record.instrument.unit
    parts = (
        ("water_zero", record.zero_drift, f"The zero of {name}"),
        ("reference", record.reference_drift, f"The error of {name} against references"),
    )
    asked = [part for part in parts if record.instrument.reads_strength or part[0] == "reference"]
    return [drift_words(found, who=who, unit=unit, timezone=timezone) for _, found, who in asked]


def _verdict_basis(record: InstrumentRecord, timezone: str) -> list[str]:
    """Checks that nothing decides on, how far off they are, and what would decide."""
    undecided = [verdict for part in record.verdicts for verdict in part if verdict.passed is None]
    if not undecided:
        return []
    keys = sorted({"zero_tolerance" if v.check.kind == "water_zero" else "reference_tolerance" for v in undecided})
    farthest = max((verdict.check for verdict in undecided), key=lambda check: abs(check.error))
    places = max(digits_for([farthest.error], figures=1), 2)
    off = f"{signed(farthest.error, places)}{with_unit(record.instrument.unit)}"
    of_them = "it is off by" if len(undecided) == 1 else "the farthest off:"
    counted = count(len(undecided), "check neither passes nor fails", "checks neither pass nor fail")
    return [
        f"{counted}, {of_them} {off} on {day(of_day(farthest.checked_at, timezone))}: declare {' and '.join(keys)} "
        f"under {section_for(record)} in lab.toml, or log 8 checks of a kind"
    ]
