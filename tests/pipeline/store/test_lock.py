from __future__ import annotations

import os
import subprocess
import sys
import threading
from concurrent.futures import ThreadPoolExecutor

import pytest

from pipeline.store.store import Store
from pipeline.store.verify import verify
from schemas.problem import ProblemError

HOLD_UNTIL_TOLD = """
import sys
from pathlib import Path
from pipeline.store.store import Store
with Store(Path(sys.argv[1])).lock():
    print("held", flush=True)
    sys.stdin.readline()
"""
COMMIT_TWENTY = """
import sys
from dataclasses import replace
from pathlib import Path
import polars as pl
from pipeline.store.model import TableEntry
from pipeline.store.store import Store
store = Store(Path(sys.argv[1]))
for number in range(20):
    with store.lock():
        head = store.head()
        old = head.tables.get("brews", TableEntry())
        file = store.write_data(pl.DataFrame({"brew_id": [f"{sys.argv[2]}-{number}"]}))
        tables = {"brews": replace(old, files=(*old.files, file))}
        store.commit(replace(head, number=head.number + 1, tables=tables))
"""


@pytest.fixture
def other_run(store):
    """Another process that holds the lock until its standard input ends."""
    child = subprocess.Popen(
        [sys.executable, "-c", HOLD_UNTIL_TOLD, store.lab_dir], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    with child:
        assert child.stdout is not None
        assert child.stdout.readline() == "held\n"
        yield child


def test_whoever_waits_too_long_is_told_who_holds_the_lock(store, other_run):
    waiting = Store(store.lab_dir, lock_wait_s=0.1)

    with pytest.raises(ProblemError, match=rf"another brewtrials run \(process {other_run.pid}\); waited 0.1 s"):
        waiting.keep_original(b"x")
    assert not waiting.originals_dir.exists()


def test_readers_do_not_wait(store, other_run):
    assert Store(store.lab_dir, lock_wait_s=0.1).head().number == 0


def test_a_waiting_writer_goes_on_when_the_lock_is_let_go(store, other_run):
    timer = threading.Timer(0.2, other_run.stdin.close)
    timer.start()

    assert Store(store.lab_dir, lock_wait_s=30).keep_original(b"x")
    timer.join()


def test_the_lock_of_a_killed_run_is_free(store, other_run):
    other_run.kill()
    other_run.wait()

    assert Store(store.lab_dir, lock_wait_s=5).keep_original(b"x")


def test_one_store_may_take_its_lock_again(store):
    with store.lock(), store.lock():
        store.keep_original(b"x")
    assert (store.folder / "lock").read_text() == f"{os.getpid()}\n"
    assert Store(store.lab_dir, lock_wait_s=0.1).keep_original(b"y")


def test_the_lock_is_let_go_after_an_error(store):
    with pytest.raises(KeyError), store.lock():
        raise KeyError

    assert Store(store.lab_dir, lock_wait_s=0.1).keep_original(b"y")


def test_threads_that_share_a_store_take_turns(store, commit):
    with ThreadPoolExecutor(4) as threads:
        for done in [threads.submit(commit, store, original=f"{number}".encode()) for number in range(12)]:
            done.result()

    assert store.head().number == 12
    assert len(set(store.head().originals)) == 12


def test_a_thread_that_shares_a_store_is_told_when_it_waits_too_long(store):
    sharing = Store(store.lab_dir, lock_wait_s=0.05)
    with sharing.lock(), ThreadPoolExecutor(1) as threads:
        waiting = threads.submit(sharing.keep_original, b"x")
        with pytest.raises(ProblemError, match="by another brewtrials run; waited"):
            waiting.result()


@pytest.mark.slow
def test_two_writers_at_once_all_land(store):
    writers = [
        subprocess.Popen([sys.executable, "-c", COMMIT_TWENTY, store.lab_dir, name]) for name in ("left", "right")
    ]
    assert [writer.wait(60) for writer in writers] == [0, 0]

    assert [manifest.number for manifest in store.manifests()] == list(range(1, 41))
    assert len(set(store.head().tables["brews"].files)) == 40
    assert verify(store).intact
