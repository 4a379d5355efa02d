"""One writer at a time: an advisory lock on `store/lock` that the kernel releases when its holder dies."""

from __future__ import annotations

import fcntl
import os
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from pipeline.store.durable import clear_write_errors, make_folder
from schemas.problem import ProblemError

POLL_S = 0.02


class WriterLock:
    """The store's lock; one object may take it again while it holds it."""

    def __init__(self, path: Path, *, wait_s: float) -> None:
        self._path = path
        self._wait_s = wait_s
        self._thread_lock = threading.RLock()
        self._depth = 0

    @contextmanager
    def held(self) -> Iterator[None]:
        """Hold the lock for the length of a `with` block.

        Raises ProblemError when another run still holds it after the waiting time.
        """
        deadline = time.monotonic() + self._wait_s
        if not self._thread_lock.acquire(timeout=self._wait_s):
            raise self._still_taken("")
        try:
            handle = self._take(deadline) if self._depth == 0 else None
            self._depth += 1
            try:
                yield
            finally:
                self._depth -= 1
                if handle is not None:
                    os.close(handle)
        finally:
            self._thread_lock.release()

    def _take(self, deadline: float) -> int:
        with clear_write_errors("The lock file", self._path.parent):
            make_folder(self._path.parent)
            handle = os.open(self._path, os.O_RDWR | os.O_CREAT, 0o666)
            try:
                while not self._try(handle):
                    if time.monotonic() >= deadline:
                        raise self._still_taken(os.pread(handle, 20, 0).decode("ascii", "replace").strip())
                    time.sleep(POLL_S)
            except BaseException:
                os.close(handle)
                raise
            self._sign(handle)
        return handle

    @staticmethod
    def _try(handle: int) -> bool:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True

    @staticmethod
    def _sign(handle: int) -> None:
        # Only a courtesy to whoever waits, so a full disk must not stop it.
        with suppress(OSError):
            os.ftruncate(handle, 0)
            os.pwrite(handle, f"{os.getpid()}\n".encode(), 0)

    def _still_taken(self, process: str) -> ProblemError:
        who = f"another brewtrials run (process {process})" if process else "another brewtrials run"
        return ProblemError(
            f"The project folder {self._path.parent.parent} is being written to by {who}; waited "
            f"{self._wait_s:g} s. Nothing was changed. Let that run finish, then run this again."
        )
