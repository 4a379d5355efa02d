"""What an instrument's reference checks say of a correction, and what `lab.toml` applies, in sentences."""

from __future__ import annotations

from collections.abc import Iterable

from analysis.facts.correction_notes import formula
from analysis.measurement.correction import FittedCorrection
from analysis.measurement.drift import Drift
from analysis.measurement.instrument_record import InstrumentRecord
from analysis.measurement.said import of_day, section_for, with_unit
from analysis.words import count, day_span, digits_for, listed, number, span
from schemas.lab import Correction


def correction_words(record: InstrumentRecord, *, timezone: str = "UTC") -> list[str]:
    """The correction that the references call for, what weakens it, and what is applied now."""
    found, instrument = record.correction, record.instrument
    name, unit = instrument.instrument_id, with_unit(instrument.unit)
    applied = [
        f"lab.toml corrects every reading on {applied_words(record.applied, unit=instrument.unit)}"
        if record.applied
        else f"No correction is applied to {name}: lab.toml declares none"
    ]
    if not instrument.reads_strength:
        applied = [f"Only readings of strength are ever corrected; have {name} adjusted where it is off"]
    if not isinstance(found, FittedCorrection):
        return [f"No correction can be found for {name}: {found.reason}", *applied]
    said = [_fitted(record, found, unit, timezone)]
    if found.misfit:
        said.append(
            "The references lie off this line by more than their errors allow: the uncertainty is widened; look for a "
            "wrong reference value or a bend"
        )
    said += _exact(record, found, unit)
    if isinstance(record.reference_drift, Drift) and record.reference_drift.shown:
        said.append("It drifts, so that one correction does not hold for all of this time: adjust the instrument first")
    return [*said, *_beyond(record, found, unit), *applied]


def _exact(record: InstrumentRecord, found: FittedCorrection, unit: str) -> list[str]:
    """Which reference values count as exact, as nothing states their uncertainty."""
    if record.limits.reference_u is not None:
        return []
    silent = sorted({check.reference for check in record.instrument.of("reference") if check.reference_u is None})
    if found.references_exact:
        which, off = "The reference values count", "they are"
    elif len(silent) == 1:
        which, off = f"The reference of {number(silent[0], 2)}{unit} counts", "it is"
    elif silent:
        which, off = f"The references of {listed([number(value, 2) for value in silent])}{unit} count", "they are"
    else:
        return []
    return [
        f"{which} as exact: declare reference_u under {section_for(record)} in lab.toml, since what {off} off by goes "
        "into every corrected reading"
    ]


def applied_words(applied: Correction, *, unit: str = "%") -> str:
    """What `lab.toml` does to every reading of an instrument."""
    u = f"standard uncertainty {applied.standard_uncertainty:g}{with_unit(unit)}"
    if applied.slope_u:
        u += f" at {applied.centre:g}{with_unit(unit)}, more on either side"
    return f"{applied.instrument_id}: {formula(applied)} ({u})"


def declared_words(corrections: Iterable[Correction]) -> str:
    """What `lab.toml` does to readings, inside a sentence; empty where it declares nothing."""
    said = [applied_words(one) for one in corrections]
    return f"every reading is corrected, as lab.toml says: {'; '.join(said)}" if said else ""


def _fitted(record: InstrumentRecord, found: FittedCorrection, unit: str, timezone: str) -> str:
    name = record.instrument.instrument_id
    at = [found.low] if found.low == found.high else [found.low, found.high]
    reading = [found.offset + found.slope * value for value in at]
    us = [found.u(value) for value in reading]
    places = digits_for([u for u in us if u > 0] or [0.001])
    gaps = [
        f"{_high_low(value - due, places, unit)} at {number(due, 2)}{unit} (standard uncertainty "
        f"{number(u, places)}{unit})"
        for value, due, u in zip(reading, at, us, strict=True)
    ]
    levels = span(found.low, found.high, 2) if len(at) > 1 else number(found.low, 2)
    logged = len(record.instrument.of("reference"))
    sizes = ((min(logged, found.n_checks), "reference check"), (found.n_checks - logged, "dried sample"))
    checks = listed([count(n, noun) for n, noun in sizes if n > 0])
    how = (
        f"slope {number(found.slope, 4)}, standard uncertainty {number(found.slope_u, 4)}"
        if found.kind == "offset and slope"
        else f"an offset alone: {found.no_slope}"
    )
    return (
        f"{name} reads {' and '.join(gaps)}; {how}; {checks} at {levels}{unit}, "
        f"{day_span(of_day(found.first, timezone), of_day(found.last, timezone))}"
    )


def _high_low(gap: float, places: int, unit: str) -> str:
    if round(gap, places) == 0:
        return "true"
    return f"{number(abs(gap), places)}{unit} {'high' if gap > 0 else 'low'}"


def _beyond(record: InstrumentRecord, found: FittedCorrection, unit: str) -> list[str]:
    taken = record.readings
    if taken is None or not found.outside(taken.low, taken.high):
        return []
    seen = number(found.low, 2) if found.low == found.high else span(found.low, found.high, 2)
    told = f"Readings on {record.instrument.instrument_id} go from {span(taken.low, taken.high, 2)}{unit}, references"
    far = max((taken.low, taken.high), key=lambda value: abs(found.corrected(value) - found.centre))
    cost = (
        f"the standard uncertainty grows to {number(found.u(far), digits_for([found.u(far)]))}{unit} at "
        f"{number(found.corrected(far), 2)}{unit}"
        if found.kind == "offset and slope"
        else "that the offset is the same there is assumed, not seen"
    )
    return [
        f"{told} lie at {seen}{unit}: beyond them the correction is carried further than it was checked, and {cost}"
    ]
