"""An invented lab that has everything the page on measurement can speak of; its files as rows."""

from __future__ import annotations

import csv
import io
from datetime import datetime, timedelta

import numpy as np

START = datetime(2026, 3, 2, 8)
READERS = ("Ines", "Jonas", "Mirek")
NAMES = {"R1": "R1", "R2": "R2", "S1": "S1", "oven": "oven"}
BOTH, CLOSED, STUDIED, DRIED = 12, 14, 6, 3
"""Brews read on both refractometers, with their grounds weighed, in the gauge study, dried."""
WRONG_WEIGHT = "PO-005"
GAP_PCT = 0.03
"""R2 reads this much higher than R1."""
HEADS = {
    "coffees": "coffee_id,name,roast_level",
    "instruments": "instrument_id,kind,resolution,standard_uncertainty,unit",
    "brews": "brew_id,recipe_id,study_id,brewed_at,method,coffee_id,scale_id,dose_g,water_g,beverage_g,spent_wet_g",
    "readings": "brew_id,instrument_id,sample_no,reading_no,tds_pct,read_by",
    "calibrations": "instrument_id,checked_at,check_kind,reference_value,observed_value",
    "dryings": "drying_id,brew_id,instrument_id,sample_no,replicate,weighing_no,scale_id,dish_g,dish_plus_sample_g,"
    "dish_plus_dry_g,dried_at",
}


def files(*, seed: int = 20260501, names: dict[str, str] | None = None, prefix: str = "") -> dict[str, str]:
    """Files by name; `names` replaces some of `NAMES`, `prefix` stands before every brew's id and reader's name."""
    called, rng = NAMES | (names or {}), np.random.default_rng(seed)
    brews, readings = [], []
    for k in range(24):
        _pour_over(rng, k, brews, readings)
    for k in range(16):
        _espresso(rng, k, brews, readings)
    for k in range(STUDIED):
        _studied(rng, k, brews, readings)
    strengths = {brew[0]: np.mean([row[4] for row in readings if row[:2] == (brew[0], "R1")]) for brew in brews[:DRIED]}
    named = [(prefix + brew[0], *brew[1:6], called["S1"], *brew[6:]) for brew in brews]
    read = [(prefix + row[0], called[row[1]], *row[2:4], f"{row[4]:.2f}", prefix + row[5]) for row in readings]
    tables = {
        "coffees": [("quiet", "Quiet Hill", "light")],
        "instruments": [
            (called["R1"], "refractometer", 0.01, 0.015, "%"),
            (called["R2"], "refractometer", 0.01, 0.02, "%"),
            (called["S1"], "scale", 0.1, 0.05, "g"),
            ("fine", "scale", 0.0001, 0.0002, "g"),
            (called["oven"], "oven", 1, "", "C"),
        ],
        "brews": named,
        "readings": read,
        "calibrations": _checks(rng, called),
        "dryings": [(row[0], prefix + row[1], called["oven"], *row[2:]) for row in _dishes(rng, strengths)],
    }
    return {f"{name}.csv": _csv(HEADS[name], rows) for name, rows in tables.items()}


def _csv(head, rows):
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(head.split(","))
    writer.writerows(rows)
    return out.getvalue()


def _at(**more):
    return f"{START + timedelta(**more):%Y-%m-%dT%H:%M}"


def _pour_over(rng, k, brews, readings):
    brew_id = f"PO-{k + 1:03}"
    dose, water, kept = 15 + 0.1 * rng.integers(-2, 3), 250 + rng.normal(0, 1), 2.05 + rng.normal(0, 0.05)
    beverage = water - kept * dose
    tds = (20 + 0.6 * (k % 4) + rng.normal(0, 0.3)) * dose / beverage
    # What went in is in the cup or in the wet grounds, but for about 1.5 g of vapour and drops.
    spent = dose + water - beverage - 1.5 + rng.normal(0, 0.3) + (20 if brew_id == WRONG_WEIGHT else 0)
    weights = [f"{value:.1f}" for value in (dose, water, beverage)]
    grounds = f"{spent:.1f}" if k < CLOSED else ""
    brews.append((brew_id, f"map-{k % 4}", "", _at(days=k, hours=1), "pour_over", "quiet", *weights, grounds))
    readings += _readings(rng, brew_id, tds, on=("R1", "R2") if k < BOTH else ("R1",), sd=0.008)


def _espresso(rng, k, brews, readings):
    brew_id, beverage = f"ES-{k + 1:03}", 36 + rng.normal(0, 1)
    tds = (19.5 + 0.5 * (k % 4) + rng.normal(0, 0.3)) * 18 / beverage
    weights = (18.0, 60.0, f"{beverage:.1f}", "")
    brews.append((brew_id, f"shot-{k % 4}", "", _at(days=k, hours=3), "espresso", "quiet", *weights))
    readings += _readings(rng, brew_id, tds, on=("R2",), sd=0.03, samples=2 if k < 5 else 1)


def _studied(rng, k, brews, readings):
    """One brew of the gauge study: three readers, three readings each."""
    brew_id, off = f"GS-{k + 1}", dict(zip(READERS, (0.0, 0.012, -0.006), strict=True))
    weights = (15.0, 250.0, 219.0, "")
    brews.append((brew_id, "", "readers", _at(days=30, minutes=9 * k), "pour_over", "quiet", *weights))
    readings += [
        (brew_id, "R1", 1, 3 * r + n + 1, 1.15 + 0.06 * k + off[who] + rng.normal(0, 0.006), who)
        for r, who in enumerate(READERS)
        for n in range(3)
    ]


def _readings(rng, brew_id, tds, *, on, sd, samples=1):
    rows = []
    for instrument in on:
        shift = GAP_PCT if instrument == "R2" else 0.0
        for sample in range(1, samples + 1):
            drop = rng.normal(0, sd)
            rows += [(brew_id, instrument, sample, n, tds + shift + drop + rng.normal(0, sd), "") for n in (1, 2)]
    return rows


def _checks(rng, called):
    """Zero and reference every week; the reference of R2 fails in the fifth week and passes again in the sixth."""
    rows = []
    for week in range(10):
        for name in ("R1", "R2"):
            off = 0.2 if (name, week) == ("R2", 4) else 0.0
            zero, reference = (round(rng.normal(0, 0.006), 2) for _ in range(2))
            at = _at(weeks=week)
            rows.append((called[name], at, "water_zero", "0.00", f"{zero:.2f}"))
            rows.append((called[name], at, "reference", "1.30", f"{1.30 + reference + off:.2f}"))
    return rows


def _dishes(rng, strengths):
    """Two dishes a brew, two weighings each, about 0.02 % above R1; the oven's name is left to the caller."""
    rows = []
    for brew_id, tds in strengths.items():
        for dish in (1, 2):
            empty, sample = 20 + rng.random(), 10 + rng.normal(0, 0.1)
            left = (tds + 0.02 + rng.normal(0, 0.004)) / 100 * sample
            for weighing, more in ((1, 0.0003), (2, 0.0)):
                weights = [f"{value:.4f}" for value in (empty, empty + sample, empty + left + more)]
                rows.append(("d1", brew_id, 1, dish, weighing, "fine", *weights, "2026-04-20T10:00"))
    return rows
