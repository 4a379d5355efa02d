"""The project folder: made once, recognised by its `lab.toml`, its declarations read strictly."""

from __future__ import annotations

import difflib
import math
import shlex
import zoneinfo
from dataclasses import dataclass
from pathlib import Path
from typing import Any, get_args

from pipeline.lab_starter import COLUMNS_TOML, LAB_TOML, with_constant
from pipeline.toml_file import TomlFile, nth_section, parse_toml, read_toml
from schemas.columns import COLUMNS
from schemas.lab import CheckLimits, Correction, DryingSettings, GateLimits, GrindReference, LabSettings, UnknownParents
from schemas.methods import METHODS
from schemas.problem import ProblemError

LAB_FILE = "lab.toml"
COLUMNS_FILE = "columns.toml"
SECTIONS = (
    "intake",
    "uncertainty",
    "correction",
    "checks",
    "readings",
    "drying",
    "grind_reference",
    "gate",
    "labels",
    "constants",
)
CORRECTION_KEYS = ("offset", "slope", "standard_uncertainty", "slope_u", "centre", "low", "high", "note")
CHECK_KEYS = ("zero_tolerance", "reference_tolerance", "reference_u")
TOP = "to the top, above the first [section]"
HOMES = {
    "name": TOP,
    "altitude_m": TOP,
    "timezone": TOP,
    "unknown_parents": "under [intake]",
    "brix_factor": "under [readings]",
    **dict.fromkeys(CHECK_KEYS, "under [checks]"),
    **dict.fromkeys(("constant_mass_pct", "volatile_loss_u_pct"), "under [drying]"),
    **dict.fromkeys(("min_brews", "max_set_aside", "max_age_days", "min_in_target_share"), "under [gate]"),
}
UNCERTAIN = (
    "dose_g",
    "beverage_g",
    "water_g",
    "tds_pct",
    "moisture_pct",
    "water_temp_c",
    "pressure_bar",
    "brew_time_s",
)


@dataclass(frozen=True)
class NewLab:
    """What `new_lab` wrote and what it found there and kept."""

    folder: Path
    made: tuple[str, ...]
    kept: tuple[str, ...]


def new_lab(folder: Path, *, method: str | None = None) -> NewLab:
    """Make a project folder; a `lab.toml` or `columns.toml` found there is kept and used.

    `method` is written into `columns.toml`, for logs that have no column for it.
    """
    made, kept = [], []
    if folder.exists() and not folder.is_dir():
        raise ProblemError(f"No project folder could be made at {folder}: there is a file of that name.")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in ((LAB_FILE, LAB_TOML), (COLUMNS_FILE, COLUMNS_TOML)):
            if (folder / name).exists():
                kept.append(name)
            else:
                (folder / name).write_text(text, encoding="utf-8")
                made.append(name)
    except OSError as error:
        raise ProblemError(f"No project folder could be made at {folder}: {error.strerror}.") from error
    load_settings(folder)
    if method is not None:
        _declare_method(folder / COLUMNS_FILE, method)
    return NewLab(folder, tuple(made), tuple(kept))


def _declare_method(file: Path, method: str) -> None:
    text = file.read_text(encoding="utf-8-sig")
    constants = parse_toml(text, str(file)).get("constants", {})
    known = constants.get("method") if isinstance(constants, dict) else None
    if known is None:
        file.write_text(with_constant(text, "method", method), encoding="utf-8")
    elif known != method:
        raise ProblemError(f'{file} already says method = "{known}", under [constants]. Change it there.')


def require_lab(folder: Path) -> Path:
    """The folder itself, if it is a project folder."""
    if (folder / LAB_FILE).is_file():
        return folder
    if folder.is_file():
        meant = f": {folder.parent}" if folder.name == LAB_FILE else ", the one with a lab.toml in it"
        raise ProblemError(f"{folder} is a file. Name the project folder{meant}.")
    what = "is not a project folder: it has no lab.toml" if folder.exists() else "does not exist"
    raise ProblemError(f"{folder} {what}. Make one with: brewtrials new {shlex.quote(str(folder))}{_near_lab(folder)}")


def _near_lab(folder: Path) -> str:
    """A line with the project folder beside it that was probably meant (one with a lab.toml), or nothing."""
    try:
        labs = [found.parent.name for found in folder.parent.glob(f"*/{LAB_FILE}")]
    except OSError:
        return ""
    near = difflib.get_close_matches(folder.name, labs, n=1)
    return f"\nDid you mean {folder.parent / near[0]}?" if near else ""


def load_settings(folder: Path) -> LabSettings:
    """Read `lab.toml`; an entry that means nothing or holds the wrong thing is refused with its line."""
    file = read_toml(require_lab(folder) / LAB_FILE, HOMES)
    file.only_known("", file.data, ("name", "altitude_m", "timezone", *SECTIONS))
    top = file.data
    return LabSettings(
        name=file.words("", "name", top.get("name", "")),
        altitude_m=file.number("", "altitude_m", top.get("altitude_m", 0), low=-500, high=9000),
        timezone=_timezone(file),
        unknown_parents=_unknown_parents(file),
        default_u=_uncertainty(file),
        corrections=_corrections(file),
        checks=_check_limits(file, "checks", _general_checks(file)),
        instrument_checks=_instrument_checks(file),
        brix_factor=_brix_factor(file),
        grind_references=_grind_references(file),
        drying=_drying(file),
        gate=_gate(file),
        labels={key: file.words("labels", key, value) for key, value in file.section("labels").items()},
        constants=_constants(file),
    )


def _timezone(file: TomlFile) -> str:
    name = file.words("", "timezone", file.data.get("timezone", "UTC"))
    try:
        zoneinfo.ZoneInfo(name)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError) as error:
        near = difflib.get_close_matches(name, sorted(zoneinfo.available_timezones()), n=1)
        hint = f"did you mean {near[0]}?" if near else 'write it like "Europe/Vienna".'
        raise file.problem("", "timezone", f'is "{name}", which is no time zone; {hint}') from error
    return name


def _unknown_parents(file: TomlFile) -> UnknownParents:
    section = file.section("intake")
    file.only_known("intake", section, ("unknown_parents",))
    words = file.words("intake", "unknown_parents", section.get("unknown_parents", "stub"), one_of=_POLICIES)
    return "stub" if words == "stub" else "set_aside"


def _uncertainty(file: TomlFile) -> dict[str, float]:
    section = file.section("uncertainty")
    file.only_known("uncertainty", section, UNCERTAIN)
    return {key: file.number("uncertainty", key, value, low=0) for key, value in section.items()}


def _corrections(file: TomlFile) -> tuple[Correction, ...]:
    found = []
    for instrument, entries in file.section("correction").items():
        name = f"correction.{instrument}"
        if not isinstance(entries, dict):
            raise file.problem("correction", instrument, f"should be a section: write [{name}] on its own line.")
        file.only_known(name, entries, CORRECTION_KEYS)
        slope = file.number(name, "slope", entries.get("slope", 1.0))
        if slope <= 0:
            raise file.problem(name, "slope", f"is {slope:g}; it must be more than 0.")
        found.append(
            Correction(
                instrument_id=instrument,
                offset=file.number(name, "offset", entries.get("offset", 0.0)),
                slope=slope,
                standard_uncertainty=file.number(
                    name, "standard_uncertainty", entries.get("standard_uncertainty", 0.0), low=0
                ),
                note=file.words(name, "note", entries.get("note", "")),
                **_correction_at_strengths(file, name, entries),
            )
        )
    return tuple(found)


def _correction_at_strengths(file: TomlFile, name: str, entries: dict[str, Any]) -> dict[str, float]:
    """The entries that say how the correction's uncertainty changes with strength, and where it was checked."""
    lowest = {"slope_u": 0.0, "centre": -math.inf, "low": -math.inf, "high": -math.inf}
    found = {key: file.number(name, key, entries[key], low=low) for key, low in lowest.items() if key in entries}
    for key, needs in (("slope_u", "centre"), ("low", "high"), ("high", "low")):
        if key in found and needs not in found:
            raise file.problem(name, key, f"needs {needs} beside it; `brewtrials instruments` prints the whole block.")
    if found.get("low", 0.0) > found.get("high", 0.0):
        raise file.problem(name, "low", f"is {found['low']:g}, above high {found['high']:g}. Swap or correct the two.")
    return found


def _general_checks(file: TomlFile) -> dict[str, Any]:
    return {key: value for key, value in file.section("checks").items() if not isinstance(value, dict)}


def _instrument_checks(file: TomlFile) -> dict[str, CheckLimits]:
    blocks = {key: value for key, value in file.section("checks").items() if isinstance(value, dict)}
    return {instrument: _check_limits(file, f"checks.{instrument}", entries) for instrument, entries in blocks.items()}


def _check_limits(file: TomlFile, name: str, entries: dict[str, Any]) -> CheckLimits:
    file.only_known(name, entries, CHECK_KEYS)
    return CheckLimits(**{key: file.number(name, key, value, low=0) for key, value in entries.items()})


def _brix_factor(file: TomlFile) -> float | None:
    section = file.section("readings")
    file.only_known("readings", section, ("brix_factor",))
    if "brix_factor" not in section:
        return None
    return file.number("readings", "brix_factor", section["brix_factor"], low=0.1, high=2, hint=", such as 0.85")


def _drying(file: TomlFile) -> DryingSettings:
    name, section, plain = "drying", file.section("drying"), DryingSettings()
    file.only_known(name, section, ("constant_mass_pct", "volatile_loss_u_pct"))
    constant, loss = section.get("constant_mass_pct", plain.constant_mass_pct), section.get("volatile_loss_u_pct")
    hint = ": percent of what is left in the dish"
    return DryingSettings(
        constant_mass_pct=file.number(name, "constant_mass_pct", constant, low=0, high=10, hint=hint),
        volatile_loss_u_pct=None
        if loss is None
        else file.number(name, "volatile_loss_u_pct", loss, low=0, high=50, hint=hint),
    )


def _grind_references(file: TomlFile) -> tuple[GrindReference, ...]:
    name = "grind_reference"
    entries = file.data.get(name, [])
    if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries):
        raise file.problem(name, "", "should be written with double brackets: [[grind_reference]].")
    return tuple(_grind_reference(file, nth_section(name, nth), entry) for nth, entry in enumerate(entries, start=1))


def _grind_reference(file: TomlFile, name: str, entry: dict[str, Any]) -> GrindReference:
    keys = ("coffee_id", "grinder_id", "method", "grind_setting")
    file.only_known(name, entry, keys)
    missing = [key for key in keys if key not in entry]
    if missing:
        raise file.problem(name, "", f"lacks {', '.join(missing)}.")
    dial = entry["grind_setting"]
    is_number = isinstance(dial, int | float) and not isinstance(dial, bool)
    return GrindReference(
        coffee_id=file.words(name, "coffee_id", entry["coffee_id"]),
        grinder_id=file.words(name, "grinder_id", entry["grinder_id"]),
        method=file.words(name, "method", entry["method"], one_of=METHODS),
        grind_setting=str(dial) if is_number else file.words(name, "grind_setting", dial),
    )


def _gate(file: TomlFile) -> GateLimits:
    name, section, plain = "gate", file.section("gate"), GateLimits()
    file.only_known(name, section, ("min_brews", "max_set_aside", "max_age_days", "min_in_target_share"))
    age, share = section.get("max_age_days"), section.get("min_in_target_share")
    hint = ": a share, such as 0.9 for nine brews in ten"
    return GateLimits(
        min_brews=file.count(name, "min_brews", section.get("min_brews", plain.min_brews)),
        max_set_aside=file.count(name, "max_set_aside", section.get("max_set_aside", plain.max_set_aside)),
        max_age_days=None if age is None else file.number(name, "max_age_days", age, low=0),
        min_in_target_share=None
        if share is None
        else file.number(name, "min_in_target_share", share, low=0, high=1, hint=hint),
    )


def _constants(file: TomlFile) -> dict[str, str]:
    section = file.section("constants")
    file.only_known("constants", section, tuple(COLUMNS))
    found = {}
    for key, value in section.items():
        if not isinstance(value, str | int | float):
            raise file.problem("constants", key, "should be one value: text in quotes, a number, true or false.")
        found[key] = str(value).lower() if isinstance(value, bool) else str(value)
    return found


_POLICIES: tuple[str, ...] = get_args(UnknownParents)
