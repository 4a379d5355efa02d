"""Checks of the instruments, and the brews that were followed closely: split cups, steeps, traces."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from math import exp

import numpy as np
from demo_brew import Bench, Brewed, Row, fixed
from demo_world import INSTRUMENT


def calibrations(bench: Bench) -> list[Row]:
    """A zero and a reference check of each refractometer every Monday morning; lens-2 drifts upward."""
    rows = []
    for week in range(8):
        at = datetime(2026, 3, 2, 8, 15) + timedelta(weeks=week)
        for lens in ("lens-1", "lens-2"):
            for kind, reference in (("water_zero", 0.0), ("reference", 1.3)):
                seen = reference + bench.offset(lens, at) + float(bench.rng.normal(0, INSTRUMENT[lens].repeatability))
                rows.append(
                    {
                        "instrument_id": lens,
                        "checked_at": f"{at:%Y-%m-%dT%H:%M}",
                        "check_kind": kind,
                        "reference_value": fixed(reference, 2),
                        "observed_value": fixed(seen, 2),
                        "notes": "",
                    }
                )
    return rows


def fractions(brewed: Brewed, rng: np.random.Generator) -> list[Row]:
    """One shot caught in four cups: strength falls from cup to cup, and the cups add up to the brew."""
    shot = brewed.latent
    shares, falling = (0.2, 0.25, 0.27, 0.28), (1.9, 1.25, 0.72, 0.4)
    level = shot.tds_pct / sum(share * fall for share, fall in zip(shares, falling, strict=True))
    rows, start = [], 0.25 * shot.brew_time_s
    for number, (share, fall) in enumerate(zip(shares, falling, strict=True), start=1):
        end = start + share * 0.75 * shot.brew_time_s
        rows.append(
            {
                "brew_id": shot.planned.brew_id,
                "fraction_no": str(number),
                "start_s": fixed(start, 0),
                "end_s": fixed(end, 0),
                "mass_g": fixed(share * shot.beverage_g + float(rng.normal(0, 0.05)), 1),
                "tds_pct": fixed(level * fall + float(rng.normal(0, 0.03)), 2),
            }
        )
        start = end
    return rows


def steeps(brewed: Brewed, rng: np.random.Generator) -> list[Row]:
    """Samples drawn from one press pot: strength rises to its plateau."""
    return [
        {
            "brew_id": brewed.latent.planned.brew_id,
            "t_s": str(t_s),
            "tds_pct": fixed(brewed.latent.tds_pct * (1 - exp(-t_s / 65)) + float(rng.normal(0, 0.01)), 2),
            "withdrawn_g": "1.5",
        }
        for t_s in (20, 40, 60, 90, 120, 180, 240, 360)
    ]


def traces(brewed: Brewed, rng: np.random.Generator) -> list[Row]:
    """The scale and the pressure gauge of one shot, once a second; a channelled one runs away late."""
    shot = brewed.latent
    first_drip, total_s = 0.25 * shot.brew_time_s, round(shot.brew_time_s)
    bend = {"none": 1.15, "slight": 1.35, "severe": 1.7}[shot.channeling]
    rows, before = [], 0.0
    for t_s in range(total_s + 1):
        done = max(0.0, (t_s - first_drip) / (total_s - first_drip))
        mass = shot.beverage_g * done**bend
        pressure = 9 * min(1.0, t_s / 5) - {"none": 0.0, "slight": 0.8, "severe": 2.0}[shot.channeling] * done
        rows.append(
            {
                "brew_id": shot.planned.brew_id,
                "t_s": str(t_s),
                "beverage_g": fixed(mass + float(rng.normal(0, 0.08)), 1),
                "pressure_bar": fixed(max(0.0, pressure + float(rng.normal(0, 0.05))), 1),
                "flow_g_s": fixed(mass - before + float(rng.normal(0, 0.06)), 2),
                "water_temp_c": fixed(shot.temp_c - 2.5 * exp(-t_s / 4) + float(rng.normal(0, 0.1)), 1),
            }
        )
        before = mass
    return rows


def closely_followed(brewed: Sequence[Brewed]) -> tuple[list[Brewed], list[Brewed], list[Brewed]]:
    """Which brews were split into cups, sampled while steeping, and traced (two of each kind of channeling)."""
    shots = [b for b in brewed if b.latent.planned.model.method == "espresso" and not b.latent.planned.practice]
    presses = [b for b in brewed if b.latent.planned.model.method == "immersion"]
    traced = [b for kind in ("none", "slight", "severe") for b in shots if b.latent.channeling == kind]
    per_kind = [[b for b in traced if b.latent.channeling == kind][:2] for kind in ("none", "slight", "severe")]
    return shots[4:7], presses[2:4], [b for kind in per_kind for b in kind]
