"""Checks in the store reach the flags."""

from datetime import UTC, datetime
from pathlib import Path

import polars as pl

from pipeline.facts import brew_flags
from pipeline.store.store import Store
from schemas.lab import CheckLimits, LabSettings
from tests.pipeline.test_facts import brew, commit

LAB = LabSettings(checks=CheckLimits(zero_tolerance=0.02))


def check(day: int, seen: float) -> dict[str, object]:
    at = datetime(2026, 3, day, 7, tzinfo=UTC)
    return {
        "instrument_id": "R1", "checked_at": at, "check_kind": "water_zero", "reference_value": 0.0,
        "observed_value": seen,
    }  # fmt: skip


def test_a_failed_check_flags_the_brews_read_since_the_last_passed_one(tmp_path: Path) -> None:
    store = Store(tmp_path)
    manifest = commit(
        store,
        coffees=[{"coffee_id": "c1"}],
        instruments=[{"instrument_id": "R1", "kind": "refractometer", "unit": "%", "resolution": 0.01}],
        brews=[brew("before", brewed_at=datetime(2026, 3, 8, 8, tzinfo=UTC)), brew("since")],
        readings=[
            {"brew_id": name, "instrument_id": "R1", "sample_no": 1, "reading_no": 1, "tds_pct": 9.0}
            for name in ("before", "since")
        ],
        calibrations=[check(2, 0.0), check(9, 0.01), check(16, -0.06)],
    )

    flags = brew_flags(store, manifest, LAB).filter(pl.col("rule") == "reading_in_doubt")

    assert flags["brew_id"].to_list() == ["since"]
    assert flags["message"][0].startswith("R1 failed its zero check on 16 March 2026 07:00: it read -0.06 %")
    assert brew_flags(store, manifest, LabSettings()).filter(pl.col("rule") == "reading_in_doubt").is_empty()
