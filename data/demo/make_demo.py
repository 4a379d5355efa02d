"""Write the demo lab: `python data/demo/make_demo.py [--out FOLDER]`.

The same bytes come out every time. The seed is a date, chosen before anything was estimated, and stays.
"""

from __future__ import annotations

import argparse
import json
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from demo_brew import Bench, Brewed, Row
from demo_files import write_files
from demo_gauge import BREWS as GAUGE_BREWS
from demo_gauge import put_gauge_study
from demo_hard import BREWS, READINGS, plant_hard
from demo_log import put_log
from demo_measured import gap_truth, on_both, put_dryings, put_second_lens, put_spent_grounds
from demo_plan import plan
from demo_plant import Tables
from demo_register import lab_toml, put_registers
from demo_series import calibrations, closely_followed, fractions, steeps, traces
from demo_soft import APRIL, APRIL_READINGS, plant_soft
from demo_taste import choices, cupping, quick_scales
from demo_truth import truth_table
from demo_world import SEED

CORRECTIONS = "2026-05-04-brews-corrections.csv"
VOID = {"PO-033": "wrong coffee in the hopper", "ES-041": "cup of another shot weighed"}
CHANGED = {"ES-046": "burrs cleaned", "PO-051": "new filter papers", "ES-064": "new basket"}


def put_brews(tables: Tables, brewed: Sequence[Brewed]) -> None:
    """March brews and readings to text files, April's to the workbook, with the remarks people made."""
    for brew in brewed:
        if brew.latent.planned.practice:
            continue
        march = brew.latent.planned.at.month == 3
        brew_id = brew.row["brew_id"]
        row = tables.put(BREWS if march else APRIL, brew.row)
        row["void_reason"], row["changed"] = VOID.get(brew_id, ""), CHANGED.get(brew_id, "")
        if brew_id == "PO-005":
            row["notes"] = "second pour late,\nbed looked flat"
        if not march and brew_id.startswith("ES"):
            row["mood"] = "fine"
        for reading in brew.readings:
            tables.put(READINGS if march else APRIL_READINGS, reading)


def put_corrections(tables: Tables) -> dict[str, object]:
    """A later file: one brew's temperature put right, five brews sent again unchanged, one row pasted twice in March.

    Returns the truth table's entries about them.
    """
    march = tables.rows[BREWS]
    wrong = next(row for row in march if row["method"] == "pour_over" and row["water_temp_c"].startswith("93"))
    right = wrong["water_temp_c"]
    tables.put(CORRECTIONS, dict(wrong))
    wrong["water_temp_c"] = f"39{right[2:]}"
    sent_again = [row for row in march if row["method"] == "batch_brew"][:5]
    for row in sent_again:
        tables.put(CORRECTIONS, dict(row))
    pasted = sent_again[-1]
    tables.put(BREWS, dict(pasted), after=pasted)
    return {
        "revised": [
            {"file": CORRECTIONS, "brew_id": wrong["brew_id"], "column": "water_temp_c",
             "was": wrong["water_temp_c"], "now": right}
        ],
        "already_known": {CORRECTIONS: len(sent_again), BREWS: 1},
    }  # fmt: skip


def put_tasting_and_series(tables: Tables, brewed: Sequence[Brewed], bench: Bench) -> None:
    """Scores, difference tests, instrument checks, split cups, steeps and traces."""
    rng = bench.rng
    key, scores = cupping(brewed, rng)
    split, sampled, traced = closely_followed(brewed)
    written: dict[str, list[Row]] = {
        "tastings.csv": quick_scales(brewed, rng) + scores,
        "servings.csv": key,
        "choices.csv": choices(brewed, rng),
        "calibrations.csv": calibrations(bench),
        "fractions.csv": [row for brew in split for row in fractions(brew, rng)],
        "steeps.csv": [row for brew in sampled for row in steeps(brew, rng)],
        "traces.csv": [row for brew in traced for row in traces(brew, rng)],
    }
    for file, rows in written.items():
        for row in rows:
            tables.put(file, row)


def make(out: Path) -> None:
    """Write files/, lab/lab.toml and truth.json below `out`."""
    bench = Bench(np.random.default_rng(SEED))
    brewed = [bench.brew(planned) for planned in plan(bench.rng)]
    tables = Tables()
    put_registers(tables)
    put_brews(tables, brewed)
    put_tasting_and_series(tables, brewed, bench)
    extra = put_corrections(tables)
    put_log(tables, [brew for brew in brewed if brew.latent.planned.practice])
    chance = [np.random.default_rng([SEED, 3, part]) for part in range(4)]
    compared = on_both(brewed, frozenset(VOID), bench)
    put_second_lens(tables, compared, bench, chance[0])
    measured: dict[str, object] = {"lens_2_less_lens_1": gap_truth(compared)}
    measured["gauge"] = put_gauge_study(tables, bench, chance[1])
    measured["dried_strength_pct"] = put_dryings(tables, compared, chance[2])
    plant_hard(tables)
    plant_soft(tables)
    measured["unaccounted_for"] = put_spent_grounds(tables, brewed, bench, chance[3])
    of_gauge_study = Counter(row["method"] for row in tables.rows[GAUGE_BREWS])
    where = write_files(out / "files", tables.rows)
    truth = truth_table(
        brewed, frozenset(VOID), bench, tables.plants, where, {**extra, "measured": measured}, of_gauge_study
    )
    (out / "lab").mkdir(parents=True, exist_ok=True)
    (out / "lab" / "lab.toml").write_text(lab_toml(), encoding="utf-8", newline="\n")
    text = json.dumps(truth, indent=1, ensure_ascii=False)
    (out / "truth.json").write_text(text + "\n", encoding="utf-8", newline="\n")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description="Write the invented demo lab.")
    parser.add_argument("--out", type=Path, default=Path(__file__).parent, help="folder to write to (default: here)")
    make(parser.parse_args().out)
