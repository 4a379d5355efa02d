"""kill -9 at any moment: the head can be read, the tables are in step, nothing named is lost, the next run goes on."""

from __future__ import annotations

import signal
import subprocess
import sys
import time

import numpy as np
import polars as pl
import pytest

from pipeline.store.model import Manifest, TableEntry
from pipeline.store.store import Store
from pipeline.store.sweep import sweep
from pipeline.store.verify import verify

KILLS = 50
COMMIT_FOR_EVER = """
import itertools, sys
from dataclasses import replace
from pathlib import Path
import polars as pl
from pipeline.store.model import TableEntry
from pipeline.store.store import Store
store = Store(Path(sys.argv[1]))
print("ready", flush=True)
for _ in itertools.count():
    with store.lock():
        head = store.head()
        number = head.number + 1
        tables = {}
        for name in ("brews", "readings"):
            old = head.tables.get(name, TableEntry())
            file = store.write_data(pl.DataFrame({name: [number] * 500}))
            tables[name] = TableEntry(files=(*old.files, file))
        kept = store.keep_original(f"file {number}".encode() * 1000)
        store.commit(replace(head, number=number, tables=tables, originals=(*head.originals, kept)))
"""


def numbers_in(store: Store, manifest: Manifest, name: str) -> list[int]:
    files = manifest.tables.get(name, TableEntry()).files
    return [pl.read_parquet(store.checked_path(file).read_bytes())[name][0] for file in files]


def kill_one_run(store: Store, after_s: float) -> None:
    with subprocess.Popen(
        [sys.executable, "-c", COMMIT_FOR_EVER, store.lab_dir], stdout=subprocess.PIPE, text=True
    ) as child:
        assert child.stdout is not None
        assert child.stdout.readline() == "ready\n"
        time.sleep(after_s)
        child.send_signal(signal.SIGKILL)


@pytest.mark.slow
def test_fifty_kills_in_the_middle_of_commits_tear_nothing(store, commit):
    rng = np.random.default_rng(20260402)
    interrupted = 0
    for _ in range(KILLS):
        before = store.head().number
        kill_one_run(store, after_s=float(rng.uniform(0, 0.04)))

        head = store.head()
        assert head.number >= before
        assert numbers_in(store, head, "brews") == numbers_in(store, head, "readings")
        assert verify(Store(store.lab_dir)).intact
        assert commit(store).number == head.number + 1
        interrupted += bool(sweep(store, dry_run=False))

    assert store.head().number > KILLS
    assert interrupted > 5, "the kills hardly ever met a commit: this test would prove nothing"
    assert verify(Store(store.lab_dir)).intact
