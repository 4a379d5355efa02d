"""What becomes of rows: taken in, known, revised, clashing, blank, set aside; the sums always hold."""

from __future__ import annotations

BREWS = "brew_id,brewed_at,coffee_id,method,dose_g,beverage_g\n"


def row(brew_id: str, dose: str = "18.0", beverage: str = "36.0") -> str:
    return f"{brew_id},2026-04-03T09:15:00Z,sunrise,espresso,{dose},{beverage}\n"


def test_a_clean_file_goes_in_and_a_second_time_changes_nothing(lab):
    path = lab.put("brews.csv", BREWS + row("b-1") + row("b-2"))

    first, second = lab.ingest(path), lab.ingest(path)

    assert (first.entries[0].taken_in, first.manifest_number, first.committed) == (2, 1, True)
    assert (second.entries[0].already_known, second.manifest_number, second.committed) == (2, 1, False)
    assert lab.current("brews")["brew_id"].sort().to_list() == ["b-1", "b-2"]


def test_a_row_written_twice_goes_in_once(lab):
    entry = lab.take("brews.csv", BREWS + row("b-1") + row("b-1")).entries[0]

    assert (entry.rows_read, entry.taken_in, entry.already_known) == (2, 1, 1)


def test_rows_compare_by_value_not_by_spelling(lab):
    lab.take("brews.csv", BREWS + row("b-1", dose="18.0"))
    entry = lab.take("later-brews.csv", BREWS + row("b-1", dose="18.00")).entries[0]

    assert entry.already_known == 1


def test_one_key_with_two_meanings_in_one_file_sets_both_rows_aside(lab):
    entry = lab.take("brews.csv", BREWS + row("b-1") + row("b-2") + row("b-1", dose="19")).entries[0]

    aside = lab.list("set_aside")
    assert (entry.taken_in, entry.set_aside) == (1, 2)
    assert aside["line"].to_list() == [2, 4]
    assert aside["rule"].unique().to_list() == ["key_clash"]
    assert aside["message"][0].startswith("2 rows of this file have the key b-1")


def test_a_later_file_revises_and_the_newest_stands(lab):
    lab.take("brews.csv", BREWS + row("b-1", dose="18") + row("b-2"))
    entry = lab.take("fixed-brews.csv", BREWS + row("b-1", dose="18.4")).entries[0]

    assert (entry.taken_in, entry.revised) == (1, 1)
    brews = lab.current("brews").sort("brew_id")
    assert brews["dose_g"].to_list() == [18.4, 18.0]
    assert brews["revision"].to_list() == [1, 0]


def test_reading_a_folder_of_old_and_new_files_settles(lab):
    lab.put("1-brews.csv", BREWS + row("b-1", dose="18"))
    lab.put("2-brews.csv", BREWS + row("b-1", dose="18.4"))

    first, second = lab.ingest(lab.drop), lab.ingest(lab.drop)

    assert [entry.revised for entry in first.entries] == [0, 1]
    assert [entry.already_known for entry in second.entries] == [1, 1]
    assert lab.current("brews")["dose_g"].to_list() == [18.4]


def test_a_third_version_may_return_to_none_of_the_earlier_ones(lab):
    for number, dose in enumerate(("18", "18.4", "18.6")):
        lab.take(f"{number}-brews.csv", BREWS + row("b-1", dose=dose))

    assert lab.current("brews").select("dose_g", "revision").rows() == [(18.6, 2)]


def test_blank_ragged_and_bad_rows_are_counted_and_nothing_is_lost(lab):
    text = BREWS + row("b-1") + "\n" + "b-2,2026-04-03,sunrise\n" + row("b-3", dose="a lot") + row("", dose="18")
    entry = lab.take("brews.csv", text).entries[0]

    assert (entry.rows_read, entry.taken_in, entry.blank, entry.set_aside) == (5, 1, 1, 3)
    assert entry.adds_up
    aside = lab.list("set_aside")
    assert aside.select("line", "rule").rows() == [(4, "ragged_row"), (5, "not_a_number"), (6, "empty_required")]
    assert '"dose_g": "a lot"' in aside["row_json"][1]


def test_a_future_brew_is_set_aside_by_the_clock_of_the_call(lab):
    text = BREWS + "b-1,2026-06-03T12:00:01Z,sunrise,espresso,18,36\nb-2,2026-06-02T11:59:00Z,sunrise,espresso,18,36\n"
    entry = lab.take("brews.csv", text).entries[0]

    assert (entry.taken_in, entry.set_aside) == (1, 1)
    assert lab.list("set_aside").select("line", "rule", "column").rows() == [(2, "in_the_future", "brewed_at")]


def test_a_reading_that_would_empty_the_coffee_is_set_aside(lab):
    lab.put("brews.csv", BREWS + row("b-1"))
    lab.put("readings.csv", "brew_id,reading_no,tds_pct\nb-1,1,10.0\nb-1,2,20.1\n")
    lab.ingest(lab.drop)

    # 20.1 % of 36 g is 7.236 g, 40.2 % of an 18 g dose; the limit is 40 %.
    assert lab.list("set_aside").select("line", "rule").rows() == [(3, "yield_too_high")]
    assert lab.current("readings")["tds_pct"].to_list() == [10.0]


def test_a_refused_file_does_not_stop_the_others_and_its_bytes_are_kept(lab):
    lab.put("brews.csv", BREWS + row("b-1"))
    bad = lab.drop / "broken.xlsx"
    bad.write_bytes(b"not a workbook")

    report = lab.ingest(lab.drop)

    refused = next(entry for entry in report.entries if entry.file.endswith("broken.xlsx"))
    assert refused.refused
    assert lab.current("brews").height == 1
    kept = {path.read_bytes() for path in (lab.dir / "store" / "originals").iterdir()}
    assert b"not a workbook" in kept
    assert not lab.ingest(lab.drop).committed


def test_two_months_in_one_workbook_that_restart_their_numbers_clash(lab):
    import polars as pl
    import xlsxwriter

    path = lab.drop / "log.xlsx"
    with xlsxwriter.Workbook(path) as book:
        for month, dose in (("April brews", 18.0), ("May brews", 19.0)):
            frame = pl.DataFrame(
                {
                    "brew_id": ["1"],
                    "brewed_at": ["2026-04-03T09:00:00Z"],
                    "coffee_id": ["a"],
                    "method": ["espresso"],
                    "dose_g": [dose],
                    "beverage_g": [36.0],
                }
            )
            frame.write_excel(book, worksheet=month)

    report = lab.ingest(path)

    assert [entry.set_aside for entry in report.entries] == [1, 1]


def test_a_table_of_ids_alone_is_a_table(lab):
    entry = lab.take("coffees.csv", "coffee_id\n007\nsunrise\n").entries[0]

    assert (entry.refused, entry.taken_in) == ("", 2)
    assert lab.current("coffees")["coffee_id"].sort().to_list() == ["007", "sunrise"]


def test_a_visible_sheet_of_prose_has_an_entry_and_is_not_refused(lab):
    import xlsxwriter

    path = lab.drop / "book.xlsx"
    with xlsxwriter.Workbook(path) as book:
        sheet = book.add_worksheet("Coffees")
        sheet.write_column(0, 0, ["coffee_id", "007"])
        book.add_worksheet("Read me").write(0, 0, "One row per coffee.")
    report = lab.ingest(path)

    assert [(entry.sheet, entry.taken_in, bool(entry.skipped)) for entry in report.entries] == [
        ("Coffees", 1, False),
        ("Read me", 0, True),
    ]
    assert not report.refused
