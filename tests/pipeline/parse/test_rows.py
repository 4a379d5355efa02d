from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime

import polars as pl
import pytest

from pipeline.parse.model import ColumnReading
from pipeline.parse.rows import parse_batch, ragged_reasons
from pipeline.sources.model import RaggedRow, RawSheet
from schemas.contracts import TABLES
from schemas.dtypes import frame_schema
from schemas.reports import REASON_SCHEMA

Lay = Callable[..., "Desk"]  # noqa: F821  (tests/pipeline/parse/conftest.py)

GERMAN = """
Datum;Kaffee;Methode;Mahlgrad;Dose;Getränk;TDS 1;TDS 2;Zeit;Temp
3.4.2026 9:15;Huila;Siebträger;2.5.1;18,1;36,4;9,51;9,55;0:28;93,5
13.4.2026 9:20;Huila;Siebträger;2.5.2;18,05;1.036,4;9,4;;0:30;92
14.4.2026;Huila;Filter;;18.2;36,4;9,4;;0:30;92
"""
GERMAN_TOML = """
[columns]
"Datum" = "brewed_at"
"Kaffee" = "coffee_id"
"Methode" = "method"
"Mahlgrad" = "grind_setting"
"Getränk" = "beverage_g"
"Zeit" = { column = "brew_time_s", unit = "mm:ss" }
[words.method]
"Siebträger" = "espresso"
"""


def reasons_of(frame: pl.DataFrame) -> list[tuple[int, str | None, str | None, str]]:
    return list(frame.select("line", "column", "value", "rule").iter_rows())


def test_a_german_log(desk: Lay) -> None:
    parsed = desk(GERMAN, sep=";", toml=GERMAN_TOML, timezone="Europe/Berlin").parsed()
    wanted = ["line", "brewed_at", "brewed_at_is_date", "coffee_id", "method", "grind_setting", "dose_g", "beverage_g"]
    assert parsed.rows.select(*wanted, "brew_time_s", "water_temp_c", "brew_id").rows() == [
        (2, datetime(2026, 4, 3, 7, 15, tzinfo=UTC), False, "Huila", "espresso", "2.5.1", 18.1, 36.4, 28, 93.5, None),
        (3, datetime(2026, 4, 13, 7, 20, tzinfo=UTC), False, "Huila", "espresso", "2.5.2", 18.05, 1036.4, 30, 92, None),
    ]
    assert parsed.readings.select("line", "sample_no", "reading_no", "tds_pct", "reading_scale").rows() == [
        (2, 1, 1, 9.51, "tds"),
        (2, 1, 2, 9.55, "tds"),
        (3, 1, 1, 9.4, "tds"),
    ]
    assert reasons_of(parsed.reasons) == [
        (4, "dose_g", "18.2", "not_a_number"),
        (4, "method", "Filter", "not_in_list"),
    ]
    assert parsed.reasons["message"][0] == (
        "Dose should be a number, not 18.2; this sheet writes decimals with a comma."
    )
    assert parsed.reasons["fix"][0] == "Write 18,2."
    every_method = "boiled, other"
    assert parsed.reasons["message"][1].endswith(f"cold_brew, steep_release, {every_method}.")
    assert 'under [words.method], write: "Filter" = "..."' in parsed.reasons["fix"][1]


def test_a_declared_time_of_day_joins_its_date(desk: Lay) -> None:
    text = "Datum;Uhrzeit;Coffee;Method;Dose\n2026-04-03;9:15;Huila;espresso;18"
    toml = '[columns]\n"Datum" = "brewed_at"\n"Uhrzeit" = "time of day"'
    laid = desk(text, sep=";", toml=toml)
    assert laid.parsed().rows["brewed_at"].to_list() == [datetime(2026, 4, 3, 9, 15, tzinfo=UTC)]
    assert "'Datum' and 'Uhrzeit' together give brewed_at" in laid.how().notes


CHANNELS = "Date,Coffee,Method,Dose,Channeling"


def test_plain_words_for_no_channeling_are_read_and_a_bare_yes_is_asked_about(desk: Lay) -> None:
    cells = ["no", "None", "NEIN", "0", "slight", "yes", "1", "non"]
    parsed = desk(CHANNELS + "".join(f"\n2026-04-03,c1,espresso,18,{cell}" for cell in cells)).parsed()
    assert parsed.rows["channeling"].to_list() == ["none", "none", "none", "none", "slight"]
    assert parsed.reasons["rule"].to_list() == ["not_in_list"] * 3
    yes, one, non = parsed.reasons["fix"]
    assert yes == (
        "Was it slight or severe? Use one of those words. Or say what it means: in columns.toml, under "
        '[words.channeling], write: "yes" = "..."'
    )
    assert one.startswith("Was it slight or severe?")
    assert non.startswith("Did you mean none?")
    assert non.endswith('"non" = "none"')


def test_a_lab_may_say_what_its_plain_words_mean(desk: Lay) -> None:
    toml = '[words.channeling]\n"yes" = "severe"\n"no" = "slight"'
    text = CHANNELS + "".join(f"\n2026-04-03,c1,espresso,18,{cell}" for cell in ("yes", "no", "0"))
    assert desk(text, toml=toml).parsed().rows["channeling"].to_list() == ["severe", "slight", "none"]


COMFORT = "If this is a totals row, delete it in your log, or leave it: it does no harm."


@pytest.mark.parametrize("word", ["Total", "totals", "SUM", "Average:", "mean", "Summe", "Mittelwert"])
def test_a_row_that_sums_up_a_log_is_told_to_do_no_harm(desk: Lay, word: str) -> None:
    text = f"Date,Coffee,Method,Dose,Out\n2026-04-03,c1,espresso,18,36\n2026-04-04,c1,espresso,18 g,36\n{word},,,36,72"
    parsed = desk(text).parsed()
    by_line = parsed.reasons.group_by("line", maintain_order=True).agg(pl.col("fix").unique())
    assert parsed.rows["line"].to_list() == [2]
    assert by_line.rows() == [(3, ["Write digits only, in g."]), (4, [COMFORT])]


def test_a_totals_row_may_be_named_in_an_id_or_in_a_first_column_nobody_knows(desk: Lay) -> None:
    text = "Sky,Date,Coffee,Method,Dose,Notes\nfine,,Mean,,18,\nSum,,,,36,\nfine,,c1,espresso,18,total"
    reasons = desk(text).parsed().reasons
    comforted = reasons.filter(fix=COMFORT)["line"].unique(maintain_order=True).to_list()
    assert (comforted, reasons["line"].unique(maintain_order=True).to_list()) == ([2, 3], [2, 3, 4])


def test_rows_hold_the_whole_contract(desk: Lay) -> None:
    parsed = desk("coffee_id,Name\nc1,Huila", file="coffees.csv").parsed()
    assert parsed.rows.schema == {"line": pl.Int64(), **frame_schema(list(TABLES["coffees"].columns.values()))}
    assert parsed.readings.columns == ["line", *TABLES["readings"].column_names]
    assert parsed.reasons.schema == REASON_SCHEMA
    brews = desk("Date,Coffee,Method,Dose\n2026-04-03,Huila,espresso,18").parsed().rows
    assert brews.columns == ["line", *TABLES["brews"].column_names, "brewed_at_is_date"]


def test_ids_keep_leading_zeros_and_words_their_list_form(desk: Lay) -> None:
    parsed = desk("brew_id,brewed_at,coffee_id,method,dose_g\n007,2026-04-03,001,Pour-Over,15").parsed()
    assert parsed.rows.select("brew_id", "coffee_id", "method").row(0) == ("007", "001", "pour_over")


BREW = "brew_id,brewed_at,coffee_id,method,dose_g,water_temp_c,run_order,discarded,mass_balance,void_reason\n"


@pytest.mark.parametrize(
    ("row", "found"),
    [
        (",2026-04-03,c1,espresso,18,,,,,", ("brew_id", None, "empty_required")),
        ("b1,2026-04-03,,espresso,18,,,,,", ("coffee_id", None, "empty_required")),
        ("b1,2026-04-03,c1,espresso,abc,,,,,", ("dose_g", "abc", "not_a_number")),
        ("b1,2026-04-03,c1,espresso,inf,,,,,", ("dose_g", "inf", "not_finite")),
        ("b1,2026-04-03,c1,espresso,NaN,,,,,", ("dose_g", "NaN", "not_finite")),
        ("b1,2026-04-03,c1,espresso,1e999,,,,,", ("dose_g", "1e999", "not_finite")),
        ("b1,2026-04-03,c1,espresso,0,,,,,", ("dose_g", "0", "not_positive")),
        ("b1,2026-04-03,c1,espresso,18,151,,,,", ("water_temp_c", "151", "too_high")),
        ("b1,2026-04-03,c1,espresso,18,,1.5,,,", ("run_order", "1.5", "not_a_whole_number")),
        ("b1,2026-04-03,c1,espresso,18,,-1,,,", ("run_order", "-1", "too_low")),
        ("b1,2026-04-03,c1,espresso,18,,,maybe,,", ("discarded", "maybe", "not_yes_or_no")),
        ("b1,yesterday,c1,espresso,18,,,,,", ("brewed_at", "yesterday", "not_a_date")),
        ("b1,3/4/2026,c1,espresso,18,,,,,", ("brewed_at", "3/4/2026", "ambiguous_date")),
        ("b1,2026-04-03,c1,expresso,18,,,,,", ("method", "expresso", "not_in_list")),
        ("b1,2026-04-03,c1,other,18,,,,,", ("mass_balance", None, "balance_unknown")),
    ],
)
def test_hard_rules_of_one_brew(desk: Lay, row: str, found: tuple[str, str | None, str]) -> None:
    parsed = desk(BREW + row).parsed()
    assert reasons_of(parsed.reasons) == [(2, *found)]
    assert parsed.rows.is_empty()


@pytest.mark.parametrize(
    ("table", "header", "row", "found"),
    [
        ("coffees", "coffee_id,moisture_pct", "c,15.1", ("moisture_pct", "15.1", "too_high")),
        ("readings", "brew_id,reading_no,tds_pct", "b,1,0", ("tds_pct", "0", "not_positive")),
        ("readings", "brew_id,reading_no,tds_pct", "b,1,30.1", ("tds_pct", "30.1", "too_high")),
        ("targets", "target_id,quantity,low,high", "t,tds_pct,3,2", ("low", "3.0", "low_above_high")),
        ("targets", "target_id,quantity,low,high", "t,taste,1,2", ("quantity", "taste", "not_in_list")),
        ("tastings", "brew_id,assessor,attribute,score", ",a,sweet,3", ("brew_id", None, "empty_required")),
        ("tastings", "brew_id,assessor,attribute,score", "b,a,taste_balance,3", ("score", "3.0", "too_high")),
        ("tastings", "brew_id,assessor,attribute,score", "b,a,taste_strength,-2.5", ("score", "-2.5", "too_low")),
        ("servings", "session_id,blind_code,brew_id", "s,123,", ("brew_id", None, "empty_required")),
        ("fractions", "brew_id,fraction_no,mass_g,tds_pct", "b,1,-1,5", ("mass_g", "-1", "too_low")),
        ("steeps", "brew_id,t_s,tds_pct", "b,-1,1", ("t_s", "-1", "too_low")),
    ],
)
def test_hard_rules_of_other_tables(desk: Lay, table: str, header: str, row: str, found: tuple[str, ...]) -> None:
    parsed = desk(f"{header}\n{row}").parsed(table)
    assert reasons_of(parsed.reasons) == [(2, *found)]


@pytest.mark.parametrize(
    ("table", "header", "row"),
    [
        ("fractions", "brew_id,fraction_no,mass_g,tds_pct", "b,1,10,0"),
        ("traces", "brew_id,t_s,beverage_g,flow_g_s", "b,0,-0.3,-0.1"),
        ("tastings", "session_id,blind_code,assessor,attribute,score", "s,123,a,taste_balance,-2"),
        ("readings", "brew_id,reading_no,tds_pct", "b,1,30"),
    ],
)
def test_what_is_allowed(desk: Lay, table: str, header: str, row: str) -> None:
    parsed = desk(f"{header}\n{row}").parsed(table)
    assert (parsed.rows.height, parsed.reasons.height) == (1, 0)


def test_an_empty_sample_is_the_first_and_an_empty_scale_dissolved_solids(desk: Lay) -> None:
    parsed = desk("brew_id,reading_no,tds_pct,sample_no\nb,1,9,\nb,1,9,2").parsed("readings")
    assert parsed.rows.select("sample_no", "reading_scale").rows() == [(1, "tds"), (2, "tds")]


def test_a_row_says_everything_that_is_wrong_with_it(desk: Lay) -> None:
    parsed = desk(f"{BREW}b1,yesterday,,expresso,-1,,,,,\nb2,2026-04-03,c1,espresso,18,,,,,").parsed()
    assert sorted(parsed.reasons["rule"]) == ["empty_required", "not_a_date", "not_in_list", "not_positive"]
    assert parsed.rows["brew_id"].to_list() == ["b2"]


def test_a_void_brew_is_held_to_its_key_and_types_only(desk: Lay) -> None:
    void = desk(f"{BREW}b1,2026-04-03,,other,0,200,,,,wrong row\nb2,2026-04-03,c,espresso,x,,,,,oops\n,,,,,,,,,oops")
    parsed = void.parsed()
    assert parsed.rows.select("brew_id", "dose_g", "water_temp_c").rows() == [("b1", 0.0, 200.0)]
    assert reasons_of(parsed.reasons) == [(3, "dose_g", "x", "not_a_number"), (4, "brew_id", None, "empty_required")]


LOG = "Date,Coffee,Method,Dose,TDS 1,TDS 2,sample_filtered,instrument_id\n2026-04-03,c1,espresso,18,"


def test_inline_readings_pass_over_empty_cells(desk: Lay) -> None:
    parsed = desk(f"{LOG},9.5,yes,r1").parsed()
    names = ("line", "brew_id", "reading_no", "tds_pct", "sample_filtered", "instrument_id")
    assert parsed.readings.select(names).rows() == [(2, None, 2, 9.5, True, "r1")]


@pytest.mark.parametrize(
    ("cells", "found"),
    [
        ("9.5,99,yes,r1", ("tds_pct_2", "99", "too_high")),
        ("0,9.5,yes,r1", ("tds_pct_1", "0", "not_positive")),
        ("9.5,x,yes,r1", ("tds_pct_2", "x", "not_a_number")),
        ("9.5,9.5,perhaps,r1", ("sample_filtered", "perhaps", "not_yes_or_no")),
    ],
)
def test_a_failing_reading_sets_the_whole_row_aside(desk: Lay, cells: str, found: tuple[str, str, str]) -> None:
    parsed = desk(LOG + cells).parsed()
    assert reasons_of(parsed.reasons) == [(2, *found)]
    assert parsed.rows.is_empty()
    assert parsed.readings.is_empty()


def test_brix_by_header(desk: Lay) -> None:
    parsed = desk("Date,Coffee,Method,Dose,Brix\n2026-04-03,c1,espresso,18,11.2").parsed()
    assert parsed.readings.select("tds_pct", "reading_scale").row(0) == (11.2, "brix")


def test_date_and_time_of_day_together(desk: Lay) -> None:
    text = """
Date,Time of day,Coffee,Method,Dose
2026-04-03,9:15,c1,espresso,18
2026-04-03,,c1,espresso,18
2026-04-03,29:15,c1,espresso,18
3.4.,9:15,c1,espresso,18
"""
    parsed = desk(text).parsed()
    assert parsed.rows.select("brewed_at", "brewed_at_is_date").rows() == [
        (datetime(2026, 4, 3, 9, 15, tzinfo=UTC), False),
        (datetime(2026, 4, 3, tzinfo=UTC), True),
    ]
    assert reasons_of(parsed.reasons) == [
        (4, "time_of_day", "29:15", "not_a_date"),
        (5, "brewed_at", "3.4. 9:15", "not_a_date"),
    ]


def test_a_workbooks_date_and_clock_cells_together(desk: Lay) -> None:
    text = "Date,Time,Coffee,Method,Dose\n2026-04-03 00:00:00,9:15:00,c1,espresso,18"
    parsed = desk(text, file="book.xlsx", sheet="Log", typed=True, time_cells=(1,)).parsed()
    assert parsed.rows["brewed_at"].to_list() == [datetime(2026, 4, 3, 9, 15, tzinfo=UTC)]


def test_repeated_hours_are_counted(desk: Lay) -> None:
    text = "Date,Coffee,Method,Dose\n2026-10-25 02:30,c1,espresso,18\n2026-10-26 02:30,c1,espresso,18"
    counts = desk(text, timezone="Europe/Berlin").parsed().counts
    assert counts == {"times in an hour that the clocks repeat, read as the first of the two": 1}


def test_units_of_the_header(desk: Lay) -> None:
    text = "Date,Coffee,Method,Dose (oz),Temp °F,TDS (fraction)\n2026-04-03,c1,immersion,1,200,0.0137"
    parsed = desk(text).parsed()
    # 1 oz = 28.349523125 g; (200 - 32) / 1.8 = 93.333...
    assert parsed.rows["dose_g"].to_list() == [28.349523125]
    assert parsed.rows["water_temp_c"].to_list() == [pytest.approx(93.3333333, abs=1e-7)]
    assert parsed.readings["tds_pct"].to_list() == [1.37]


def test_a_converted_value_is_judged_and_told_in_the_contracts_unit(desk: Lay) -> None:
    parsed = desk("Date,Coffee,Method,Dose,Temp °F\n2026-04-03,c1,espresso,18,500").parsed()
    assert parsed.reasons.select("value", "message").row(0) == (
        "500",
        "water_temp_c is 260 C; it cannot be above 150.",
    )


def test_fahrenheit_without_a_word_names_the_header_to_write(desk: Lay) -> None:
    fix = desk("Date,Coffee,Method,Dose,Temp\n2026-04-03,c1,espresso,18,200").parsed().reasons["fix"][0]
    assert "Head the column 'Temp (°F)'" in fix
    assert '"Temp" = { column = "water_temp_c", unit = "°F" }' in fix


def test_minutes_and_seconds_without_a_word_are_set_aside_with_the_header_to_write(desk: Lay) -> None:
    text = "Date,Coffee,Method,Dose,Brew time" + "\n2026-04-03,c1,espresso,18,0:28" * 28
    reasons = desk(text).parsed().reasons
    assert reasons.height == 28
    assert reasons["message"][0] == (
        "Brew time should be a number, not 0:28; 28 of 28 cells of 'Brew time' look like minutes:seconds."
    )
    assert "'Brew time (mm:ss)'" in reasons["fix"][0]


@pytest.mark.parametrize(
    ("cell", "said"),
    [
        ("9,123", "Write 9.123 or 9123, or add at the top of columns.toml: decimal_mark"),
        ("18,5", "Write 18.5."),
        ("n/a", 'missing = ["n/a"]'),
        ("18 g", "Write digits only, in g."),
    ],
)
def test_what_to_do_about_a_cell_that_is_no_number(desk: Lay, cell: str, said: str) -> None:
    text = f"Date;Coffee;Method;Dose;Out\n2026-04-03;c1;espresso;18.1;36\n2026-04-03;c1;espresso;{cell};36.5"
    assert said in desk(text, sep=";").parsed().reasons["fix"][0]


def test_declared_marks_of_a_missing_value_are_empty_cells(desk: Lay) -> None:
    text = "Date,Time of day,Coffee,Method,Dose,Out\n2026-04-03,-,c1,espresso,18,NA"
    parsed = desk(text, toml='missing = ["NA", "-"]').parsed()
    assert parsed.reasons.is_empty()
    assert parsed.rows["beverage_g"].to_list() == [None]


def test_a_combined_id_needs_all_its_parts(desk: Lay) -> None:
    toml = '[combine]\ncoffee_id = { from = ["Farm", "Lot no"], join = "/" }'
    parsed = desk(
        "Date,Farm,Lot no,Method,Dose\n2026-04-03,a,1,espresso,18\n2026-04-03,a,,espresso,18", toml=toml
    ).parsed()
    assert parsed.rows["coffee_id"].to_list() == ["a/1"]
    assert reasons_of(parsed.reasons) == [(3, "coffee_id", None, "empty_required")]


def test_a_constant_fills_the_empty_cells_of_a_column_that_came_later(desk: Lay) -> None:
    """A mended row may bring a column that its sheet did not have."""
    how = desk("Date,Coffee,Dose\n2026-04-03,c1,18", constants={"method": "espresso"}).how()
    wider = replace(how, columns=(*how.columns, ColumnReading(3, "method", "method")))
    batch = pl.DataFrame(
        {"line": [2, 3], "c0": ["2026-04-03"] * 2, "c1": ["c1"] * 2, "c2": ["18"] * 2, "c3": ["moka", None]}
    )
    assert parse_batch(batch, wider).rows["method"].to_list() == ["moka", "espresso"]


def test_a_batch_may_be_empty_or_one_row(desk: Lay) -> None:
    laid = desk(GERMAN, sep=";", toml=GERMAN_TOML)
    how = laid.how()
    batch = next(iter(laid.sheet.batches()))
    whole = parse_batch(batch, how)
    assert parse_batch(batch.clear(), how).rows.schema == whole.rows.schema
    ones = [parse_batch(batch[place], how) for place in range(batch.height)]
    assert pl.concat(one.rows for one in ones).equals(whole.rows)
    assert pl.concat(one.readings for one in ones).equals(whole.readings)
    assert pl.concat(one.reasons for one in ones).equals(whole.reasons)


def test_ragged_rows_are_set_aside(desk: Lay) -> None:
    laid = desk("coffee_id,Name\nc1,Huila", file="coffees.csv")
    sheet = RawSheet(
        "coffees.csv", "", ("coffee_id", "Name"), laid.sheet.batches, 2, 0, ragged=(RaggedRow(3, ("c2",)),)
    )
    found = ragged_reasons(sheet, laid.how())
    assert reasons_of(found) == [(3, None, None, "ragged_row")]
    assert found["message"][0] == "The row has 1 cells, the header has 2."
    assert "separator" in found["fix"][0]
    total = replace(sheet, ragged=(RaggedRow(3, ("Total",)),))
    assert ragged_reasons(total, laid.how())["fix"].to_list() == [COMFORT]
    assert ragged_reasons(laid.sheet, laid.how()).schema == REASON_SCHEMA
