"""An invented log of any length: clean rows, five methods, fixed seed."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import polars as pl


def write_brews(path: Path, rows: int, *, seed: int = 20260601, prefix: str = "b") -> None:
    """Write `rows` invented brews with an inline reading each, as a comma-separated file."""
    rng = np.random.default_rng(seed)
    dose = rng.normal(18, 0.2, rows).round(2)
    frame = pl.DataFrame(
        {
            "brew_id": [f"{prefix}{number:08d}" for number in range(rows)],
            "brewed_at": pl.datetime_range(
                pl.datetime(2020, 1, 1), pl.datetime(2020, 1, 1) + pl.duration(minutes=rows - 1), "1m", eager=True
            ).dt.strftime("%Y-%m-%dT%H:%M:%SZ"),
            "operator": rng.choice(["ana", "ben", "chi"], rows),
            "coffee_id": rng.choice([f"coffee-{number}" for number in range(40)], rows),
            "method": rng.choice(["espresso", "espresso", "moka"], rows),
            "grinder_id": rng.choice(["mill-1", "mill-2"], rows),
            "grind_setting": rng.integers(10, 30, rows),
            "dose_g": dose,
            "beverage_g": (2 * dose + rng.normal(0, 0.5, rows)).round(1),
            "water_temp_c": rng.normal(93, 0.5, rows).round(1),
            "brew_time_s": rng.normal(28, 2, rows).round(1),
            "channeling": rng.choice(["none", "none", "none", "slight", "severe"], rows),
            "tds_pct": rng.normal(9.8, 0.4, rows).round(2),
        }
    )
    frame.write_csv(path)
