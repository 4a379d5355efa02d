"""Run one piece of work in a process of its own: seconds of work and peak memory."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import dataclass

FRAME = """
import json, resource, sys, time
{setup}
start = time.perf_counter()
{work}
seconds = time.perf_counter() - start
peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
print(json.dumps([seconds, peak_mb]))
"""


@dataclass(frozen=True)
class Cost:
    """Wall seconds of the work alone (imports excluded) and the process's peak memory in MB."""

    seconds: float
    peak_mb: float


def cost(work: str, *, setup: str = "", repeats: int = 1) -> Cost:
    """The fastest of `repeats` runs: noise on a shared machine only ever adds."""
    runs = []
    for _ in range(repeats):
        code = FRAME.format(setup=setup, work=work)
        done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
        runs.append(Cost(*json.loads(done.stdout.splitlines()[-1])))
    return min(runs, key=lambda run: run.seconds)
