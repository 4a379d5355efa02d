"""Rows of a run sheet: named on, purged where the grinder holds another grind, masses from ratios."""

from __future__ import annotations

import sys
from itertools import pairwise
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from plans import GRIND, HARD_TEMP, RATIO, TEMP, planned

from analysis.planning.dialled import Dial
from analysis.planning.sheet import Recipe, sheet_rows
from schemas.contracts import TABLES
from schemas.problem import ProblemError
from schemas.run_sheet import PLANNED, PURGE

DIAL = Dial("bench", "lower", None, {"ostrin": 7.5, "calmuth": 8.25})
DOSE = Recipe({"dose_g": 18.0}, {"scale_id": "s-1"})


def rows_of(plan, recipe=DOSE, dial: Dial | None = DIAL, **more):
    return sheet_rows(plan, recipe, dial, study_id="june", **more)


def test_every_cell_is_a_column_of_the_brews_table() -> None:
    rows = rows_of(planned(GRIND, TEMP, RATIO))

    assert {name for row in rows for name in row.cells} <= set(TABLES["brews"].column_names)
    assert set(PLANNED) <= set(TABLES["brews"].column_names)
    assert set(PLANNED.values()) <= set(TABLES["brews"].column_names)


def test_a_brew_says_what_to_set_and_weigh() -> None:
    rows = [row.cells for row in rows_of(planned(GRIND, TEMP, RATIO)) if not row.purge]

    run = planned(GRIND, TEMP, RATIO).runs[0]
    zero = DIAL.zeros[run.coffee_id]
    assert rows[0]["planned_grind_setting"] == f"{zero - run.settings[0]:g}"
    assert rows[0]["planned_water_temp_c"] == run.settings[1]
    assert rows[0]["planned_beverage_g"] == pytest.approx(18 * run.settings[2], abs=0.05)
    assert (rows[0]["planned_dose_g"], rows[0]["scale_id"], rows[0]["study_id"]) == (18.0, "s-1", "june")
    # Set, not weighed: written as done already. Weighed: left to type.
    assert rows[0]["grind_setting"] == rows[0]["planned_grind_setting"]
    assert rows[0]["water_temp_c"] == rows[0]["planned_water_temp_c"]
    assert not {"dose_g", "beverage_g", "brewed_at"} & set(rows[0])


def test_names_and_sessions_count_on_from_what_there_is() -> None:
    rows = [row.cells for row in rows_of(planned(GRIND, sessions=2), first_brew=98, first_session=3) if not row.purge]

    assert [row["brew_id"] for row in rows] == ["june-098", "june-099", "june-100", "june-101"]
    assert [row["session_id"] for row in rows] == ["june-s3", "june-s3", "june-s4", "june-s4"]
    assert [row["run_order"] for row in rows] == [1, 2, 1, 2]


def test_a_purge_stands_before_every_change_of_coffee_or_grind_and_nowhere_else() -> None:
    rows = rows_of(planned(GRIND, TEMP, replicates=2, sessions=2), purges=1)

    brews = [row.cells for row in rows if not row.purge]
    keys = [(row["session_id"], row["coffee_id"], row["grind_setting"]) for row in brews]
    changes = 1 + sum(a != b for a, b in pairwise(keys))
    purges = [row for row in rows if row.purge]
    assert len(purges) == changes
    for before, after in pairwise(rows):
        if before.purge:
            assert not after.purge
            assert before.cells["planned_grind_setting"] == after.cells["planned_grind_setting"]
            assert str(before.cells["brew_id"]).startswith(str(after.cells["brew_id"]))
    assert all(row.cells["void_reason"] == PURGE and row.cells["discarded"] is True for row in purges)
    assert len({row.cells["brew_id"] for row in rows}) == len(rows)


def test_purges_may_be_more_or_none() -> None:
    plan = planned(GRIND)

    assert sum(row.purge for row in rows_of(plan, purges=2)) == 2 * sum(row.purge for row in rows_of(plan))
    assert not any(row.purge for row in rows_of(plan, purges=0))
    assert not any(row.purge for row in rows_of(planned(TEMP), dial=None))


def test_whole_plots_are_the_blocks() -> None:
    rows = [row.cells for row in rows_of(planned(GRIND, HARD_TEMP, sessions=2, replicates=2)) if not row.purge]

    assert len({row["block"] for row in rows}) == 4
    assert all(str(row["block"]).startswith(str(row["session_id"])) for row in rows)


@pytest.mark.parametrize(
    ("recipe", "dial", "said"),
    [
        (Recipe(), DIAL, "A ratio needs a dose"),
        (Recipe({"dose_g": 18.0, "beverage_ratio": 2.0}), DIAL, "beverage_ratio is varied and held still"),
        (DOSE, None, "name the grinder with --grinder ID"),
    ],
)
def test_a_recipe_that_does_not_fit_is_refused(recipe: Recipe, dial: Dial | None, said: str) -> None:
    with pytest.raises(ProblemError) as refused:
        rows_of(planned(GRIND, RATIO), recipe, dial)

    assert said in str(refused.value)
