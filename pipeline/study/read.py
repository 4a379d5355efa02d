"""`study.toml` read strictly: what a lab declares about its studies, or a complaint that names the line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from analysis.effects.factors import FACTORS, GROUPS, RESPONSES
from analysis.effects.request import check_request
from analysis.study.request import effects_request
from pipeline.study.entries import Block, did_you_mean
from pipeline.study.parts import read_exclusions, read_factors, read_impossible, read_references, read_targets
from pipeline.toml_file import TomlFile, nth_section, toml_of
from schemas.methods import METHODS
from schemas.problem import ProblemError
from schemas.study import Study

STUDY_FILE = "study.toml"
PARTS = ("factor", "grind_reference", "exclusion", "target", "impossible")
ENTRIES = (
    "study_id",
    "question",
    "response",
    "method",
    "coffees",
    "crosses",
    "blocks",
    "whole_plot",
    "difference_that_matters",
)
FACTOR, STUDY, SIDE = "under [[study.factor]]", "under [[study]]", "beside the factor's name: { at_least = 96 }"
HOMES = {
    "step": FACTOR,
    "levels": FACTOR,
    "hard_to_change": FACTOR,
    "curve": FACTOR,
    "low": FACTOR,
    "high": FACTOR,
    "brew_id": "under [[study.exclusion]]",
    "grind_setting": "under [[study.grind_reference]]",
    "at_least": SIDE,
    "at_most": SIDE,
    **dict.fromkeys(ENTRIES, STUDY),
}


@dataclass(frozen=True)
class StudyFile:
    """The studies of a project folder and the bytes that declare them."""

    studies: tuple[Study, ...]
    raw: bytes


def read_studies(lab_dir: Path) -> tuple[Study, ...]:
    """The studies that `study.toml` in a project folder declares; none where there is no such file.

    Raises ProblemError, naming file, line and entry, at the first thing that means nothing or cannot be.
    """
    return read_study_file(lab_dir).studies


def read_study_file(lab_dir: Path) -> StudyFile:
    """As `read_studies`, together with the bytes they were read from."""
    path = lab_dir / STUDY_FILE
    try:
        raw = path.read_bytes() if path.exists() else b""
    except OSError as error:
        raise ProblemError(f"{path} cannot be read: {error.strerror}.") from error
    return StudyFile(studies_of(raw, path), raw)


def studies_of(raw: bytes, path: Path) -> tuple[Study, ...]:
    """The studies that the bytes of a `study.toml` declare; `path` is named in complaints."""
    return _studies(toml_of(raw, path, HOMES))


def choose_study(studies: Sequence[Study], study_id: str | None) -> Study:
    """The study of that id; without one, the only one there is. Raises ProblemError."""
    if not studies:
        raise ProblemError(
            f"No study is declared: the project folder has no {STUDY_FILE}, or nothing is filled in there. "
            "`brewtrials study --start` writes one to fill in."
        )
    names = [study.study_id for study in studies]
    if study_id is None:
        if len(studies) == 1:
            return studies[0]
        raise ProblemError(f"{STUDY_FILE} declares {len(studies)} studies: {', '.join(names)}. Say which: --study ID.")
    if study_id not in names:
        hint = did_you_mean(study_id, names)
        raise ProblemError(f'{STUDY_FILE} declares no study "{study_id}"; there is {", ".join(names)}.{hint}')
    return studies[names.index(study_id)]


def _studies(file: TomlFile) -> tuple[Study, ...]:
    file.only_known("", file.data, ("study",))
    seen = dict.fromkeys(PARTS, 0)
    found: list[Study] = []
    for block in _blocks(file, "study", file.data.get("study", []), 0):
        parts = {}
        for part in PARTS:
            parts[part] = _blocks(file, f"study.{part}", block.entries.get(part, []), seen[part])
            seen[part] += len(parts[part])
        study = _study(block, parts)
        if study.study_id in [other.study_id for other in found]:
            raise block.problem("study_id", f'is "{study.study_id}", as in a study above; give each its own.')
        found.append(study)
    return tuple(found)


def _blocks(file: TomlFile, name: str, found: object, before: int) -> list[Block]:
    """The blocks of one name; those of earlier studies, `before`, are counted in their headings' numbers."""
    if not isinstance(found, list) or not all(isinstance(entries, dict) for entries in found):
        raise file.problem(name, "", f"should be written with double brackets: [[{name}]].")
    return [Block(file, nth_section(name, before + nth), entries) for nth, entries in enumerate(found, start=1)]


def _study(block: Block, parts: dict[str, list[Block]]) -> Study:
    block.only_known((*ENTRIES, *PARTS))
    block.needs("study_id", "question", "response")
    method = block.text("method", one_of=METHODS) if "method" in block.entries else None
    coffees, factors = block.texts("coffees"), read_factors(parts["factor"])
    names = tuple(factor.name for factor in factors)
    still = block.texts("whole_plot", one_of=(*FACTORS, *GROUPS))
    factors = tuple(replace(factor, hard_to_change=factor.hard_to_change or factor.name in still) for factor in factors)
    hard = tuple(factor.name for factor in factors if factor.hard_to_change)
    matters = block.number("difference_that_matters")
    if matters is not None and matters <= 0:
        raise block.problem("difference_that_matters", f"is {matters:g}; it must be more than 0.")
    study = Study(
        study_id=block.text("study_id"),
        question=block.text("question"),
        response=block.text("response", one_of=RESPONSES),
        method=method,
        coffees=coffees,
        factors=factors,
        crosses=block.texts("crosses"),
        blocks=block.texts("blocks", one_of=GROUPS),
        whole_plot=tuple(dict.fromkeys((*still, *hard))),
        grind_reference=read_references(parts["grind_reference"], method, coffees),
        exclusions=read_exclusions(parts["exclusion"]),
        difference_that_matters=matters,
        targets=read_targets(parts["target"]),
        impossible=read_impossible(parts["impossible"], names),
    )
    _check_question(block, study)
    return study


def _check_question(block: Block, study: Study) -> None:
    """What the effects table would refuse whatever the brews are is refused here, with its place in the file."""
    if not study.factors:
        if study.crosses:
            raise block.problem("crosses", "needs factors: add a [[study.factor]] for each.")
        return
    try:
        check_request(effects_request(study))
    except ProblemError as error:
        raise block.problem("", f"cannot be asked: {error}") from error
