"""A lab's own files, by the contract's column names only, and facts and flags worked out apart from the toolkit.

Expected numbers are plain arithmetic from the formulas of the design (two mass balances, bypass, dry basis), written
out here; nothing is taken from the toolkit's own output.
"""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from pipeline.facts import brew_facts, brew_flags
from pipeline.gate import check_lab
from pipeline.lab import load_settings
from pipeline.store.store import Store

COFFEES = "coffee_id,name,roast_level,roasted_on,moisture_pct\nC1,Alpha,light,2026-04-20,2\n"
LOTS = "lot_id,coffee_id,roasted_on,moisture_pct,frozen_days\nL1,C1,2026-04-01,4,10\nL2,C1,,,3\n"
HEADER = (
    "brew_id,brewed_at,coffee_id,lot_id,method,mass_balance,dose_g,water_g,beverage_g,bypass_g,bypass_included,"
    "bypass_before_reading,evaporated_g,void_reason\n"
)
BREWS = {
    "espresso": "C1,,espresso,,20,,40,,,,,",
    "filter": "C1,,pour_over,,15,250,220,,,,,",
    "steep": "C1,,immersion,,15,250,,,,,5,",
    "steep by the other balance": "C1,,immersion,percolation,15,250,215,,,,,",
    "bypass in both": "C1,,batch_brew,,60,800,900,200,yes,yes,,",
    "bypass in the reading": "C1,,batch_brew,,60,800,700,200,no,yes,,",
    "bypass in the beverage": "C1,,batch_brew,,60,800,900,200,yes,no,,",
    "bypass in neither": "C1,,batch_brew,,60,800,700,200,no,no,,",
    "bypass unclear": "C1,,batch_brew,,60,800,700,200,,,,",
    "steep with bypass": "C1,,immersion,,60,800,850,150,true,1,,",
    "steep, cup not weighed": "C1,,immersion,,60,800,,150,false,0,,",
    "boiled, unweighed": "C1,,boiled,,10,200,,,,,,",
    "boiled": "C1,,boiled,,10,200,,,,,12,",
    "lot": "C1,L1,espresso,,20,,40,,,,,",
    "bare lot": "C1,L2,espresso,,20,,40,,,,,",
    "unread": "C1,,espresso,,20,70,40,,,,,",
    "void": "C1,,espresso,,20,40,100,,,,,wrong scale",
}
TDS = dict.fromkeys(BREWS, 1.2) | {"espresso": 10.0, "filter": 1.35, "lot": 10.0, "bare lot": 10.0, "void": 10.0}


def steeped(water_g: float, tds_pct: float, dose_g: float) -> float:
    return 100 * water_g * (tds_pct / 100) / (1 - tds_pct / 100) / dose_g


T0 = 1.2 * 900 / 700  # undiluted, where 200 g of bypass were in the reading of 700 g
STEEP_T0 = 1.2 * 850 / 700
EXPECTED = {
    "espresso": {"dissolved_g": 4.0, "extraction_yield_pct": 20.0, "extraction_yield_dry_pct": 20 / 0.98,
                 "days_off_roast": 11, "beverage_ratio": 2.0, "water_ratio": None, "retained_g": None,
                 "balance_used": "percolation"},
    "filter": {"extraction_yield_pct": 19.8, "water_ratio": 250 / 15, "retained_g": 250 - 220 * 0.9865,
               "retained_ratio": (250 - 220 * 0.9865) / 15},
    "steep": {"extraction_yield_pct": steeped(245, 1.2, 15), "retained_g": None, "balance_used": "immersion"},
    "steep by the other balance": {"extraction_yield_pct": 17.2, "balance_used": "percolation"},
    "bypass in both": {"dissolved_g": 7 * T0, "extraction_yield_pct": 700 * T0 / 60, "cup_tds_pct": 1.2,
                       "beverage_ratio": 700 / 60, "total_water_ratio": 1000 / 60,
                       "retained_g": 800 - 700 * (1 - T0 / 100)},
    "bypass in the reading": {"dissolved_g": 7 * T0, "cup_tds_pct": 1.2, "beverage_ratio": 700 / 60},
    "bypass in the beverage": {"dissolved_g": 8.4, "extraction_yield_pct": 14.0, "cup_tds_pct": 1.2 * 700 / 900,
                               "retained_g": 800 - 700 * 0.988},
    "bypass in neither": {"dissolved_g": 8.4, "cup_tds_pct": 1.2 * 700 / 900},
    "bypass unclear": {"tds_pct": None, "dissolved_g": None, "extraction_yield_pct": None, "cup_tds_pct": None,
                       "n_readings": 1, "total_water_ratio": 1000 / 60},
    "steep with bypass": {"extraction_yield_pct": steeped(800, STEEP_T0, 60), "cup_tds_pct": 1.2,
                          "retained_g": 800 - 700 * (1 - STEEP_T0 / 100)},
    "steep, cup not weighed": {"extraction_yield_pct": steeped(800, 1.2, 60), "cup_tds_pct": None},
    "boiled, unweighed": {"tds_pct": None, "extraction_yield_pct": None},
    "boiled": {"extraction_yield_pct": steeped(188, 1.2, 10)},
    "lot": {"days_off_roast": 20, "extraction_yield_dry_pct": 20 / 0.96},
    "bare lot": {"days_off_roast": 8, "extraction_yield_dry_pct": 20 / 0.98},
    "unread": {"n_readings": 0, "tds_pct": None, "extraction_yield_pct": None, "retained_g": None, "water_ratio": 3.5},
    "void": {"is_void": True, "extraction_yield_pct": None, "in_target": None},
}  # fmt: skip
FLAGGED = {
    ("bypass unclear", "bypass_unclear"),
    ("boiled, unweighed", "evaporation_missing"),
    ("void", "void_breaks_rule"),
}


@pytest.fixture
def taken(lab):
    lab.take("coffees.csv", COFFEES)
    lab.take("lots.csv", LOTS)
    rows = [f'"{name}",2026-05-01T09:{no:02},{cells}\n' for no, (name, cells) in enumerate(BREWS.items())]
    lab.take("brews.csv", HEADER + "".join(rows))
    readings = [f'"{name}",1,{TDS[name]}\n' for name in BREWS if name != "unread"]
    report = lab.take("readings.csv", "brew_id,reading_no,tds_pct\n" + "".join(readings))
    assert report.entries[0].taken_in == len(readings)
    store = Store(lab.dir)
    return store, store.head(), load_settings(lab.dir)


def test_every_kind_of_brew_comes_out_as_on_paper(taken):
    facts = {row["brew_id"]: row for row in brew_facts(*taken).iter_rows(named=True)}
    assert facts.keys() == EXPECTED.keys()
    for name, columns in EXPECTED.items():
        for column, expected in columns.items():
            close = pytest.approx(expected, rel=1e-12) if isinstance(expected, float) else expected
            assert facts[name][column] == close, (name, column)


def test_what_cannot_be_known_is_flagged_and_nothing_else(taken):
    assert set(brew_flags(*taken).select("brew_id", "rule").rows()) == FLAGGED


def test_the_gate_tells_the_newest_brew_in_the_labs_own_time(lab):
    (lab.dir / "lab.toml").write_text('timezone = "Europe/Oslo"\n[gate]\nmax_age_days = 3\n')
    lab.take("brews.csv", HEADER + "b,2026-05-01T09:00," + BREWS["espresso"] + "\n")
    report = check_lab(lab.dir, now=datetime(2026, 5, 2, 9, tzinfo=ZoneInfo("Europe/Oslo")))
    fresh = next(check for check in report.checks if check.name == "fresh_enough")
    assert fresh.sentence == "The newest brew (2026-05-01 09:00+02:00) is 1.0 days old; at most 3 days allowed."
