"""Published and worked brews written as a lab's own log, ingested, and their yields reproduced.

Sources stand in `tests/reference/coffee/README.md`; the worked values marked so are common practice, no source.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from pipeline.facts import brew_facts
from pipeline.lab import load_settings
from pipeline.store.store import Store

HERE = Path(__file__).parent / "coffee"
COMMON_PRACTICE_NO_SOURCE = [
    ("40 g at 10 % from 20 g", "20", "40", "10", 4.0, 20.0),
    ("25 g at 12 % from 20 g", "20", "25", "12", 3.0, 15.0),
]


def facts_of(lab) -> dict[str, dict[str, object]]:
    store = Store(lab.dir)
    facts = brew_facts(store, store.head(), load_settings(lab.dir))
    return {row["brew_id"]: row for row in facts.iter_rows(named=True)}


def test_worked_espresso_values(lab):
    rows = "".join(
        f"2026-04-03 09:{minute:02};{name};Sunrise;espresso;{dose};{beverage};{tds}\n"
        for minute, (name, dose, beverage, tds, *_) in enumerate(COMMON_PRACTICE_NO_SOURCE, 10)
    )
    header = "Date;Recipe;Coffee;Method;Dose (g);Beverage (g);TDS (%)\n"
    assert lab.take("log.csv", header + rows).entries[0].taken_in == 2

    by_recipe = {row["recipe_id"]: row for row in facts_of(lab).values()}
    for name, *_, dissolved_g, yield_pct in COMMON_PRACTICE_NO_SOURCE:
        assert by_recipe[name]["dissolved_g"] == pytest.approx(dissolved_g, rel=1e-12)
        assert by_recipe[name]["extraction_yield_pct"] == pytest.approx(yield_pct, rel=1e-12)


def test_percolation_identities(lab):
    with (HERE / "percolation.csv").open() as file:
        cases = [row for row in csv.DictReader(file) if row["water_g"]]
    header = "Brew id;Date;Coffee;Method;Dose (g);Water (g);Beverage (g);TDS (%)\n"
    rows = "".join(
        f"p{n};2026-04-03 09:{n:02};Sunrise;batch_brew;{c['dose_g']};{c['water_g']};{c['beverage_g']};{c['tds_pct']}\n"
        for n, c in enumerate(cases)
    )
    assert lab.take("log.csv", header + rows).entries[0].taken_in == len(cases) > 0

    facts = facts_of(lab)
    for number, case in enumerate(cases):
        found = facts[f"p{number}"]
        # The strengths are printed to 10 decimals, near 1.3: nine digits of the yield are safe.
        assert found["extraction_yield_pct"] == pytest.approx(float(case["extraction_yield_pct"]), rel=1e-9)
        assert found["balance_used"] == "percolation"


def test_the_wrong_mass_balance_trap(lab):
    """Liang, Chan and Ristenpart 2021 (doi 10.1038/s41598-021-85787-1): 15 g, 225 g, 1.413079 % is 21.5 %."""
    header = "brew_id,brewed_at,coffee_id,method,dose_g,water_g,beverage_g,tds_pct\n"
    text = header + "".join(
        f"{method},2026-04-03T09:10:00Z,sunrise,{method},15,225,198.225,1.413079\n"
        for method in ("immersion", "pour_over")
    )
    assert lab.take("brews.csv", text).entries[0].taken_in == 2

    facts = facts_of(lab)
    # Half a unit of the last printed digit of 1.413079 %, times d(yield)/d(strength) = 15 / (1 - t)^2 = 15.43 g/g.
    assert facts["immersion"]["extraction_yield_pct"] == pytest.approx(21.5, abs=5e-7 * 15.43)
    assert facts["pour_over"]["extraction_yield_pct"] == pytest.approx(18.674, abs=5e-4)


def test_filter_and_espresso_readings_are_eightfold_apart(lab):
    """Common practice, no source: 1.25 % and 10 %."""
    header = "brew_id,brewed_at,coffee_id,method,dose_g,beverage_g,tds_pct\n"
    rows = "f,2026-04-03T09:10:00Z,sunrise,pour_over,15,225,1.25\ne,2026-04-03T09:11:00Z,sunrise,espresso,18,36,10\n"
    lab.take("brews.csv", header + rows)

    facts = facts_of(lab)
    assert facts["e"]["tds_pct"] / facts["f"]["tds_pct"] == 8.0
