"""Which declared window applies to a prediction."""

from __future__ import annotations

from datetime import date

import polars as pl

from analysis.prediction.request import Window
from analysis.prediction.targets import study_ends, table_ends, window_of
from schemas.study import Study, Target

COLUMNS = ("coffee_id", "method", "recipe_id", "site", "valid_from", "valid_to", "quantity", "low", "high")
YIELD, STRENGTH = "extraction_yield_pct", "cup_tds_pct"
ROWS = [
    (None, "espresso", None, None, None, None, YIELD, 18.0, 22.0),
    ("c1", "espresso", None, None, None, None, YIELD, 17.0, 21.0),
    (None, "espresso", "house", None, None, None, YIELD, 10.0, 11.0),
    (None, "espresso", None, None, date(2026, 5, 1), None, "tds_pct", 9.0, 10.0),
    (None, "pour_over", None, None, None, None, "tds_pct", 1.2, 1.4),
]
DTYPES = {"valid_from": pl.Date, "valid_to": pl.Date, "low": pl.Float64, "high": pl.Float64}
TABLE = pl.DataFrame(ROWS, schema=dict.fromkeys(COLUMNS, pl.String) | DTYPES, orient="row")


def test_a_coffees_own_target_outranks_the_methods_and_a_recipes_stays_out() -> None:
    june = date(2026, 6, 1)
    assert table_ends(TABLE, method="espresso", coffee="c1", on=june) == {YIELD: (17.0, 21.0), STRENGTH: (9.0, 10.0)}
    assert table_ends(TABLE, method="espresso", coffee=None, on=june)[YIELD] == (18.0, 22.0)
    assert table_ends(TABLE, method="immersion", coffee="c1", on=june) == {}


def test_a_target_counts_from_its_day() -> None:
    assert STRENGTH not in table_ends(TABLE, method="espresso", coffee=None, on=date(2026, 4, 30))


def test_a_study_declares_strength_by_either_name() -> None:
    study = Study("s", "?", YIELD, targets=(Target(YIELD, 18, 20), Target("tds_pct", 9, 10)))
    assert study_ends(study) == {YIELD: (18, 20), STRENGTH: (9, 10)}


def test_a_window_is_open_where_nothing_is_declared() -> None:
    assert window_of({}) is None
    window = window_of({STRENGTH: (9.0, 10.0)})
    assert window == Window(strength_low=9.0, strength_high=10.0)
    assert window is not None
    assert window.bounded == (STRENGTH,)
