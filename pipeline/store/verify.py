"""Are the bytes still those that were written? Every hash looked at again, from the manifests down."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from pipeline.store.durable import sha256_of
from pipeline.store.manifest_json import DamagedError, from_bytes
from pipeline.store.model import DataFile, Manifest
from pipeline.store.store import Store
from schemas.problem import ProblemError

Kind = Literal["manifest", "data file", "original"]


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that is wrong: `file` relative to the project folder, and a sentence."""

    kind: Kind
    file: str
    message: str


@dataclass(frozen=True, slots=True)
class Verification:
    """What was looked at, in numbers of files, and what was found; no findings means all is as it was written."""

    findings: tuple[Finding, ...]
    manifests: int
    data_files: int
    originals: int

    @property
    def intact(self) -> bool:
        """Whether nothing is damaged or missing."""
        return not self.findings


def verify(store: Store) -> Verification:
    """Check manifests (each seal, the chain of parents, no gaps), every data file and every original they name."""
    numbers = store.numbers()
    findings: list[Finding] = list(_gaps(store, numbers))
    data: dict[str, DataFile] = {}
    originals: set[str] = set()
    before: Manifest | None = None
    for number in numbers:
        found = _read(store, number)
        if isinstance(found, Finding):
            findings.append(found)
            before = None
            continue
        findings += _broken_link(store, before, found)
        data |= found.data_files()
        originals |= found.original_files()
        before = found
    findings += _changed(store, "data file", {sha256: store.data_path(file) for sha256, file in data.items()})
    findings += _changed(store, "original", {sha256: store.original_path(sha256) for sha256 in originals})
    return Verification(tuple(findings), manifests=len(numbers), data_files=len(data), originals=len(originals))


def _name(store: Store, path: Path) -> str:
    return str(path.relative_to(store.folder.parent))


def _read(store: Store, number: int) -> Manifest | Finding:
    path = store.manifest_path(number)
    name = _name(store, path)
    try:
        manifest = from_bytes(path.read_bytes(), name)
    except OSError as error:
        return Finding("manifest", name, f"It cannot be read ({error.strerror}). Check its rights.")
    except DamagedError as error:
        return Finding("manifest", name, f"It is damaged: {error}. Restore it from a backup.")
    except ProblemError as error:
        return Finding("manifest", name, str(error))
    if manifest.number != number:
        return Finding("manifest", name, f"It says it is ingest {manifest.number}: it was renamed. Restore its name.")
    return manifest


def _gaps(store: Store, numbers: list[int]) -> Iterator[Finding]:
    for number in sorted(set(range(1, max(numbers, default=0) + 1)) - set(numbers)):
        name = _name(store, store.manifest_path(number))
        yield Finding("manifest", name, "It is missing, though later ingests exist. Restore it from a backup.")


def _broken_link(store: Store, before: Manifest | None, manifest: Manifest) -> Iterator[Finding]:
    if manifest.number == 1:
        expected = ""
    elif before is not None and before.number == manifest.number - 1:
        expected = before.sha256
    else:
        return
    if manifest.parent_sha256 != expected:
        yield Finding(
            "manifest",
            _name(store, store.manifest_path(manifest.number)),
            f"It was not made from ingest {manifest.number - 1} as that stands now: one of the two was exchanged. "
            "Restore both from one backup.",
        )


def _changed(store: Store, kind: Kind, paths: dict[str, Path]) -> Iterator[Finding]:
    for sha256, path in sorted(paths.items(), key=lambda item: item[1]):
        name = _name(store, path)
        try:
            right = sha256_of(path) == sha256
        except OSError as error:
            yield Finding(kind, name, f"It is missing or cannot be read ({error.strerror}). Restore it from a backup.")
        else:
            if not right:
                yield Finding(kind, name, "Its content has changed since it was written. Restore it from a backup.")
