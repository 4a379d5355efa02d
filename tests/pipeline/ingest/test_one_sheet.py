"""The log most people keep: a row per brew, readings inline, no ids."""

from __future__ import annotations

import polars as pl

from pipeline.exports import export
from schemas.reports import SET_ASIDE_COLUMNS

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


def test_a_reading_taken_out_of_the_log_leaves_its_brew_and_an_old_copy_does_not_undo_it(lab):
    line = "2026-04-03 09:15;Ana;Sunrise;espresso;18,0;36,0;9,5;11,5\n"
    old = lab.put("old log.csv", HEADER + line)
    lab.ingest(old)
    entry = lab.take("log.csv", HEADER + line.replace("11,5", "")).entries[0]

    assert (entry.taken_in, entry.revised) == (1, 1)
    assert lab.current("readings")["tds_pct"].to_list() == [9.5]
    assert lab.ingest(old).entries[0].already_known == 1
    assert lab.current("readings")["tds_pct"].to_list() == [9.5]


def test_correcting_the_instrument_moves_the_readings(lab):
    header = HEADER.strip() + ";Instrument id\n"
    line = "2026-04-03 09:15;Ana;Sunrise;espresso;18,0;36,0;9,5;9,7;lens-1\n"
    lab.take("log.csv", header + line)
    lab.take("log.csv", header + line.replace("lens-1", "lens-2"))

    assert lab.current("readings").sort("reading_no").select("instrument_id", "tds_pct").rows() == [
        ("lens-2", 9.5),
        ("lens-2", 9.7),
    ]


def test_readings_of_their_own_file_stay_when_a_log_says_nothing_of_them(lab):
    line = "2026-04-03 09:15;Ana;Sunrise;espresso;18,0;36,0;9,5;\n"
    lab.take("log.csv", HEADER + line)
    lab.take("readings.csv", "brew_id,reading_no,tds_pct\n2026-04-03T09:15 Ana,7,9.6\n")
    lab.take("log.csv", HEADER + line.replace("36,0", "36,1"))

    assert lab.current("readings").sort("reading_no")["reading_no"].to_list() == [1, 7]


def test_a_mended_row_does_not_take_the_name_of_its_neighbour(lab):
    good = "2026-04-03 09:15;Ana;Sunrise;espresso;18,0;36,0;9,5;\n"
    lab.take("log.csv", HEADER + good + good.replace("18,0", "x").replace("9,5", "9,1"))
    path = lab.drop / "aside.csv"
    frame = lab.list("set_aside").select(SET_ASIDE_COLUMNS).with_columns(value=pl.lit("18,4"))
    export(frame, "csv", path)
    lab.ingest(path)

    assert sorted(lab.current("brews")["dose_g"].to_list()) == [18.0, 18.4]


def test_an_unseen_instrument_in_a_log_waits_where_the_lab_wants_no_stubs(lab):
    (lab.dir / "lab.toml").write_text('[intake]\nunknown_parents = "set_aside"\n')
    lab.take("coffees.csv", "coffee_id,name\nSunrise,Sunrise\n")
    header = HEADER.strip() + ";Instrument id\n"
    report = lab.take("log.csv", header + "2026-04-03 09:15;Ana;Sunrise;espresso;18,0;36,0;9,5;9,7;lens-1\n")
    assert (report.entries[0].set_aside, report.stubs) == (1, ())

    later = lab.take("instruments.csv", "instrument_id,kind\nlens-1,refractometer\n")

    assert [row.outcome for row in later.retried] == ["taken in"]
    assert lab.current("readings").height == 2


def test_a_void_brew_of_the_future_stays(lab):
    header = HEADER.strip() + ";Void reason\n"
    report = lab.take("log.csv", header + "2031-04-03 09:15;Ana;Sunrise;espresso;18,0;36,0;;;wrong year\n")

    assert report.entries[0].taken_in == 1


def test_a_physics_reason_speaks_of_the_users_own_header(lab):
    lab.take(
        "log.csv", HEADER.replace("Beverage (g)", "Cup weight (g)") + "2026-04-03 09:15;Ana;Sun;espresso;18;;9,5;\n"
    )

    assert lab.list("set_aside").select("column", "message", "fix").rows() == [
        (
            "beverage_g",
            "Cup weight (g) is empty; the percolation mass balance needs it.",
            "Fill in Cup weight (g), or say which mass_balance applies.",
        )
    ]
