"""A gauge study: ten brews, each read three times by three people on one refractometer, in random order."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from math import hypot, sqrt

import numpy as np
from demo_brew import Bench, Row, fixed
from demo_plant import Tables
from demo_world import INSTRUMENT, OPERATORS

BREWS, READINGS = "2026-04-gauge-brews.csv", "2026-04-gauge-readings.csv"
STUDY, LENS, READERS, ROUNDS = "lens-gauge", "lens-1", OPERATORS[:3], 3
READER_SD, INTERACTION_SD = 0.012, 0.004
"""How far readers differ on all brews alike, and from brew to brew, in %."""
BEGIN = datetime(2026, 4, 22, 13, 0)
RETAINED, RETAINED_SD, YIELD_PCT = 2.12, 0.03, 20.4


@dataclass(frozen=True)
class GaugeBrew:
    """A brew of the study and its true strength in %."""

    row: Row
    tds_pct: float


def _brewed(number: int, bench: Bench, rng: np.random.Generator) -> GaugeBrew:
    """One brew with a valve cone; more or less water for the same dose spreads the strengths."""
    scale = INSTRUMENT["scale-bar"]
    dose = 15.0 + float(rng.normal(0, 0.08))
    water = 205.0 + 7.5 * number + float(rng.normal(0, 1.5))
    dissolved = dose * (YIELD_PCT + float(rng.normal(0, 0.3))) / 100
    beverage = water - RETAINED * dose * (1 + float(rng.normal(0, RETAINED_SD))) + dissolved

    def weighed(true_g: float) -> str:
        return fixed(true_g + bench.bias[scale.instrument_id] + float(rng.normal(0, scale.repeatability)), 1)

    at = BEGIN + timedelta(minutes=5 * (number - 1))
    row = {
        "brew_id": f"GS-{number:02d}", "study_id": STUDY, "brewed_at": f"{at:%Y-%m-%dT%H:%M}", "operator": "Jonsa",
        "session_id": "gauge-0422", "run_order": str(number), "coffee_id": "ostrin", "method": "steep_release",
        "brewer": "valve-cone", "water_id": "shop-tap", "scale_id": scale.instrument_id, "dose_g": weighed(dose),
        "water_g": weighed(water), "beverage_g": weighed(beverage), "water_temp_c": fixed(93 + rng.normal(0, 0.3), 1),
        "brew_time_s": fixed(180 + rng.normal(0, 3), 0),
    }  # fmt: skip
    return GaugeBrew(row, 100 * dissolved / beverage)


def put_gauge_study(tables: Tables, bench: Bench, rng: np.random.Generator) -> dict[str, object]:
    """The brews and their readings in the order in which they were taken; what is true of the gauge, in %.

    Samples are held warm and stirred, so that one sample serves all; a display step widens repeatability by its own.
    """
    brews = [_brewed(number, bench, rng) for number in range(1, 11)]
    of_reader = dict(zip(READERS, rng.normal(0, READER_SD, len(READERS)), strict=True))
    of_both = {(brew.row["brew_id"], reader): rng.normal(0, INTERACTION_SD) for brew in brews for reader in READERS}
    lens, step = INSTRUMENT[LENS], INSTRUMENT[LENS].resolution
    for brew in brews:
        tables.put(BREWS, brew.row)
    taken = dict.fromkeys((brew.row["brew_id"] for brew in brews), 0)
    at = BEGIN + timedelta(hours=1)
    for _ in range(ROUNDS):
        pairs = [(brew, reader) for brew in brews for reader in READERS]
        for place in rng.permutation(len(pairs)):
            brew, reader = pairs[place]
            brew_id = brew.row["brew_id"]
            taken[brew_id] += 1
            offset = bench.offset(LENS, at) + of_reader[reader] + of_both[brew_id, reader]
            tables.put(READINGS, {
                "brew_id": brew_id, "instrument_id": LENS, "sample_no": "1", "reading_no": str(taken[brew_id]),
                "tds_pct": fixed(brew.tds_pct + offset + float(rng.normal(0, lens.repeatability)), 2),
                "sample_temp_c": fixed(22 + float(rng.normal(0, 0.4)), 1), "sample_filtered": "no", "read_by": reader,
                "read_at": f"{at:%Y-%m-%dT%H:%M}",
            })  # fmt: skip
            at += timedelta(minutes=1)
        at += timedelta(minutes=10)
    return {
        "study_id": STUDY,
        "instrument_id": LENS,
        "n_brews": len(brews),
        "readers": list(READERS),
        "repeatability_pct": round(hypot(lens.repeatability, step / sqrt(12)), 6),
        "reproducibility_pct": round(hypot(READER_SD, INTERACTION_SD), 6),
    }
