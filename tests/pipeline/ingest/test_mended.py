"""Rows come back from the exported list, corrected, and leave it."""

from __future__ import annotations

import json

import polars as pl
import pytest

from pipeline.exports import export as export_frame
from schemas.reports import SET_ASIDE_COLUMNS

BREWS = "brew_id,brewed_at,coffee_id,method,dose_g,beverage_g\n"
GOOD = "b-1,2026-04-03T09:15:00Z,sunrise,espresso,18,36\n"
BAD = "b-2,2026-04-03T09:25:00Z,sunrise,espresso,eighteen,36\n"


def export(lab, kind: str, **changes: str):
    frame = lab.list("set_aside").select(SET_ASIDE_COLUMNS)
    frame = frame.with_columns(**{name: pl.lit(value) for name, value in changes.items()})
    path = lab.drop / f"aside.{kind}"
    export_frame(frame, kind, path)
    return path


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_a_corrected_value_goes_in_and_leaves_the_list(lab, kind):
    lab.take("brews.csv", BREWS + GOOD + BAD)
    entry = lab.ingest(export(lab, kind, value="18.2")).entries[0]

    assert (entry.rows_read, entry.taken_in, entry.set_aside) == (1, 1, 0)
    assert lab.list("set_aside").height == 0
    row = lab.current("brews").filter(pl.col("brew_id") == "b-2").row(0, named=True)
    assert (row["dose_g"], row["source_file"], row["line"]) == (18.2, "brews.csv", 3)


def test_the_same_export_twice_is_already_known(lab):
    lab.take("brews.csv", BREWS + BAD)
    path = export(lab, "csv", value="18.2")
    lab.ingest(path)
    entry = lab.ingest(path).entries[0]

    assert (entry.already_known, entry.taken_in) == (1, 0)


def test_an_uncorrected_row_stays_on_the_list_once(lab):
    lab.take("brews.csv", BREWS + BAD)
    entry = lab.ingest(export(lab, "csv")).entries[0]

    assert entry.set_aside == 1
    assert lab.list("set_aside").height == 1


def test_a_row_may_be_corrected_in_row_json(lab):
    lab.take("brews.csv", BREWS + BAD)
    cells = json.loads(lab.list("set_aside")["row_json"][0]) | {"dose_g": "17.9"}
    lab.ingest(export(lab, "xlsx", row_json=json.dumps(cells)))

    assert lab.current("brews")["dose_g"].to_list() == [17.9]
    assert lab.list("set_aside").height == 0


def test_a_half_mended_row_shows_its_new_state(lab):
    lab.take("brews.csv", BREWS + BAD)
    lab.ingest(export(lab, "csv", value="-18"))

    aside = lab.list("set_aside")
    assert aside.select("rule", "value").rows() == [("not_positive", "-18")]


def test_of_two_clashing_rows_the_one_kept_in_the_export_wins_and_both_leave(lab):
    lab.take("brews.csv", BREWS + GOOD + GOOD.replace(",18,", ",19,"))
    frame = lab.list("set_aside").select(SET_ASIDE_COLUMNS).filter(pl.col("line") == 3)
    path = lab.drop / "aside.csv"
    export_frame(frame, "csv", path)

    assert lab.ingest(path).entries[0].taken_in == 1
    assert lab.current("brews")["dose_g"].to_list() == [19.0]
    assert lab.list("set_aside").height == 0


def test_a_corrected_original_file_clears_its_entry_too(lab):
    lab.take("brews.csv", BREWS + GOOD + BAD)
    lab.take("brews.csv", BREWS + GOOD + BAD.replace("eighteen", "18"))

    assert lab.list("set_aside").height == 0


def test_an_entry_without_a_key_clears_when_its_place_is_mended(lab):
    lab.take("brews.csv", BREWS + GOOD + BAD.replace("b-2", "").replace("eighteen", "18"))
    assert lab.list("set_aside")["rule"].to_list() == ["empty_required"]
    lab.take("brews.csv", BREWS + GOOD + BAD.replace("eighteen", "18"))

    assert lab.list("set_aside").height == 0


def test_another_file_of_the_same_name_does_not_clear_the_list(lab):
    lab.take("brews.csv", BREWS + GOOD + BAD)
    lab.take("brews.csv", BREWS + "x-1,2026-05-03T09:15:00Z,dusk,pour_over,15,220\n" * 1)

    assert lab.list("set_aside").height == 1


def test_lines_that_belong_to_nothing_are_counted_and_named(lab, make_lab):
    lab.take("brews.csv", BREWS + BAD)
    path = export(lab, "csv", value="18")
    entry = make_lab("other").ingest(path).entries[0]

    assert (entry.rows_read, entry.set_aside) == (1, 1)
    assert "belong to no row" in entry.notes[-1]
