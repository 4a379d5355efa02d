"""A run sheet goes in half filled: what nobody brewed counts as blank, and nothing typed is ever passed over."""

from __future__ import annotations

import pytest

from schemas.run_sheet import FILLED_IN, PLANNED, PURGE

HEADER = (
    "brew_id,study_id,session_id,run_order,coffee_id,method,grind_setting,water_temp_c,planned_grind_setting,"
    "planned_dose_g,brewed_at,dose_g,beverage_g,tds_pct,channeling,notes,void_reason\n"
)
PLAN = "june,s1,1,ostrin,espresso,7.5,93,7.5,18"


def row(brew_id: str, typed: str = ",,,,,,") -> str:
    return f"{brew_id},{PLAN},{typed}\n"


BREWED = "2026-05-04T09:00Z,18.1,36.2,9.2,none,,"


def test_brewed_rows_go_in_and_the_others_are_blank(lab):
    report = lab.take("run.csv", HEADER + row("june-1", BREWED) + row("june-2") + row("june-3"))

    (entry,) = report.entries
    assert (entry.rows_read, entry.taken_in, entry.set_aside, entry.blank) == (3, 1, 0, 2)
    assert entry.adds_up
    assert "planned brews not brewed yet, counted as blank: 2" in entry.notes
    brews = lab.current("brews")
    assert brews.select("brew_id", "study_id", "planned_grind_setting", "planned_dose_g").rows() == [
        ("june-1", "june", "7.5", 18.0)
    ]
    assert lab.current("readings")["tds_pct"].to_list() == [9.2]


def test_the_same_sheet_goes_in_again_when_more_is_brewed(lab):
    lab.take("run.csv", HEADER + row("june-1", BREWED) + row("june-2"))

    (entry,) = lab.take(
        "run.csv", HEADER + row("june-1", BREWED) + row("june-2", BREWED.replace("09:00", "09:10"))
    ).entries

    assert (entry.taken_in, entry.already_known, entry.blank, entry.set_aside) == (1, 1, 0, 0)
    assert lab.current("brews").height == 2


@pytest.mark.parametrize(
    "typed",
    ["2026-05-04T09:00Z,,,,,,", ",18.1,,,,,", ",,36.2,,,,", ",,,9.2,,,", ",,,,none,,", ",,,,,spilt,"],
)
def test_one_typed_cell_makes_it_a_row_like_any_other(lab, typed):
    (entry,) = lab.take("run.csv", HEADER + row("june-1", BREWED) + row("june-2", typed)).entries

    assert (entry.taken_in, entry.set_aside, entry.blank) == (1, 1, 0)
    assert "empty_required" in lab.list("set_aside")["rule"].to_list()


def test_a_planned_row_that_says_why_it_failed_is_kept_as_void(lab):
    (entry,) = lab.take("run.csv", HEADER + row("june-1", ",,,,,,pump broke")).entries

    assert (entry.taken_in, entry.blank) == (1, 0)
    assert lab.current("brews")["void_reason"].to_list() == ["pump broke"]


def test_a_cell_under_an_unknown_header_is_not_passed_over(lab):
    head = HEADER.replace("void_reason", "void_reason,crema")

    (entry,) = lab.take("run.csv", head + row("june-1", ",,,,,,,thin") + row("june-2", ",,,,,,,")).entries

    assert (entry.set_aside, entry.blank) == (1, 1)
    assert entry.unknown_columns == ("crema",)


def test_a_purge_is_blank_and_stays_out_of_every_analysis_even_when_typed_into(lab):
    purge = row("june-1-purge", f",,,,,,{PURGE}")
    typed = row("june-2-purge", f"2026-05-04T09:00Z,18.0,36.0,9.9,,,{PURGE}")

    (entry,) = lab.take("run.csv", HEADER + purge + row("june-1", BREWED) + typed).entries

    assert (entry.taken_in, entry.blank, entry.set_aside) == (2, 1, 0)
    assert "purges of the run sheet, counted as blank: 1" in entry.notes
    void = lab.current("brews").filter(lab.current("brews")["void_reason"].is_not_null())
    assert void["brew_id"].to_list() == ["june-2-purge"]


def test_a_log_without_planned_columns_is_read_as_ever(lab):
    head = "brew_id,coffee_id,method,brewed_at,dose_g,beverage_g\n"

    rows = "b-1,ostrin,espresso,,,\nb-2,ostrin,espresso,2026-05-04T09:00Z,18,36\n"
    (entry,) = lab.take("brews.csv", head + rows).entries

    assert (entry.taken_in, entry.set_aside, entry.blank) == (1, 1, 0)


def test_marks_for_missing_values_count_as_empty(lab):
    (lab.dir / "columns.toml").write_text('missing = ["-"]\n', encoding="utf-8")

    (entry,) = lab.take("run.csv", HEADER + row("june-1", "-,-,-,-,-,-,-") + row("june-2", BREWED)).entries

    assert (entry.taken_in, entry.blank, entry.set_aside) == (1, 1, 0)


def test_what_comes_filled_in_and_what_is_typed_do_not_overlap():
    assert not set(FILLED_IN) & {"brewed_at", "dose_g", "water_g", "beverage_g", "tds_pct", "channeling", "notes"}
    assert set(PLANNED) < set(FILLED_IN)
