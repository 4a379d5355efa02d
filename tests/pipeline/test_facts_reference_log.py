"""The reference brews of `tests/reference/coffee`, written as a lab's own one-sheet log, ingested, and read back."""

from pathlib import Path

import polars as pl
import pytest

from pipeline.facts import brew_facts
from pipeline.lab import load_settings
from pipeline.store.store import Store

REFERENCE = Path(__file__).parents[1] / "reference" / "coffee"
PERCOLATION = pl.read_csv(REFERENCE / "percolation.csv").to_dicts()
IMMERSION = pl.read_csv(REFERENCE / "immersion.csv").to_dicts()
DOSE_G = 15


def read_back(lab, header, rows):
    lines = [";".join("" if cell is None else str(cell) for cell in row) for row in rows]
    report = lab.take("log.csv", "\n".join([header, *lines]) + "\n")
    assert [(entry.taken_in, entry.set_aside) for entry in report.entries] == [(len(rows), 0)]
    store = Store(lab.dir)
    return brew_facts(store, store.head(), load_settings(lab.dir)).sort("line")


def test_percolation_brews(lab):
    methods = ["batch_brew" if brew["water_g"] else "espresso" for brew in PERCOLATION]
    facts = read_back(
        lab,
        "Date;Coffee;Method;Dose (g);Water (g);Beverage (g);TDS (%)",
        [
            (
                f"2026-03-{day:02d}",
                "house",
                method,
                brew["dose_g"],
                brew["water_g"],
                brew["beverage_g"],
                brew["tds_pct"],
            )
            for day, (method, brew) in enumerate(zip(methods, PERCOLATION, strict=True), 1)
        ],
    )

    assert facts["balance_used"].to_list() == ["percolation"] * len(PERCOLATION)
    assert facts["extraction_yield_pct"].to_list() == pytest.approx(
        [brew["extraction_yield_pct"] for brew in PERCOLATION], rel=1e-9
    )


def test_immersion_brews_and_what_the_other_balance_would_have_said(lab):
    # Poured off at 2 g of liquid kept per gram, as check-values.md 1.3 does for its 18.674 %.
    poured = [DOSE_G * (brew["water_ratio"] + brew["extraction_yield_pct"] / 100 - 2) for brew in IMMERSION]
    facts = read_back(
        lab,
        "Date;Coffee;Method;Dose (g);Water (g);Beverage (g);TDS (%)",
        [
            (
                f"2026-03-{day:02d}",
                "house",
                "immersion",
                DOSE_G,
                DOSE_G * brew["water_ratio"],
                beverage,
                brew["tds_pct"],
            )
            for day, (brew, beverage) in enumerate(zip(IMMERSION, poured, strict=True), 1)
        ],
    )

    assert facts["balance_used"].to_list() == ["immersion"] * len(IMMERSION)
    assert facts["extraction_yield_pct"].to_list() == pytest.approx(
        [brew["extraction_yield_pct"] for brew in IMMERSION], abs=21 * 5e-7
    )
    at_15 = facts.row(3, named=True)
    wrong = at_15["beverage_g"] * at_15["tds_pct"] / at_15["dose_g"]
    assert wrong == pytest.approx(18.674, abs=5e-4)
    assert at_15["extraction_yield_pct"] - wrong == pytest.approx(2.83, abs=5e-3)
