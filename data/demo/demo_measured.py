"""How good the lab's numbers are: samples read on both refractometers, dried in an oven, and wet grounds weighed.

Every part draws from a generator of its own, so that the draws behind the brews and the other parts stay as they were.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import fmean

import numpy as np
from demo_brew import Bench, Brewed, fixed
from demo_plant import Tables
from demo_soft import APRIL
from demo_world import FOR_DRYING, INSTRUMENT, VOLATILE_LOSS_PCT

SECOND_LENS = "2026-03-second-lens.csv"
COMPARED = {"espresso": 12, "pour_over": 12, "immersion": 7, "cold_brew": 5}
"""How many March brews of a method were read on both refractometers."""
DRIED = {"espresso": 3, "pour_over": 4, "immersion": 2, "cold_brew": 2}
FINE_SCALE, OVEN = FOR_DRYING
POURED_G, DISH_SD = 15.0, 0.0015
"""A sample in a dish, and how far dishes of one sample scatter (relative)."""
LOST_G = {"pour_over": (1.9, 0.4), "espresso": (0.15, 0.08)}
"""Vapour and drops that never reach the scale: mean and standard deviation in g, by method."""
SPENT_FROM = "2026-04-01"


@dataclass(frozen=True)
class Compared:
    """A brew that both refractometers read, and how much more lens-2 reads than lens-1 at that time, in %."""

    brewed: Brewed
    gap_pct: float


def _espresso(brewed: Brewed) -> bool:
    return brewed.latent.planned.model.method == "espresso"


def scatter_of(instrument_id: str, brewed: Brewed) -> float:
    """Standard deviation of one reading of a drop, in %."""
    lens = INSTRUMENT[instrument_id]
    return lens.repeatability_espresso if _espresso(brewed) else lens.repeatability


def on_both(brewed: Sequence[Brewed], void: frozenset[str], bench: Bench) -> list[Compared]:
    """March brews read on lens-1, evenly over the month, that lens-2 read as well."""
    found = []
    for method, wanted in COMPARED.items():
        fit = [
            brew
            for brew in brewed
            if brew.latent.planned.model.method == method
            and brew.latent.planned.instrument_id == "lens-1"
            and brew.latent.planned.at.month == 3
            and brew.row["brew_id"] not in void
        ]
        chosen = [fit[int(place)] for place in np.linspace(0, len(fit) - 1, wanted)]
        for brew in chosen:
            at = brew.latent.planned.at
            found.append(Compared(brew, bench.offset("lens-2", at) - bench.offset("lens-1", at)))
    return found


def put_second_lens(tables: Tables, compared: Sequence[Compared], bench: Bench, rng: np.random.Generator) -> None:
    """Two readings on lens-2 of every sample that lens-1 read."""
    for one in compared:
        brew = one.brewed
        for sample, drop in enumerate(brew.drops, start=1):
            for reading in (1, 2):
                scatter = float(rng.normal(0, scatter_of("lens-2", brew)))
                seen = drop + bench.offset("lens-2", brew.latent.planned.at) + scatter
                tables.put(SECOND_LENS, {
                    "brew_id": brew.row["brew_id"], "instrument_id": "lens-2", "sample_no": str(sample),
                    "reading_no": str(reading), "tds_pct": fixed(seen, 2),
                    "sample_temp_c": fixed(22 + float(rng.normal(0, 0.8)), 1),
                    "sample_filtered": "yes" if _espresso(brew) else "no",
                })  # fmt: skip


def gap_truth(compared: Sequence[Compared]) -> dict[str, object]:
    """What is true of the gap: its mean, and the spread of gaps of two single readings, in %.

    The spread holds lens-2's drift over the month, both readings' scatter, and both displays' steps.
    """
    gaps = [one.gap_pct for one in compared]
    scatter = fmean(scatter_of("lens-1", one.brewed) ** 2 + scatter_of("lens-2", one.brewed) ** 2 for one in compared)
    steps = sum(INSTRUMENT[lens].resolution ** 2 / 12 for lens in ("lens-1", "lens-2"))
    drift = fmean((gap - fmean(gaps)) ** 2 for gap in gaps)
    return {
        "n_brews": len(gaps),
        "mean_pct": round(fmean(gaps), 6),
        "sd_of_single_pct": round(sqrt(drift + scatter + steps), 6),
    }


def put_dryings(tables: Tables, compared: Sequence[Compared], rng: np.random.Generator) -> dict[str, float]:
    """Two dishes each of some compared brews and a blank a run, weighed three times; true strengths by brew."""
    truth = {}
    for method, wanted in DRIED.items():
        of_method = [one.brewed for one in compared if one.brewed.latent.planned.model.method == method]
        for brew in of_method[:wanted]:
            truth[brew.row["brew_id"]] = round(brew.drops[0], 6)
            for dish in (1, 2):
                poured = POURED_G + float(rng.normal(0, 0.2))
                left = (
                    poured * brew.drops[0] / 100 * (1 - VOLATILE_LOSS_PCT / 100) * (1 + float(rng.normal(0, DISH_SD)))
                )
                _put_dish(tables, f"oven-{method}", brew.row["brew_id"], dish, poured, left, rng)
        for dish in (1, 2):
            _put_dish(tables, f"oven-{method}", "", dish, 0.0, 0.0, rng)
    return truth


def _put_dish(
    tables: Tables, run: str, brew_id: str, dish: int, poured_g: float, left_g: float, rng: np.random.Generator
) -> None:
    def seen(true_g: float) -> str:
        return fixed(true_g + float(rng.normal(0, FINE_SCALE.repeatability)), 3)

    empty_g = float(rng.uniform(30, 38))
    dish_g, full_g = seen(empty_g), seen(empty_g + poured_g)
    for weighing, still_wet_g in enumerate((0.004, 0.0003, 0.0), start=1):
        tables.put("dryings.csv", {
            "drying_id": run, "brew_id": brew_id, "instrument_id": OVEN.instrument_id,
            "sample_no": "1" if brew_id else "", "replicate": str(dish), "weighing_no": str(weighing),
            "is_blank": "" if brew_id else "yes", "scale_id": FINE_SCALE.instrument_id, "dish_g": dish_g,
            "dish_plus_sample_g": full_g if brew_id else "",
            "dish_plus_dry_g": seen(empty_g + left_g + (still_wet_g if brew_id else 0.0)),
            "dry_temp_c": "105", "dried_at": "2026-03-31",
        })  # fmt: skip


def put_spent_grounds(
    tables: Tables, brewed: Sequence[Brewed], bench: Bench, rng: np.random.Generator
) -> dict[str, object]:
    """Wet grounds of April's pour overs and of two espresso sessions; one weight with its first digits swapped."""
    rows = {row["brew_id"]: row for row in tables.rows[APRIL] if row["brewed_at"] >= SPENT_FROM}
    lost: dict[str, list[float]] = {method: [] for method in LOST_G}
    planted = ""
    for brew in brewed:
        made, method = brew.latent, brew.latent.planned.model.method
        row = rows.get(brew.row["brew_id"])
        if row is None or method not in LOST_G:
            continue
        mean_g, sd_g = LOST_G[method]
        lost_g = max(0.0, float(rng.normal(mean_g, sd_g)))
        wet_g = made.dose_g + made.water_g - made.evaporated_g - made.beverage_g - lost_g
        scale = INSTRUMENT[made.planned.scale_id]
        row["spent_wet_g"] = fixed(
            wet_g + bench.bias[scale.instrument_id] + float(rng.normal(0, scale.repeatability)), 1
        )
        first, second = row["spent_wet_g"][:2]
        if not planted and method == "pour_over" and len(lost[method]) >= 9 and int(second) - int(first) >= 2:
            row["spent_wet_g"], planted = second + first + row["spent_wet_g"][2:], row["brew_id"]
            tables.plant(row, "spent_wet_g", "likely_weighing_error", "two digits swapped", severity="soft")
            continue
        lost[method].append(lost_g)
    return {method: {"n_brews": len(values), "lost_g": round(fmean(values), 4)} for method, values in lost.items()} | {
        "weighing_error": planted
    }
