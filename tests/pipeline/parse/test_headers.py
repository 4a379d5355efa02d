from __future__ import annotations

import pytest

from pipeline.parse.found import Found
from pipeline.parse.mapping import Section
from pipeline.parse.match import match_headers
from pipeline.parse.one_header import Unread, one_header


@pytest.mark.parametrize(
    ("header", "column", "conversion"),
    [
        ("Dose", "dose_g", ""),
        ("Dose (g)", "dose_g", ""),
        ("dose g", "dose_g", ""),
        ("DOSE_G", "dose_g", ""),
        ("Dry coffee", "dose_g", ""),
        ("Coffee in [mg]", "dose_g", "milligrams"),
        ("In (g)", "dose_g", ""),
        ("Out", "beverage_g", ""),
        ("Beverage oz", "beverage_g", "ounces"),
        ("Cup weight", "beverage_g", ""),
        ("Yield (g)", "beverage_g", ""),
        ("Yield (oz)", "beverage_g", "ounces"),
        ("Coffee (g)", "dose_g", ""),
        ("Coffee", "coffee_id", ""),
        ("Bean(s)", "coffee_id", ""),
        ("Water in", "water_g", ""),
        ("Water temp °F", "water_temp_c", "fahrenheit"),
        ("Water temp [C]", "water_temp_c", ""),
        ("Temp, deg F", "water_temp_c", "fahrenheit"),
        ("Temp in °C", "water_temp_c", ""),
        ("Brew time (mm:ss)", "brew_time_s", "mm_ss"),
        ("Brew time (min)", "brew_time_s", "minutes"),
        ("Shot time", "brew_time_s", ""),
        ("Time (s)", "brew_time_s", ""),
        ("Time mm:ss", "brew_time_s", "mm_ss"),
        ("TDS %", "tds_pct", ""),
        ("TDS (fraction)", "tds_pct", "fraction"),
        ("Strength", "tds_pct", ""),
        ("Barista (initials)", "operator", ""),
        ("Channelling", "channeling", ""),
        ("Grinder setting", "grind_setting", ""),
        ("Pressure (psi)", "pressure_bar", "psi"),
        ("Date", "brewed_at", ""),
    ],
)
def test_headers_of_a_log_of_brews(header: str, column: str, conversion: str) -> None:
    found = one_header(3, header, "brews")
    assert isinstance(found, Found)
    assert (found.position, found.header, found.column, found.conversion) == (3, header, column, conversion)


@pytest.mark.parametrize(
    ("table", "header", "column"),
    [
        ("traces", "Time", "t_s"),
        ("traces", "Weight", "beverage_g"),
        ("readings", "Date", "read_at"),
        ("calibrations", "Date", "checked_at"),
        ("coffees", "Roast date", "roasted_on"),
        ("coffees", "Coffee", "coffee_id"),
        ("tastings", "Score (0-100)", "score"),
        ("tastings", "Panelist", "assessor"),
        ("fractions", "Cup", "fraction_no"),
    ],
)
def test_a_word_means_what_its_table_makes_of_it(table: str, header: str, column: str) -> None:
    found = one_header(0, header, table)
    assert isinstance(found, Found)
    assert found.column == column


@pytest.mark.parametrize("header", ["Weather", "Coffee roaster", "Dose notes", "", "??"])
def test_other_words_are_unknown_without_a_question(header: str) -> None:
    assert one_header(0, header, "brews") == Unread()


@pytest.mark.parametrize(
    ("header", "said"),
    [
        ("Yield", 'head it \'Yield (g)\', or add under [columns] in columns.toml: "Yield" = "beverage_g"'),
        ("Yield %", "worked out here"),
        ("EY", "worked out here"),
        ("Shot no", "could be brew_id or run_order"),
        ("Refractometer", "could be instrument_id or tds_pct"),
        ("Water (ml)", "ml is a volume, not a mass"),
        ("Dose (scoops)", "scoops is no unit of dose_g"),
        ("Date (UTC)", "write each time with its offset"),
    ],
)
def test_what_is_not_clear_is_asked(header: str, said: str) -> None:
    found = one_header(0, header, "brews")
    assert isinstance(found, Unread)
    assert said in found.note


def columns(header: list[str]) -> dict[str, str]:
    match = match_headers(header, "brews", Section(), {})
    return {one.header: one.column for one in match.found}


def test_the_contracts_own_name_wins_over_a_word() -> None:
    match = match_headers(["Dose", "dose_g"], "brews", Section(), {})
    assert [one.header for one in match.found] == ["dose_g"]
    assert match.unknown == ("Dose",)


def test_two_words_for_one_column_are_both_left_and_asked_about() -> None:
    match = match_headers(["Beans", "Dose", "Coffee"], "brews", Section(), {})
    assert [one.header for one in match.found] == ["Dose"]
    assert match.unknown == ("Beans", "Coffee")
    assert "'Beans' and 'Coffee' could each be coffee_id" in match.notes[0]


def test_numbered_readings_keep_their_numbers_and_leave_a_mean_out() -> None:
    match = match_headers(["TDS", "TDS 1", "TDS #2", "TDS (3)"], "brews", Section(), {})
    assert [(one.header, one.number) for one in match.found] == [("TDS 1", 1), ("TDS #2", 2), ("TDS (3)", 3)]
    assert match.unknown == ("TDS",)
    assert "may be their mean" in match.notes[0]


def test_columns_about_the_reading_need_a_reading() -> None:
    assert columns(["dose_g", "instrument_id", "sample_filtered"]) == {"dose_g": "dose_g"}
    assert columns(["dose_g", "instrument_id", "TDS"])["instrument_id"] == "instrument_id"


def test_brix_is_said_by_the_header() -> None:
    match = match_headers(["Dose", "TDS (Brix)"], "brews", Section(), {})
    assert match.constants == {"reading_scale": "brix"}
    assert "holds dissolved solids, not Brix" in match_headers(["Brix"], "steeps", Section(), {}).notes[0]


def test_lab_constants_fill_brews_but_elsewhere_only_what_is_required() -> None:
    lab = {"method": "espresso", "coffee_id": "c1", "operator": "Mo"}
    assert match_headers(["Dose", "Barista"], "brews", Section(), lab).constants == {
        "method": "espresso",
        "coffee_id": "c1",
    }
    assert match_headers(["target_id", "quantity"], "targets", Section(), lab).constants == {}
    assert match_headers(["lot_id"], "lots", Section(), lab).constants == {"coffee_id": "c1"}
