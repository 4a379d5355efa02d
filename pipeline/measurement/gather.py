"""Everything of one commit that bears on measuring, in the shapes that `analysis.measurement` takes."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import polars as pl

from analysis.facts.derive import brew_readings
from analysis.facts.flags.find import find_flags
from analysis.facts.strength import reading_groups
from analysis.measurement.correction_words import declared_words
from analysis.measurement.drying import Drying, dried_strengths
from analysis.measurement.drying_checks import reference_checks
from analysis.measurement.instrument_record import InstrumentRecord, instrument_records
from analysis.words import listed
from pipeline.facts import FactInputs, brew_facts, read_inputs
from pipeline.store.model import Manifest
from pipeline.store.read import current
from pipeline.store.store import Store
from schemas.lab import LabSettings
from schemas.problem import ProblemError

OF_LOT_AND_SCALE = ("moisture_pct", "scale_standard_uncertainty", "scale_resolution")
IN_THE_WAY = (
    "bypass_unclear",
    "bypass_exceeds_beverage",
    "evaporation_missing",
    "reading_on_milk",
    "brix_without_factor",
    "mass_missing",
)
"""Row rules that leave a brew without a yield."""
SLIPS = (
    "looks_like_brix",
    "looks_like_fraction",
    "looks_swapped",
    "looks_tenfold",
    "yield_beyond_soluble",
    "yield_unusual",
)
"""Row rules by which a brew's yield is more likely a slip of the pen than a brew."""
MOST_NAMED = 6
ALIKE = 0.6
"""Names from this resemblance on are worth a question, as the standard library has it."""


@dataclass(frozen=True)
class Gathered:
    """Rows of one commit: what was brewed, read, checked and dried.

    `brews` is `brew_facts` with brew (a row number) and `OF_LOT_AND_SCALE`; `readings` what `brew_readings` gives;
    `groups` their `reading_groups`, by brew. `instruments`, `calibrations` and `dryings` are stored rows.
    """

    settings: LabSettings
    inputs: FactInputs
    brews: pl.DataFrame
    readings: pl.DataFrame
    groups: dict[int, list[dict[str, Any]]]
    instruments: pl.DataFrame
    calibrations: pl.DataFrame
    dryings: pl.DataFrame

    def brew_row(self, brew_id: str) -> dict[str, Any]:
        """The brew of that name; ProblemError with the nearest names where there is none."""
        found = self.brews.filter(pl.col("brew_id") == brew_id)
        if found.is_empty():
            near = nearest(brew_id, self.brews["brew_id"])
            raise ProblemError(
                f"There is no brew {brew_id}.{near} `brewtrials facts` lists them all, `brewtrials set-aside` what was "
                "not taken in."
            )
        return found.row(0, named=True)

    def corrected_words(self, instruments: Iterable[str | None]) -> str:
        """What `lab.toml` does to the readings of these instruments, inside a sentence; empty where it does nothing."""
        named = set(instruments)
        return declared_words(one for one in self.settings.corrections if one.instrument_id in named)

    def why_no_yield(self, brew: dict[str, Any]) -> str:
        """Why a brew has no yield, and what to do, in sentences."""
        brew_id = brew["brew_id"]
        in_the_way = (pl.col("brew_id") == brew_id) & pl.col("rule").is_in(IN_THE_WAY)
        told = self._flags.filter(in_the_way).select("message", "fix").unique(maintain_order=True)
        said = [f"{message} {fix}" for message, fix in told.iter_rows()]
        if brew["n_readings"] == 0:
            said.append("It has no reading of strength. Take at least one.")
        said = said or ["`brewtrials flags` says what is in the way."]
        return " ".join([f"Brew {brew_id} has no extraction yield, so there is no budget for it.", *said])

    def doubts(self, brew_id: str) -> list[str]:
        """Why readings of a brew are in doubt, in sentences; none where their instruments passed their checks."""
        of_brew = (pl.col("brew_id") == brew_id) & (pl.col("rule") == "reading_in_doubt")
        return self._flags.filter(of_brew)["message"].unique(maintain_order=True).to_list()

    @cached_property
    def _flags(self) -> pl.DataFrame:
        facts = self.brews.drop("brew", *OF_LOT_AND_SCALE)
        doubts = [doubt for record in self.records() for doubt in record.doubts]
        return find_flags(facts, self.inputs.brews, self.inputs.readings, settings=self.settings, doubts=doubts)

    @cached_property
    def slips(self) -> frozenset[str]:
        """Brews whose yield is flagged as a likely slip."""
        return frozenset(self._flags.filter(pl.col("rule").is_in(SLIPS))["brew_id"].drop_nulls())

    def drying(self) -> Drying:
        """Strengths by drying of all brews that are not void."""
        return self._drying

    @cached_property
    def _drying(self) -> Drying:
        kept = self.brews.filter(~pl.col("is_void")).select("brew_id", "method")
        return dried_strengths(self.dryings, self.instruments, kept, settings=self.settings)

    def checks(self) -> pl.DataFrame:
        """Stored checks of the instruments, and those that dried samples make whose uncertainty is known."""
        dried = reference_checks(self._drying, self.inputs.readings, self.brews.select("brew_id", "brewed_at"))
        return pl.concat([self.calibrations, dried.drop_nulls(["checked_at", "reference_u"])], how="diagonal")

    def records(self) -> tuple[InstrumentRecord, ...]:
        """What the checks of every instrument say, sorted by id.

        Dried samples serve the correction, which weighs each reference by its uncertainty. Whether an instrument
        passed, drifts or is in doubt is told by logged checks alone, as in the flags: they follow one routine.
        """
        readings, settings = self.inputs.readings, self.settings
        logged = instrument_records(self.calibrations, self.instruments, readings, settings=settings)
        fitted = instrument_records(self.checks(), self.instruments, readings, settings=settings)
        correction = {record.instrument.instrument_id: record.correction for record in fitted}
        return tuple(replace(one, correction=correction[one.instrument.instrument_id]) for one in logged)


def gather(store: Store, manifest: Manifest, settings: LabSettings) -> Gathered:
    """Read a commit's rows and derive what measuring needs of them."""
    inputs = read_inputs(store, manifest)
    brews = (
        brew_facts(store, manifest, settings, inputs=inputs)
        .with_row_index("brew")
        .join(inputs.brews.select("brew_id", *OF_LOT_AND_SCALE), on="brew_id", how="left", maintain_order="left")
    )
    readings = brew_readings(brews, inputs.readings, settings)
    groups: dict[int, list[dict[str, Any]]] = {}
    for group in reading_groups(readings, settings).iter_rows(named=True):
        groups.setdefault(group["brew"], []).append(group)
    stored = {name: current(store, manifest, name).collect() for name in ("instruments", "calibrations", "dryings")}
    return Gathered(settings, inputs, brews, readings, groups, **stored)


def nearest(name: str, known: Iterable[str]) -> str:
    """A question after the nearest known names, or a list of what there is; with a space before it.

    >>> nearest("PO-01", ["PO-041", "PO-001", "ES-002"]), nearest("x", ["a", "b"]), nearest("x", [])
    (' Did you mean PO-001 or PO-041?', ' There are a and b.', '')
    """
    names = sorted(set(known))
    near = [(1 - score, one) for one in names if (score := _alike(name, one)) >= ALIKE]
    if near:
        return f" Did you mean {listed([one for _, one in sorted(near)[:2]], last='or')}?"
    if not names or len(names) > MOST_NAMED:
        return ""
    return f" There {'is' if len(names) == 1 else 'are'} {listed(names)}."


def _alike(one: str, two: str) -> float:
    """Resemblance of two names, 0 to 1; upper and lower case are alike."""
    matcher = difflib.SequenceMatcher(None, two.casefold(), one.casefold())
    return matcher.ratio() if matcher.quick_ratio() >= ALIKE else 0.0
