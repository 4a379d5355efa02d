"""The store of one project folder: immutable files, and manifests that say which of them count."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import replace
from importlib.metadata import version
from pathlib import Path

import polars as pl

from pipeline.store.durable import clear_write_errors, create_durably, make_folder, rename_durably, sha256_of, temp_path
from pipeline.store.lock import WriterLock
from pipeline.store.manifest_json import DamagedError, from_bytes, to_bytes
from pipeline.store.model import SCHEMA_VERSION, DataFile, Manifest
from pipeline.store.originals import keep_bytes, keep_file
from pipeline.store.parquet import write_parquet
from schemas.problem import ProblemError

MANIFEST_NAME = re.compile(r"\d{8}\.json")
LOCK_WAIT_S = 300.0


class Store:
    """Reads and writes `store/` in a project folder. Nothing is made on disk before the first write.

    Whoever writes holds `lock()` from reading the head until the commit.
    """

    def __init__(self, lab_dir: Path, *, lock_wait_s: float = LOCK_WAIT_S) -> None:
        self.lab_dir = Path(lab_dir)
        # Resolved once, so that a working directory that changes later cannot move the store.
        self.folder = (self.lab_dir / "store").resolve()
        self.manifests_dir = self.folder / "manifests"
        self.data_dir = self.folder / "data"
        self.originals_dir = self.folder / "originals"
        self._lock = WriterLock(self.folder / "lock", wait_s=lock_wait_s)
        self._checked: set[str] = set()

    def lock(self) -> AbstractContextManager[None]:
        """Hold the writers' lock; waits, then raises ProblemError. May be nested."""
        return self._lock.held()

    # Manifests

    def numbers(self) -> list[int]:
        """Numbers of all commits, ascending."""
        if not self.manifests_dir.is_dir():
            return []
        return sorted(int(path.stem) for path in self.manifests_dir.iterdir() if MANIFEST_NAME.fullmatch(path.name))

    def head(self) -> Manifest:
        """The last commit; number 0 and empty when there is none yet."""
        numbers = self.numbers()
        return self.at(numbers[-1]) if numbers else _empty()

    def at(self, number: int) -> Manifest:
        """The state after commit `number`; 0 is the empty state before the first."""
        if number == 0:
            return _empty()
        path = self.manifest_path(number)
        try:
            manifest = from_bytes(path.read_bytes(), str(path))
        except FileNotFoundError as error:
            raise self._no_such_commit(number) from error
        except OSError as error:
            raise ProblemError(f"{path} cannot be read: {error.strerror}. Check its rights and the disk.") from error
        except DamagedError as error:
            raise ProblemError(
                f"{path} is damaged: {error}. Nothing was changed. Run `brewtrials verify` to see what else is, and "
                f"restore the file from a backup; earlier ingests can still be read with --as-of."
            ) from error
        if manifest.number != number:
            raise ProblemError(f"{path} says it is ingest {manifest.number}. Run `brewtrials verify`.")
        return manifest

    def as_of(self, number: int | None) -> Manifest:
        """What a user asked for with --as-of: the state after that commit, the head when nothing was said."""
        return self.head() if number is None else self.at(number)

    def manifests(self) -> list[Manifest]:
        """All commits, oldest first."""
        return [self.at(number) for number in self.numbers()]

    def manifest_path(self, number: int) -> Path:
        """Where commit `number` is written."""
        return self.manifests_dir / f"{number:08d}.json"

    def commit(self, manifest: Manifest) -> Manifest:
        """Make a drafted manifest the head, all its tables at once, and return it as stored.

        `manifest.number` must be one more than the head it was drafted from; parent, versions and hash are filled
        in here. Raises ProblemError when another run committed since, or a new file it names is not there.
        """
        with self.lock():
            head = self.head()
            if manifest.number != head.number + 1:
                raise ProblemError(
                    f"{self.folder} is at ingest {head.number}, another run wrote to it since this one began. "
                    "Nothing was changed. Run this again."
                )
            self._require_new_files(manifest, head)
            return self._write_manifest(
                replace(
                    manifest,
                    parent_sha256=head.sha256,
                    schema_version=SCHEMA_VERSION,
                    tool_version=version("brewtrials"),
                    sha256="",
                )
            )

    def _write_manifest(self, manifest: Manifest) -> Manifest:
        raw = to_bytes(manifest)
        path = self.manifest_path(manifest.number)
        with self._writing("The record of this ingest", self.manifests_dir, len(raw)) as temp:
            temp.write_bytes(raw)
            create_durably(temp, path)
        return from_bytes(raw, str(path))

    def _require_new_files(self, manifest: Manifest, head: Manifest) -> None:
        old = head.data_files()
        paths = [self.data_path(file) for sha256, file in manifest.data_files().items() if sha256 not in old]
        known = set(head.originals)
        paths += [self.original_path(sha256) for sha256 in manifest.originals if sha256 not in known]
        missing = [path for path in paths if not path.is_file()]
        if missing:
            raise ProblemError(
                f"{'1 file' if len(missing) == 1 else f'{len(missing)} files'} of this ingest "
                f"{'is' if len(missing) == 1 else 'are'} gone before it was stored, the first is {missing[0]}. "
                "What was stored before is intact. Run this again."
            )

    def _no_such_commit(self, number: int) -> ProblemError:
        numbers = self.numbers()
        if numbers and number < numbers[-1]:
            return ProblemError(
                f"Ingest {number} is missing from {self.manifests_dir}. Run `brewtrials verify` and restore the file "
                "from a backup."
            )
        last = f"the last one is {numbers[-1]}" if numbers else "there is none yet"
        return ProblemError(f"There is no ingest {number}: {last}. `brewtrials history` lists them.")

    # Data files and originals

    def write_data(self, frame: pl.DataFrame | pl.LazyFrame) -> DataFile:
        """Write a frame in its row order; the same frame is the same file, written once. It counts once committed."""
        needed = int(frame.estimated_size()) if isinstance(frame, pl.DataFrame) else None
        with self.lock(), self._writing("A data file", self.data_dir, needed) as temp:
            file = DataFile(rows=write_parquet(frame, temp), sha256=sha256_of(temp))
            final = self.data_path(file)
            # A damaged file of the same content is mended by writing it again.
            if not final.exists() or sha256_of(final) != file.sha256:
                rename_durably(temp, final)
            self._checked.add(file.sha256)
        return file

    def data_path(self, file: DataFile) -> Path:
        """Where a data file lies."""
        return self.data_dir / file.name

    def checked_path(self, file: DataFile) -> Path:
        """Where a data file lies, once its hash has been found right (looked at once per Store).

        A flipped bit would otherwise be read as a silently wrong table. Raises ProblemError.
        """
        path = self.data_path(file)
        if file.sha256 in self._checked:
            return path
        try:
            right = sha256_of(path) == file.sha256
        except OSError as error:
            raise ProblemError(
                f"{path} is needed and cannot be read: {error.strerror}. Run `brewtrials verify` to see what else is "
                "missing, and restore it from a backup."
            ) from error
        if not right:
            raise ProblemError(
                f"{path} is damaged: its content has changed since it was written. Run `brewtrials verify` to see "
                "what else is, and restore it from a backup."
            )
        self._checked.add(file.sha256)
        return path

    def keep_original(self, original: Path | bytes) -> str:
        """Keep a file handed in, byte for byte, and return its sha256; the same bytes are kept once."""
        size = len(original) if isinstance(original, bytes) else _size(original)
        with self.lock(), self._writing("The original file", self.originals_dir, size) as temp:
            if isinstance(original, bytes):
                return keep_bytes(original, temp, self.originals_dir)
            return keep_file(original, temp, self.originals_dir)

    def original_path(self, sha256: str) -> Path:
        """Where the original with this hash is kept."""
        return self.originals_dir / sha256

    @contextmanager
    def _writing(self, what: str, folder: Path, needed_bytes: int | None) -> Iterator[Path]:
        with clear_write_errors(what, folder, needed_bytes=needed_bytes):
            make_folder(folder)
            with temp_path(folder) as temp:
                yield temp


def _size(path: Path) -> int | None:
    return path.stat().st_size if path.is_file() else None


def _empty() -> Manifest:
    return Manifest(number=0, parent_sha256="", schema_version=SCHEMA_VERSION, tool_version=version("brewtrials"))
