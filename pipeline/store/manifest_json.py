"""A manifest as JSON, sealed by a hash of its own bytes so that any damage to it shows when it is read."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict
from functools import lru_cache
from typing import Any

from pipeline.store.model import SCHEMA_VERSION, DataFile, Manifest, SourceEntry, TableEntry
from schemas.problem import ProblemError

SEAL = b',\n"seal": "'
END = b'"\n}\n'


class DamagedError(Exception):
    """These bytes are no whole manifest; the message says in which way."""


def to_bytes(manifest: Manifest) -> bytes:
    """The manifest's file: sorted keys, one top-level member a line, the seal last; the same for equal manifests."""
    members = {
        "number": manifest.number,
        "parent_sha256": manifest.parent_sha256,
        "schema_version": manifest.schema_version,
        "tool_version": manifest.tool_version,
        "tables": {
            name: {"files": [_pair(file) for file in entry.files], "replaced": [_pair(file) for file in entry.replaced]}
            for name, entry in manifest.tables.items()
        },
        "lists": {name: _pair(file) for name, file in manifest.lists.items()},
        "sources": [asdict(source) for source in manifest.sources],
        "originals": list(manifest.originals),
    }
    lines = ",\n".join(f"{json.dumps(key)}: {json.dumps(value, sort_keys=True)}" for key, value in members.items())
    body = b"{\n" + lines.encode("ascii")
    return body + SEAL + hashlib.sha256(body).hexdigest().encode("ascii") + END


def from_bytes(raw: bytes, where: str) -> Manifest:
    """Read a manifest's file.

    Raises DamagedError when a bit of it has changed, ProblemError (naming `where`) when a newer version wrote it.
    """
    body, mark, tail = raw.rpartition(SEAL)
    if not mark:
        raise DamagedError("it ends too early or is not a manifest")
    if tail != hashlib.sha256(body).hexdigest().encode("ascii") + END:
        raise DamagedError("its content has changed since it was written")
    members: dict[str, Any] = json.loads(body + b"\n}")
    if members["schema_version"] > SCHEMA_VERSION:
        raise ProblemError(
            f"{where} was written by a newer brewtrials ({members['tool_version']}, store version "
            f"{members['schema_version']}); this one reads up to {SCHEMA_VERSION}. Nothing was changed. Update "
            "brewtrials and run it again."
        )
    return _manifest(members, hashlib.sha256(raw).hexdigest())


def _manifest(members: dict[str, Any], sha256: str) -> Manifest:
    return Manifest(
        number=members["number"],
        parent_sha256=members["parent_sha256"],
        schema_version=members["schema_version"],
        tool_version=members["tool_version"],
        tables={
            name: TableEntry(
                files=tuple(_data_file(*pair) for pair in entry["files"]),
                replaced=tuple(_data_file(*pair) for pair in entry["replaced"]),
            )
            for name, entry in members["tables"].items()
        },
        lists={name: _data_file(*pair) for name, pair in members["lists"].items()},
        sources=tuple(SourceEntry(**source) for source in members["sources"]),
        originals=tuple(members["originals"]),
        sha256=sha256,
    )


def _pair(file: DataFile) -> list[str | int]:
    # Its name follows from its hash; a lab of many commits lists many files, so nothing is said twice.
    return [file.sha256, file.rows]


@lru_cache(maxsize=100_000)
def _data_file(sha256: str, rows: int) -> DataFile:
    # Each commit names nearly all files of the one before: made once, reading a long history is several times faster.
    return DataFile(sha256=sha256, rows=rows)
