"""The log most people keep: a row per brew, readings inline, no ids."""

from __future__ import annotations

HEADER = "Date;Barista;Coffee;Method;Dose (g);Beverage (g);TDS 1 (%);TDS 2 (%)\n"


def test_rows_without_ids_are_named_by_time_and_operator_where_these_tell_them_apart(lab):
    report = lab.take(
        "log.csv",
        HEADER
        + "2026-04-03 09:15;Ana;Sunrise;espresso;18,0;36,0;9,5;9,7\n"
        + "2026-04-03 09:25;Ana;Sunrise;espresso;18,1;36,2;9,4;\n",
    )

    assert report.entries[0].taken_in == 2
    assert lab.current("brews")["brew_id"].sort().to_list() == ["2026-04-03T09:15 Ana", "2026-04-03T09:25 Ana"]
    readings = lab.current("readings").sort("brew_id", "reading_no")
    assert readings["tds_pct"].to_list() == [9.5, 9.7, 9.4]
    assert readings["reading_no"].to_list() == [1, 2, 1]


def test_bare_days_are_named_by_their_place_and_equal_rows_stay_two_brews(lab):
    line = "3.4.2026;Ana;Sunrise;espresso;18,0;36,0;9,5;\n"
    report = lab.take("log.csv", HEADER + line + line + line.replace("3.4", "13.4"))

    assert report.entries[0].taken_in == 3
    assert lab.current("brews")["brew_id"].sort().to_list() == [
        "2026-04-03 log 2",
        "2026-04-03 log 3",
        "2026-04-13 log 4",
    ]
    assert lab.current("brews")["brewed_at_is_date"].to_list() == [True, True, True]
    assert any("day, sheet and row" in note for note in report.entries[0].notes)


def test_a_log_that_grew_brings_only_its_new_rows(lab):
    line = "2026-04-03 09:15;Ana;Sunrise;espresso;18,0;36,0;9,5;9,7\n"
    lab.take("log.csv", HEADER + line)
    entry = lab.take("log.csv", HEADER + line + line.replace("09:15", "09:30")).entries[0]

    assert (entry.taken_in, entry.already_known, entry.revised) == (1, 1, 0)


def test_a_changed_inline_reading_is_a_revision_of_the_row(lab):
    line = "2026-04-03 09:15;Ana;Sunrise;espresso;18,0;36,0;9,5;9,7\n"
    lab.take("log.csv", HEADER + line)
    entry = lab.take("log.csv", HEADER + line.replace("9,7", "9,6")).entries[0]

    assert (entry.taken_in, entry.revised, entry.already_known) == (1, 1, 0)
    assert lab.current("readings").sort("reading_no")["tds_pct"].to_list() == [9.5, 9.6]


def test_a_bad_reading_sets_the_whole_row_aside(lab):
    report = lab.take("log.csv", HEADER + "2026-04-03 09:15;Ana;Sunrise;espresso;18,0;36,0;9,5;97\n")

    assert report.entries[0].set_aside == 1
    assert lab.current("brews").is_empty()
    assert lab.current("readings").is_empty()


def test_a_strength_that_empties_the_coffee_sets_the_row_aside(lab):
    report = lab.take("log.csv", HEADER + "2026-04-03 09:15;Ana;Sunrise;espresso;18,0;36,0;20,5;\n")

    assert report.entries[0].set_aside == 1
    assert lab.list("set_aside")["rule"].to_list() == ["yield_too_high"]


def test_where_the_columns_of_the_id_are_empty_the_place_names_the_brew(lab):
    (lab.dir / "columns.toml").write_text('id_from = ["session_id", "run_order"]\n')
    header = "session_id,run_order,brewed_at,coffee_id,method,dose_g,beverage_g\n"
    rest = "2026-04-03T09:15:00Z,sunrise,espresso,18,36\n"
    report = lab.take("log.csv", header + f"s-1,1,{rest}s-1,2,{rest},,{rest}")

    assert lab.current("brews")["brew_id"].sort().to_list() == ["2026-04-03 log 4", "s-1 1", "s-1 2"]
    assert any(note.endswith("from day, sheet and row: 1") for note in report.entries[0].notes)


def test_a_high_reading_is_named_by_the_column_it_stands_in(lab):
    lab.take("log.csv", HEADER + "2026-04-03 09:15;Ana;Sunrise;espresso;18,0;36,0;9,5;25\n")

    assert lab.list("set_aside").select("column", "value", "rule").rows() == [("tds_pct_2", "25", "yield_too_high")]
