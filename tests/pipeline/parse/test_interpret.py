from __future__ import annotations

import json
import tomllib
from collections.abc import Callable
from dataclasses import replace

import pytest

from pipeline.lab_starter import COLUMNS_TOML
from pipeline.parse.model import ColumnReading
from pipeline.parse.which_table import recognised_headers
from pipeline.parse.wire import from_json, to_json
from schemas.problem import ProblemError

Lay = Callable[..., "Desk"]  # noqa: F821  (tests/pipeline/parse/conftest.py)

FIRST_MORNING = "Date,Coffee,Dose,Yield out,TDS\n3 Apr 2026,Huila,18,36,9.5"


def test_a_log_that_only_lacks_the_method_gets_the_line_to_paste(desk: Lay) -> None:
    refusal = desk(FIRST_MORNING).why_not()
    assert refusal.refuse
    assert "has no column for method" in refusal.reason
    assert 'in columns.toml, under [constants], write:\nmethod = "espresso"\n' in refusal.reason
    assert "brewtrials new YOUR-FOLDER --method espresso\n" in refusal.reason
    assert "pour_over" in refusal.reason


def test_no_hint_prints_a_heading_that_the_starter_file_has(desk: Lay) -> None:
    """A heading pasted a second time is no TOML."""
    headings = {f"[{heading}]" for heading in tomllib.loads(COLUMNS_TOML)}
    assert "[constants]" in headings
    assert not headings & set(desk(FIRST_MORNING).why_not().reason.splitlines())
    (fix,) = desk(f"{LOG}Channeling{rows(['a bit'])}").parsed().reasons["fix"]
    assert fix.endswith('in columns.toml, under [words.channeling], write: "a bit" = "..."')


def test_a_method_is_not_asked_for_where_it_is_there(desk: Lay) -> None:
    assert "--method" not in desk("Date,Method,Dose,Out").why_not().reason


def test_with_that_line_the_first_row_goes_in(desk: Lay) -> None:
    parsed = desk(FIRST_MORNING, toml='[constants]\nmethod = "espresso"').parsed()
    assert parsed.reasons.is_empty()
    assert parsed.rows.select("coffee_id", "method", "dose_g", "beverage_g").row(0) == ("Huila", "espresso", 18, 36)
    assert parsed.readings["tds_pct"].to_list() == [9.5]


def test_the_lab_may_hold_the_constant_instead(desk: Lay) -> None:
    how = desk(FIRST_MORNING, constants={"method": "espresso"}).how()
    assert how.constants == {"method": "espresso"}
    assert how.make_brew_id
    assert "method is espresso in every row, as declared" in how.notes


def test_every_missing_column_is_named_with_what_was_not_read(desk: Lay) -> None:
    reason = desk("Datum,Bohne,Dose,Out").why_not().reason
    assert "no column for brewed_at, coffee_id, method" in reason
    assert 'coffee_id = "my-coffee"\nmethod = "espresso"' in reason
    assert '"Datum" = "brewed_at"' in reason


def test_a_constant_that_no_row_could_keep_is_refused(desk: Lay) -> None:
    with pytest.raises(ProblemError, match=r'Constant method = "expresso".*Did you mean espresso\?'):
        desk(FIRST_MORNING, constants={"method": "expresso"}).how()
    with pytest.raises(ProblemError, match="coffee_id is empty"):
        desk("Date,Dose,Out", constants={"method": "espresso", "coffee_id": ""}).how()


@pytest.mark.parametrize(
    ("header", "file", "sheet", "table"),
    [
        ("brew_id,brewed_at,coffee_id,method,dose_g", "2026-03-brews.csv", "", "brews"),
        ("coffee_id,name", "coffees.csv", "", "coffees"),
        ("brew_id,reading_no,tds_pct", "data.csv", "", "readings"),
        ("brew_id,reading_no,tds_pct,instrument_id", "brew-readings.csv", "", "readings"),
        ("brew_id,t_s,tds_pct", "data.csv", "", "steeps"),
        ("brew_id,t_s,beverage_g", "data.csv", "", "traces"),
        ("brew_id,fraction_no,mass_g,tds_pct", "data.csv", "", "fractions"),
        ("lot_id,coffee_id,roasted_on", "data.csv", "", "lots"),
        ("grinder_id,finer_is,dial", "data.csv", "", "grinders"),
        ("target_id,quantity,low,high", "data.csv", "", "targets"),
        ("assessor,attribute,score,brew_id", "data.csv", "", "tastings"),
        ("test_id,kind,assessor,brew_id_a,brew_id_b", "data.csv", "", "choices"),
        ("session_id,blind_code,brew_id", "data.csv", "", "servings"),
        ("Date,Coffee,Method,Dose,Out", "coffee log.csv", "", "brews"),
        ("Date,Coffee,Method,Dose,Out", "book.xlsx", "Sheet1", "brews"),
        ("coffee_id,roast_level", "brews.xlsx", "Coffees", "coffees"),
        ("grinder_id,finer_is", "book.xlsx", "Grinder", "grinders"),
    ],
)
def test_which_table(desk: Lay, header: str, file: str, sheet: str, table: str) -> None:
    assert desk(header, file=file, sheet=sheet).how().table == table


def test_a_declared_table_wins(desk: Lay) -> None:
    header = "coffee_id,roasted_on,lot_id"
    assert desk(header, file="coffees.csv").how().table == "coffees"
    assert desk(header, file="coffees.csv").how(table="lots").table == "lots"
    assert desk(header, file="coffees.csv", toml='[files."c*.csv"]\ntable = "lots"').how().table == "lots"
    with pytest.raises(ProblemError, match="did you mean lots"):
        desk(header).how(table="lot")


def test_a_table_asked_for_stands_only_for_files_that_can_be_it(desk: Lay) -> None:
    assert desk("brew_id,t_s", file="p.csv").how(table="traces").table == "traces"
    assert desk("brew_id,brewed_at,coffee_id,method,dose_g", file="brews.csv").how(table="traces").table == "brews"
    assert desk("brew_id,reading_no,tds_pct", file="p.csv").how(table="coffees").table == "readings"
    assert "no column for t_s" in desk("brew_id,flow_g_s", file="p.csv").why_not("traces").reason
    assert not desk("Weather,Mood", file="book.xlsx", sheet="Notes").why_not("traces").refuse


def test_a_text_file_that_fits_no_table_is_refused_with_the_question(desk: Lay) -> None:
    refusal = desk("Weather,Mood\nfine,good").why_not()
    assert refusal.refuse
    assert "Its columns (Weather, Mood) fit no table" in refusal.reason
    assert "--table" in refusal.reason


def test_a_sheet_of_a_workbook_that_fits_no_table_is_only_reported(desk: Lay) -> None:
    assert not desk("Weather,Mood\nfine,good", file="book.xlsx", sheet="Notes").why_not().refuse
    assert not desk("Weather,Mood\nfine,good", file="brews.xlsx", sheet="Notes").why_not().refuse
    assert not desk("Coffee,Average yield\nHuila,20", file="book.xlsx", sheet="Pivot").why_not().refuse


def test_columns_that_fit_two_tables_are_asked_about(desk: Lay) -> None:
    reason = desk("coffee_id,notes,finer_is,grinder_id").why_not().reason
    assert "could be" in reason
    assert "coffees" in reason
    assert "grinders" in reason
    assert "--table" in reason


def test_a_named_table_without_its_columns_is_refused(desk: Lay) -> None:
    refusal = desk("brew_id,tds_pct", file="readings.csv").why_not()
    assert refusal.refuse
    assert "no column for reading_no" in refusal.reason
    assert (
        "brew_id or coffee_id or session_id with blind_code"
        in desk("assessor,attribute,score").why_not("tastings").reason
    )


def test_a_declared_header_brings_its_unit_and_beats_the_dictionary(desk: Lay) -> None:
    toml = """
    ignore = ["Weather"]
    [columns]
    "Temp" = { column = "water_temp_c", unit = "F" }
    "Yield" = "beverage_g"
    "Kettle (°F)" = "sample_temp_c"
    "Ground" = "moisture_pct"
    """
    how = desk("Date,Coffee,Method,Dose,temp,Yield,Kettle (°F),Ground,TDS,Weather", toml=toml).how()
    found = {one.header: (one.column, one.conversion) for one in how.columns}
    assert found["temp"] == ("water_temp_c", "fahrenheit")
    assert found["Yield"] == ("beverage_g", "")
    assert found["Kettle (°F)"] == ("sample_temp_c", "fahrenheit")
    assert how.unknown == ("Ground",)


def test_a_combination_without_all_its_columns_is_told_not_made(desk: Lay) -> None:
    toml = '[combine]\ncoffee_id = { from = ["Farm", "Lot no"] }'
    reason = desk("Date,Farm,Method,Dose", toml=toml).why_not().reason
    assert "no column for coffee_id" in reason
    assert "coffee_id was not made from Farm, Lot no" in reason
    assert desk("Date,Coffee,Method,Dose", toml=toml).how().combined == ()


def test_a_combination_wins_over_a_header(desk: Lay) -> None:
    toml = '[combine]\ncoffee_id = { from = ["Farm", "Lot no"] }'
    how = desk("Date,Coffee,Farm,Lot no,Method,Dose", toml=toml).how()
    assert [one.positions for one in how.combined] == [(2, 3)]
    assert how.unknown == ("Coffee",)


def test_a_sheet_that_could_not_be_read_is_refused_with_its_own_reason(desk: Lay) -> None:
    laid = desk(FIRST_MORNING)
    twice = replace(laid, sheet=replace(laid.sheet, refused="The header names a column more than once."))
    assert twice.why_not().reason == "The header names a column more than once."


def test_a_column_of_moments_headed_time_is_when_it_was_brewed(desk: Lay) -> None:
    how = desk("Time,Coffee,Method,Dose\n2026-04-03 9:15,Huila,espresso,18").how()
    assert how.columns[0].column == "brewed_at"


def test_a_declared_order_needs_no_evidence(desk: Lay) -> None:
    how = desk("Date,Coffee,Method,Dose\n3/4/2026,Huila,espresso,18", toml='date_order = "month_first"').how()
    assert (how.date_order, how.date_order_settled) == ("month_first", True)


def test_commas_typed_as_text_in_a_workbook_are_decimal(desk: Lay) -> None:
    text = "Date;Coffee;Method;Dose\n2026-04-03;Huila;espresso;18.2\n2026-04-03;Huila;espresso;18,3"
    parsed = desk(text, sep=";", typed=True, sheet="Log", file="book.xlsx").parsed()
    assert parsed.rows["dose_g"].to_list() == [18.2, 18.3]


def test_conversions_are_told(desk: Lay) -> None:
    how = desk("Date,Coffee,Method,Dose (oz),Water temp °F,TDS (fraction)").how()
    assert how.notes[:3] == (
        "'Dose (oz)': oz converted to g",
        "'Water temp °F': °F converted to C",
        "'TDS (fraction)': fraction converted to %",
    )


LOG = "Date,Coffee,Method,Dose,Out,"


def rows(cells: list[str], *, date: str = "2026-04-03", dose: str = "18") -> str:
    return "".join(f"\n{date},Huila,espresso,{dose},36,{cell}" for cell in cells)


def test_a_notation_the_header_does_not_give_is_told_with_the_header_to_write(desk: Lay) -> None:
    how = desk(f"{LOG}Brew time{rows(['0:28', '0:31', '0:29'])}").how()
    time = next(one for one in how.columns if one.header == "Brew time")
    assert time.doubt == "3 of 3 cells of 'Brew time' look like minutes:seconds"
    assert "'Brew time (mm:ss)'" in time.remedy
    assert '"Brew time" = { column = "brew_time_s", unit = "mm:ss" }' in time.remedy


@pytest.mark.parametrize(
    ("cells", "unit"),
    [(["0:00:28", "0:00:31", "0:01:00"], "h:mm:ss"), (["0:28:00", "0:31:00"], "mm:ss"), (["0:28", "31"], "mm:ss")],
)
def test_the_header_advised_follows_the_cells(desk: Lay, cells: list[str], unit: str) -> None:
    how = desk(f"{LOG}Brew time (s){rows(cells)}").how()
    assert f"'Brew time ({unit})'" in how.columns[-1].remedy


def test_clock_times_of_a_workbook_under_minutes_and_seconds(desk: Lay) -> None:
    typed = {"file": "book.xlsx", "sheet": "Log", "typed": True, "time_cells": (5,)}
    as_typed = desk(f"{LOG}Brew time (mm:ss){rows(['0:28:00', '2:30:00'])}", **typed)
    assert as_typed.how().columns[-1].conversion == "clock_as_mm_ss"
    assert "so 00:28:00 is 28 s" in as_typed.how().notes[0]
    assert as_typed.parsed().rows["brew_time_s"].to_list() == [28.0, 150.0]
    durations = desk(f"{LOG}Brew time (mm:ss){rows(['0:00:28', '0:02:30'])}", **typed)
    assert durations.how().columns[-1].conversion == "clock_as_h_mm_ss"
    assert durations.parsed().rows["brew_time_s"].to_list() == [28.0, 150.0]


@pytest.mark.parametrize(
    ("cells", "columns"),
    [
        (["28", "31"], ["brewed_at", "brew_time_s"]),
        (["9:15", "14:05"], ["brewed_at", "time_of_day"]),
        (["9:15 am", "2:05 pm"], ["brewed_at", "time_of_day"]),
        (["0:28", "2:31"], ["brewed_at"]),
        (["28:00", "31:00"], ["brewed_at", "brew_time_s"]),
    ],
)
def test_a_column_headed_time_is_what_its_cells_show(desk: Lay, cells: list[str], columns: list[str]) -> None:
    text = "Date,Time,Coffee,Method,Dose,Out" + "".join(f"\n2026-04-03,{cell},Huila,espresso,18,36" for cell in cells)
    how = desk(text).how()
    assert [one.column for one in how.columns if one.position < 2] == columns
    if columns == ["brewed_at"]:
        assert how.unknown == ("Time",)
        assert any("could be the time of day or the brew time" in note for note in how.notes)


def test_time_beside_a_brew_time_is_the_time_of_day(desk: Lay) -> None:
    text = "Time,Brew time,Date,Coffee,Method,Dose\n1:15,28,2026-04-03,Huila,espresso,18"
    assert desk(text).how().columns[0] == ColumnReading(0, "Time", "time_of_day", role="clock")


@pytest.mark.parametrize(
    ("cells", "mark", "said"),
    [
        (["9.5", "9.55"], ".", None),
        (["9,5", "9,55"], ",", "decimal comma"),
        (["9,5", "9,55", "9.6"], ",", "decimal comma; 1 written with a point are set aside"),
        (["9.5", "9.55", "9,6"], ".", "decimal point; 1 written with a comma are set aside"),
        (["9,123", "9,456"], ".", 'decimal_mark = ","'),
        (["9", "10"], ".", None),
    ],
)
def test_decimal_mark_of_the_whole_file(desk: Lay, cells: list[str], mark: str, said: str | None) -> None:
    text = "Date;Coffee;Method;Dose;Out;TDS" + "".join(f"\n2026-04-03;Huila;espresso;18;36;{cell}" for cell in cells)
    how = desk(text, sep=";").how()
    assert how.decimal_mark == mark
    told = [note for note in how.notes if "decimal" in note]
    assert bool(told) == bool(said)
    assert all(said is not None and said in note for note in told)


def test_a_declared_mark_needs_no_evidence(desk: Lay) -> None:
    text = "Date;Coffee;Method;Dose;Out;TDS\n2026-04-03;Huila;espresso;18;36;9,123"
    parsed = desk(text, sep=";", toml='decimal_mark = ","').parsed()
    assert parsed.readings["tds_pct"].to_list() == [9.123]


@pytest.mark.parametrize(
    ("dates", "order", "settled"),
    [
        (["3.4.2026", "25.4.2026"], "day_first", True),
        (["4/3/2026", "4/25/2026"], "month_first", True),
        (["3.4.2026", "5.4.2026"], "day_first", True),
        (["3/4/2026", "5/4/2026"], "iso", False),
        (["3.4.2026", "5/4/2026"], "iso", False),
        (["25.4.2026", "4/25/2026", "3.4.2026"], "iso", False),
        (["2026-04-03", "2026-04-25"], "iso", True),
    ],
)
def test_order_of_dates_of_the_whole_file(desk: Lay, dates: list[str], order: str, settled: bool) -> None:
    text = "Date,Coffee,Method,Dose,Out" + "".join(f"\n{date},Huila,espresso,18,36" for date in dates)
    how = desk(text).how()
    assert (how.date_order, how.date_order_settled) == (order, settled)
    assert settled or any('date_order = "day_first"' in note for note in how.notes)


def test_one_date_column_settles_the_other(desk: Lay) -> None:
    how = desk("lot_id,coffee_id,Roast date\na,c,3.4.2026\nb,c,25.4.2026", file="lots.csv").how()
    assert how.date_order == "day_first"


def test_the_header_may_give_the_order(desk: Lay) -> None:
    how = desk("Date (dd/mm/yyyy),Coffee,Method,Dose\n3/4/2026,Huila,espresso,18").how()
    assert (how.date_order, how.date_order_settled) == ("day_first", True)


def test_an_interpretation_survives_json(desk: Lay) -> None:
    toml = """
    missing = ["-"]
    [constants]
    method = "espresso"
    [combine]
    coffee_id = { from = ["Farm", "Lot no"], join = "/" }
    [words.channeling]
    "bit" = "slight"
    """
    how = desk("Date,Farm,Lot no,Dose,Out,TDS 1,TDS 2,Channeling\n3.4.2026,a,b,18,36,9,9,bit", toml=toml).how()
    assert how.combined and how.words and how.missing and how.inline_readings
    assert from_json(json.loads(json.dumps(to_json(how)))) == how


def test_headers_are_recognised_among_other_lines() -> None:
    assert recognised_headers(["Date", "Coffee", "Dose", "Weather"]) == 3
    assert recognised_headers(["Shots of May", "", ""]) == 0
    assert recognised_headers(["3.4.2026", "Huila", "18"]) == 0
