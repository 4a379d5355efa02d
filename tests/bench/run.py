"""`make bench`: what ingest and facts cost, as ratios to a bare polars conversion measured in the same run."""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.bench.brews_file import write_brews
from tests.bench.measure import Cost, cost

SETUP = """
from datetime import UTC, datetime
from pathlib import Path
from pipeline.ingest.run import ingest
from pipeline.lab import load_settings, new_lab
from pipeline.store.store import Store
"""


def bare(csv: Path, out: Path) -> Cost:
    work = f"pl.scan_csv({str(csv)!r}).sink_parquet({str(out)!r})"
    return cost(work, setup="import polars as pl", repeats=3)


def ingest_into(lab: Path, csv: Path) -> Cost:
    work = f"ingest([Path({str(csv)!r})], Path({str(lab)!r}), now=datetime(2026, 6, 1, tzinfo=UTC))"
    return cost(work, setup=f"{SETUP}\nnew_lab(Path({str(lab)!r}))")


def facts_of(lab: Path) -> Cost:
    setup = f"{SETUP}\nfrom pipeline.facts import brew_facts\nlab = Path({str(lab)!r})"
    return cost("store = Store(lab); brew_facts(store, store.head(), load_settings(lab))", setup=setup)


def help_seconds() -> float:
    times = []
    for _ in range(7):
        start = time.perf_counter()
        subprocess.run([Path(sys.executable).with_name("brewtrials"), "--help"], capture_output=True, check=True)
        times.append(time.perf_counter() - start)
    return min(times)


def main() -> None:
    """Measure, print a table, and write the numbers as JSON where asked."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, nargs="+", default=[10_000, 100_000, 1_000_000])
    parser.add_argument("--json", type=Path)
    args = parser.parse_args()
    found: dict[str, object] = {"help_s": round(help_seconds(), 3)}
    print(f"brewtrials --help: {found['help_s']} s (aim: under 0.15 s)")
    with tempfile.TemporaryDirectory() as folder:
        for rows in args.rows:
            found[f"rows_{rows}"] = measure_rows(Path(folder), rows)
    if args.json:
        args.json.parent.mkdir(parents=True, exist_ok=True)
        args.json.write_text(json.dumps(found, indent=1) + "\n")


def measure_rows(folder: Path, rows: int) -> dict[str, float]:
    """Ingest, one more file, and facts at one size."""
    csv, lab, more = folder / f"{rows}-brews.csv", folder / f"lab-{rows}", folder / f"{rows}-more-brews.csv"
    write_brews(csv, rows)
    write_brews(more, 50, seed=7, prefix="more")
    plain, ours = bare(csv, folder / "bare.parquet"), ingest_into(lab, csv)
    one_more, facts = ingest_into(lab, more), facts_of(lab)
    print(
        f"{rows:>9} brews: ingest {ours.seconds:.2f} s, {rows / ours.seconds:,.0f} rows/s, {ours.peak_mb:.0f} MB; "
        f"bare polars {plain.seconds:.2f} s, {plain.peak_mb:.0f} MB; ratio {ours.seconds / plain.seconds:.1f} in time, "
        f"{ours.peak_mb / plain.peak_mb:.1f} in memory; one more file {one_more.seconds:.2f} s; "
        f"facts {facts.seconds:.2f} s, {facts.peak_mb:.0f} MB"
    )
    return {
        "ingest_s": ours.seconds,
        "ingest_peak_mb": ours.peak_mb,
        "bare_s": plain.seconds,
        "bare_peak_mb": plain.peak_mb,
        "time_ratio": ours.seconds / plain.seconds,
        "one_more_s": one_more.seconds,
        "facts_s": facts.seconds,
        "facts_peak_mb": facts.peak_mb,
    }


if __name__ == "__main__":
    main()
