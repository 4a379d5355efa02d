"""Files as they were handed in, kept byte for byte under the hash of their bytes."""

from __future__ import annotations

import hashlib
from pathlib import Path

from pipeline.store.durable import CHUNK_BYTES, rename_durably, sha256_of
from schemas.problem import ProblemError


def keep_bytes(original: bytes, temp: Path, folder: Path) -> str:
    """Keep these bytes in `folder`, by way of `temp`; returns their sha256."""
    sha256 = hashlib.sha256(original).hexdigest()
    if not _is_kept(folder, sha256):
        temp.write_bytes(original)
        rename_durably(temp, folder / sha256)
    return sha256


def keep_file(original: Path, temp: Path, folder: Path) -> str:
    """Keep a copy of a file in `folder`, by way of `temp`, in bounded memory; returns the copy's sha256."""
    sha256 = _readable_sha256(original)
    if not _is_kept(folder, sha256):
        # Hashed again while copying: a file that is still being written is kept as what was copied.
        sha256 = _copy(original, temp)
        rename_durably(temp, folder / sha256)
    return sha256


def _is_kept(folder: Path, sha256: str) -> bool:
    kept = folder / sha256
    return kept.is_file() and sha256_of(kept) == sha256


def _readable_sha256(original: Path) -> str:
    try:
        return sha256_of(original)
    except OSError as error:
        raise ProblemError(f"{original} cannot be read: {error.strerror}. Check its name and rights.") from error


def _copy(original: Path, temp: Path) -> str:
    digest = hashlib.sha256()
    with original.open("rb") as source, temp.open("wb") as target:
        while chunk := source.read(CHUNK_BYTES):
            digest.update(chunk)
            target.write(chunk)
    return digest.hexdigest()
