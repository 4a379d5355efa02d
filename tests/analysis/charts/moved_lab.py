"""An invented lab in which settings move the yield by known amounts; its files as rows."""

from __future__ import annotations

import csv
import io
from datetime import datetime, timedelta

import numpy as np

START = datetime(2026, 3, 2, 8)
FINER, HOTTER, CHANNELED = 0.4, 0.1, -2.0
"""Points of yield for one step finer, 1 C hotter, a channeled brew."""
SCATTER = 0.3
GOLDEN = 0.618034
HEADS = {
    "coffees": "coffee_id,name,roast_level",
    "grinders": "grinder_id,name,finer_is",
    "instruments": "instrument_id,kind,resolution,standard_uncertainty,unit",
    "brews": "brew_id,session_id,operator,brewed_at,method,coffee_id,grinder_id,grind_setting,scale_id,dose_g,water_g,"
    "beverage_g,water_temp_c,brew_time_s,channeling",
    "readings": "brew_id,instrument_id,sample_no,reading_no,tds_pct",
}


def files(
    *,
    coffees: tuple[str, ...] = ("Quiet Hill", "Tin Roof", "Long Meadow"),
    per_coffee: int = 14,
    channeled: float = 0.25,
    looked_at: bool = True,
    read: bool = True,
    tied: bool = False,
    prefix: str = "",
    seed: int = 20260504,
) -> dict[str, str]:
    """Files by name; `channeled` is the share of pour over that channeled, `tied` moves heat with grind.

    `read` leaves out the readings (and so every yield), `prefix` stands before brews' ids, readers and sessions.
    """
    rng = np.random.default_rng(seed)
    brews, readings = [], []
    for k in range(per_coffee * len(coffees)):
        which = k % len(coffees)
        steps = int(rng.integers(-3, 4))
        hot = 93 + (steps if tied else int(rng.integers(-3, 4)))
        flawed = (GOLDEN * k) % 1 < channeled  # spread evenly, so that it goes with no setting
        y = 20 + 0.5 * which + FINER * steps + HOTTER * (hot - 93) + CHANNELED * flawed + rng.normal(0, SCATTER)
        beverage = round(230 + rng.normal(0, 6), 1)
        brew_id, at = f"{prefix}B-{k + 1:03}", START + timedelta(days=k // 7, minutes=9 * (k % 7))
        seen = "" if not looked_at else "slight" if flawed else "none"
        who = f"{prefix}{('Ines', 'Jonas')[k % 2]}"
        brews.append(
            (brew_id, f"{prefix}s{k // 7}", who, f"{at:%Y-%m-%dT%H:%M}", "pour_over", f"c{which}", "mill", 20 - steps,
             "S1", 16.0, 260.0, beverage, hot, round(180 + 4 * steps + rng.normal(0, 5)), seen)
        )  # fmt: skip
        readings.append((brew_id, "R1", 1, 1, f"{y * 16 / beverage:.3f}"))
    tables = {
        "coffees": [(f"c{k}", name, "light") for k, name in enumerate(coffees)],
        "grinders": [("mill", "Mill", "lower")],
        "instruments": [("R1", "refractometer", 0.001, 0.01, "%"), ("S1", "scale", 0.1, 0.05, "g")],
        "brews": brews,
        "readings": readings if read else [],
    }
    return {f"{name}.csv": _csv(HEADS[name], rows) for name, rows in tables.items() if rows}


def _csv(head: str, rows: list[tuple[object, ...]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(head.split(","))
    writer.writerows(rows)
    return out.getvalue()


REFERENCES = "".join(
    f'\n[[grind_reference]]\ncoffee_id = "c{k}"\ngrinder_id = "mill"\nmethod = "pour_over"\ngrind_setting = "20"\n'
    for k in range(12)
)
"""Grind zero of every coffee, for lab.toml."""
