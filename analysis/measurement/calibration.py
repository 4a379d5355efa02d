"""Checks of an instrument over time: zero on water and against references, in the instrument's own unit."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

import polars as pl

from schemas.lab import CheckLimits, LabSettings

CheckKind = Literal["water_zero", "reference"]
LIKE = 1.25
"""Reference values up to this many times the smallest of them are one level: a new bottle of much the same strength.
Chosen by us, no source."""
READS_STRENGTH = ("refractometer", "")
"""Kinds of instrument that the limits under [checks] are about; an empty kind is a stub's."""


@dataclass(frozen=True, slots=True)
class Check:
    """One check: what the instrument should have read (with its standard uncertainty, if stated) and what it read.

    `reference_shared_u` is the part of `reference_u` that every check against references of that kind has in common,
    such as strengths from one drying oven.
    """

    checked_at: datetime
    kind: CheckKind
    reference: float
    observed: float
    reference_u: float | None = None
    reference_shared_u: float | None = None

    @property
    def error(self) -> float:
        """How much too high it read."""
        return self.observed - self.reference


@dataclass(frozen=True, slots=True)
class InstrumentChecks:
    """All checks of one instrument in order of time; `kind` and `unit` are empty and `resolution` None where unsaid."""

    instrument_id: str
    kind: str
    unit: str
    resolution: float | None
    checks: tuple[Check, ...]

    def of(self, kind: CheckKind) -> tuple[Check, ...]:
        """Its checks of one kind."""
        return tuple(check for check in self.checks if check.kind == kind)

    @property
    def reads_strength(self) -> bool:
        """Whether it is a refractometer, or may be one."""
        return self.kind in READS_STRENGTH


def read_checks(calibrations: pl.DataFrame, instruments: pl.DataFrame) -> tuple[InstrumentChecks, ...]:
    """Every instrument of either table with its checks, sorted by id; one without checks is there too.

    `calibrations` holds stored checks, and may hold reference_u and reference_shared_u as in `Check`; `instruments`
    has instrument_id, kind, unit and resolution.
    """
    found: defaultdict[str, list[Check]] = defaultdict(list)
    for row in calibrations.sort("checked_at", "check_kind", "reference_value", descending=[False, True, False]).rows(
        named=True
    ):
        found[row["instrument_id"]].append(
            Check(
                checked_at=row["checked_at"],
                kind=row["check_kind"],
                reference=row["reference_value"],
                observed=row["observed_value"],
                reference_u=row.get("reference_u"),
                reference_shared_u=row.get("reference_shared_u"),
            )
        )
    known = {row["instrument_id"]: row for row in instruments.iter_rows(named=True)}
    return tuple(_with_instrument(name, known.get(name, {}), found[name]) for name in sorted({*known, *found}))


def _with_instrument(name: str, row: dict[str, Any], checks: list[Check]) -> InstrumentChecks:
    unit = (row.get("unit") or "").strip()
    return InstrumentChecks(name, row.get("kind") or "", unit, row.get("resolution"), tuple(checks))


def limits_for(instrument: InstrumentChecks, settings: LabSettings) -> CheckLimits:
    """What `lab.toml` declares for this instrument's checks: its own block, else the general one.

    The general one is in % of strength, so that it counts for refractometers only.
    """
    own = settings.instrument_checks.get(instrument.instrument_id, CheckLimits())
    general = settings.checks if instrument.reads_strength else CheckLimits()

    def first(name: str) -> float | None:
        found: float | None = getattr(own, name)
        return getattr(general, name) if found is None else found

    return CheckLimits(first("zero_tolerance"), first("reference_tolerance"), first("reference_u"))


def series(checks: Sequence[Check]) -> tuple[tuple[Check, ...], ...]:
    """Checks that answer one question, each in order of time: all zeros, and references of much the same value.

    >>> noon = datetime(2026, 3, 2, 12)
    >>> values = [Check(noon, "reference", value, value) for value in (1.3, 9.8, 1.25)]
    >>> [[check.reference for check in part] for part in series(values)]
    [[1.3, 1.25], [9.8]]
    """
    zeros = tuple(check for check in checks if check.kind == "water_zero")
    levels: list[tuple[float, set[float]]] = []
    for value in sorted({check.reference for check in checks if check.kind == "reference"}):
        if levels and value <= LIKE * levels[-1][0]:
            levels[-1][1].add(value)
        else:
            levels.append((value, {value}))
    references = (
        tuple(check for check in checks if check.kind == "reference" and check.reference in values)
        for _, values in levels
    )
    return ((zeros,) if zeros else ()) + tuple(references)
