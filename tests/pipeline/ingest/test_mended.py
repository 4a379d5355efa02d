"""Rows come back from the exported list, corrected, and leave it."""

from __future__ import annotations

import csv
import json

import polars as pl
import pytest
import xlsxwriter

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


def save_export(lab, kind: str, rows: list[dict[str, object]]):
    """The export as its reader saved it: any cells, in any of the two formats."""
    path = lab.drop / f"mended.{kind}"
    names = list(rows[0])
    if kind == "xlsx":
        with xlsxwriter.Workbook(path) as book:
            sheet = book.add_worksheet()
            sheet.write_row(0, 0, names)
            for number, row in enumerate(rows, start=1):
                sheet.write_row(number, 0, [row[name] for name in names])
        return path
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, names)
        writer.writeheader()
        writer.writerows(rows)
    return path


def exported(lab) -> list[dict[str, object]]:
    return lab.list("set_aside").select(SET_ASIDE_COLUMNS).to_dicts()


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_several_reasons_of_one_row_are_mended_each_on_its_line(lab, kind):
    lab.take("brews.csv", BREWS + "b-2,2026-04-03T09:25:00Z,sunrise,espresso,0,-36\n")
    right = {"dose_g": 18.5, "beverage_g": 37}
    entry = lab.ingest(
        save_export(lab, kind, [row | {"value": right[row["column"]]} for row in exported(lab)])
    ).entries[0]

    assert (entry.rows_read, entry.taken_in, entry.set_aside) == (2, 2, 0)
    assert lab.current("brews").select("dose_g", "beverage_g").rows() == [(18.5, 37.0)]


def test_reading_the_original_again_does_not_bring_mended_rows_back(lab):
    text = BREWS + GOOD + BAD + "b-3,2026-04-03T09:35:00Z,sunrise,espresso,0,-36\n"
    lab.take("brews.csv", text)
    lab.ingest(save_export(lab, "csv", [row | {"value": "18"} for row in exported(lab) if row["line"] == 3]))
    half = next(row for row in exported(lab) if row["column"] == "dose_g")
    lab.ingest(save_export(lab, "csv", [half | {"value": "19"}]))
    report = lab.take("brews.csv", text)

    assert [getattr(report.entries[0], name) for name in ("taken_in", "already_known", "set_aside")] == [0, 3, 0]
    assert not report.committed
    assert lab.list("set_aside").select("line", "column", "value").rows() == [(4, "beverage_g", "-36")]


def test_an_old_file_with_a_bad_row_settles_beside_its_corrected_successor(lab):
    old, new = lab.put("1-brews.csv", BREWS + BAD), lab.put("2-brews.csv", BREWS + BAD.replace("eighteen", "18"))
    lab.ingest(old, new)
    assert lab.list("set_aside").height == 0
    again = lab.ingest(old, new)

    assert [(entry.already_known, entry.set_aside) for entry in again.entries] == [(1, 0), (1, 0)]
    assert not again.committed


def test_a_corrected_file_that_is_still_wrong_lists_its_row_once(lab):
    lab.take("brews.csv", BREWS + GOOD + BAD)
    lab.take("brews.csv", BREWS + GOOD + BAD.replace("eighteen", "eighty"))

    assert lab.list("set_aside").select("line", "value").rows() == [(3, "eighty")]


def test_files_of_one_name_keep_their_own_rows_apart(lab):
    """Every day's drop-off is called brews.csv, and every day line 3 is wrong."""
    lab.take("brews.csv", BREWS + GOOD + BAD)
    lab.take("brews.csv", BREWS + (GOOD + BAD).replace("b-", "c-").replace("04-03", "04-04"))
    assert lab.list("set_aside").height == 2
    right = {"b-2": "18.2", "c-2": "18.4"}
    rows = [row | {"value": right[json.loads(row["row_json"])["brew_id"]]} for row in exported(lab)]
    entry = lab.ingest(save_export(lab, "csv", rows)).entries[0]

    assert entry.taken_in == 2
    mended = lab.current("brews").filter(pl.col("line") == 3).sort("brew_id")
    assert mended.select("brew_id", "dose_g").rows() == [("b-2", 18.2), ("c-2", 18.4)]


def test_an_id_that_a_spreadsheet_rewrote_is_not_a_correction(lab):
    lab.take("brews.csv", BREWS + (GOOD + GOOD.replace(",18,", ",19,")).replace("b-1", "007"))
    lab.ingest(save_export(lab, "xlsx", [row | {"value": 7} for row in exported(lab) if row["line"] == 3]))

    assert lab.current("brews").select("brew_id", "dose_g").rows() == [("007", 19.0)]


def test_a_number_typed_into_the_workbook_fits_a_log_of_decimal_commas(lab):
    lab.take(
        "log.csv", "Date;Coffee;Method;Dose (g);Out (g)\n3.4.2026;K;espresso;18,0;?\n4.4.2026;K;espresso;18,0;36,5\n"
    )
    lab.ingest(save_export(lab, "xlsx", [row | {"value": 36.25} for row in exported(lab)]))

    assert lab.current("brews")["beverage_g"].sort().to_list() == [36.25, 36.5]


def test_row_json_may_hold_numbers_and_null_and_only_what_changed(lab):
    lab.take("brews.csv", BREWS + BAD)
    lab.ingest(
        save_export(lab, "csv", [row | {"row_json": '{"dose_g": 17.5, "notes": null}'} for row in exported(lab)])
    )

    assert lab.current("brews").select("dose_g", "notes").rows() == [(17.5, None)]


def test_what_is_no_correction_is_said_and_changes_nothing(lab):
    lab.take("brews.csv", BREWS + BAD)
    (row,) = exported(lab)
    broken = lab.ingest(save_export(lab, "csv", [row | {"row_json": "{oops"}])).entries[0]
    torn = lab.ingest(save_export(lab, "csv", [row | {"value": "18"}, row | {"value": "19"}])).entries[0]

    assert broken.notes[-1].startswith("1 lines (first: line 2) hold no readable row_json")
    assert torn.notes[-1].startswith("1 lines (first: line 3) correct a cell in another way")
    assert (broken.set_aside, torn.set_aside) == (1, 2)
    assert lab.list("set_aside")["value"].to_list() == ["eighteen"]


def test_an_export_without_its_sentences_is_still_one_and_flags_are_not(lab):
    lab.take("brews.csv", BREWS + BAD)
    (row,) = exported(lab)
    narrow = {name: value for name, value in row.items() if name not in ("message", "fix")}
    assert lab.ingest(save_export(lab, "csv", [row | {"brew_id": "b-2"}])).refused
    assert lab.ingest(save_export(lab, "csv", [narrow | {"value": "18"}])).entries[0].taken_in == 1


def test_a_mended_brew_comes_before_the_readings_of_the_same_call(lab):
    lab.take("brews.csv", BREWS + BAD)
    path = save_export(lab, "csv", [row | {"value": "18"} for row in exported(lab)])
    report = lab.ingest(lab.put("readings.csv", "brew_id,reading_no,tds_pct\nb-2,1,9\n"), path)

    assert [entry.taken_in for entry in report.entries] == [1, 1]
