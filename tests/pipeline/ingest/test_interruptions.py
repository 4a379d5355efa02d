"""Killed in the middle, run twice at once: nothing torn, nothing lost."""

from __future__ import annotations

import random
import subprocess
import sys
import time
from pathlib import Path

import pytest

from pipeline.store.read import current
from pipeline.store.store import Store
from pipeline.store.verify import verify

CHILD = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from pipeline.ingest.run import ingest
print("ready", flush=True)
for path in sys.argv[2:]:
    ingest([Path(path)], Path(sys.argv[1]), now=datetime(2026, 6, 1, tzinfo=UTC))
"""
KILLS = 50


def write_files(lab, count: int, rows: int) -> list[Path]:
    paths = []
    for number in range(count):
        brews = "".join(f"b-{number}-{i},2026-04-03T09:15:00Z,sunrise,espresso,18,36,9.5\n" for i in range(rows))
        header = "brew_id,brewed_at,coffee_id,method,dose_g,beverage_g,tds_pct\n"
        paths.append(lab.put(f"{number:02}-brews.csv", header + brews))
    return paths


def start(lab, paths) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", CHILD, str(lab.dir), *map(str, paths)], stdout=subprocess.PIPE, text=True
    )


@pytest.mark.slow
def test_fifty_kills_tear_nothing_and_the_last_run_completes(lab):
    paths = write_files(lab, count=40, rows=40)
    rng = random.Random(20260601)
    killed = 0
    for _ in range(KILLS):
        with start(lab, paths) as child:
            child.stdout.readline()
            time.sleep(rng.uniform(0.0, 0.35))
            killed += child.poll() is None
            child.kill()
        store = Store(lab.dir)
        brews = current(store, store.head(), "brews").collect()
        readings = current(store, store.head(), "readings").collect()
        # Both tables come from the same rows, so a torn commit would leave them out of step.
        assert set(brews["brew_id"]) == set(readings["brew_id"])
        assert brews.height % 40 == 0
        assert verify(store).findings == ()
    assert killed > KILLS // 2

    with start(lab, paths) as child:
        assert child.wait(timeout=120) == 0
    assert lab.current("brews").height == 40 * 40


def test_two_ingests_at_once_both_land(lab):
    paths = write_files(lab, count=6, rows=20)
    with start(lab, paths[:3]) as one, start(lab, paths[3:]) as two:
        assert one.wait(timeout=120) == 0
        assert two.wait(timeout=120) == 0

    assert lab.current("brews").height == 120
    assert lab.current("readings").height == 120
