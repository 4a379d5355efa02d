from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.parse import mapping as documented
from pipeline.parse.mapping import ColumnRule, CombineRule, Mapping, Section, read_mapping
from pipeline.parse.mapping_file import parse_mapping
from schemas.problem import ProblemError


def parsed(text: str) -> Mapping:
    return parse_mapping(text.encode(), "columns.toml")


def test_an_absent_file_declares_nothing(tmp_path: Path) -> None:
    assert read_mapping(tmp_path) == Mapping()


def test_the_documented_example_is_understood() -> None:
    doc = documented.__doc__
    assert doc is not None
    example = "\n".join(line[4:] for line in doc.splitlines() if line.startswith("    ") or not line.strip())
    mapping = parsed(example)
    assert mapping.general.columns == {
        "Kaffee": ColumnRule("coffee_id"),
        "Temp": ColumnRule("water_temp_c", "F"),
    }
    assert mapping.general.decimal_mark == ","
    assert mapping.general.combine == {"coffee_id": CombineRule(("treatment", "rep"), "-")}
    assert mapping.general.words == {"method": {"Filter": "pour_over"}}
    panel = mapping.section_for("drop/panel-may.csv", "")
    assert (panel.table, list(panel.attributes)) == ("tastings", ["potato", "buttery"])


def test_sections_for_files_and_sheets_win_over_the_general_one() -> None:
    mapping = parsed(
        """
        decimal_mark = ","
        [columns]
        "A" = "dose_g"
        "B" = "water_g"
        [constants]
        method = "espresso"
        [files."log*.csv"]
        decimal_mark = "."
        columns = { "A" = "beverage_g" }
        constants = { site = "bench" }
        [sheets."shots *"]
        table = "brews"
        """
    )
    log = mapping.section_for("2026/LOG-3.csv.gz", "")
    assert (log.decimal_mark, log.columns["A"].column, log.columns["B"].column) == (".", "beverage_g", "water_g")
    assert (log.constants, log.own_constants) == ({"method": "espresso"}, {"site": "bench"})
    assert mapping.section_for("other.csv", "").columns["A"].column == "dose_g"
    assert mapping.section_for("book.xlsx", "Shots May").table == "brews"


def test_several_readings_may_be_declared_by_number() -> None:
    assert parsed('[columns]\n"A" = "tds_pct_2"').general.columns == {"A": ColumnRule("tds_pct", "", 2)}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("colums = 1", "'colums' is no setting here; did you mean columns?"),
        ('[columns]\n"Kaffee" = "cofee_id"', "did you mean coffee_id?"),
        ('[columns]\n"Temp" = { column = "water_temp_c", unit = "K" }', "unit 'K' does not fit water_temp_c"),
        ('[columns]\n"Temp" = { colum = "water_temp_c" }', "did you mean column?"),
        ('[constants]\nmetod = "espresso"', "did you mean method?"),
        ('[words.method]\n"Filter" = "pour over"', "did you mean pour_over?"),
        ('[words.operator]\n"M" = "Mo"', "'operator' is no column with a list here"),
        ('table = "brews"', 'write it under [files."name*.csv"]'),
        ('[files."a.csv"]\ntable = "brew"', "did you mean brews?"),
        ('decimal_mark = ";"', "';' is no decimal_mark here"),
        ('date_order = "day-first"', "did you mean day_first?"),
        ("missing = 'NA'", "should be a list of texts"),
        ('id_from = ["when"]', "'when' is no column of brews here"),
        ('[combine]\ndose_g = { from = ["a"] }', "'dose_g' is no id here"),
        ("a = [", "columns.toml line 1 cannot be understood: a = ["),
        (
            '[constants]\nmethod = "moka"\n\n[constants]\nsite = "bench"',
            "columns.toml line 4 has [constants] a second time (first in line 1)",
        ),
        ('[columns]\n"Uhrzeit" = "time"', "did you mean time_of_day or brew_time_s or"),
        ('[columns]\n"Menge" = "Dry coffee"', "did you mean dose_g?"),
        ('[columns]\n"Uhrzeit" = { column = "time_of_day", unit = "h" }', "a time of day has no unit"),
        ('[constants]\ntime_of_day = "9:15"', "'time_of_day' is no column here"),
        ("columns = 3", "columns should be a table"),
        ("[constants]\nmethod = [1]", "method should be one value"),
    ],
)
def test_what_is_not_understood_is_said_with_the_nearest_name(text: str, said: str) -> None:
    with pytest.raises(ProblemError) as problem:
        parsed(text)
    assert said in str(problem.value)
    assert "columns.toml" in str(problem.value)


def test_a_column_like_no_other_gets_the_three_nearest_names_not_a_hundred() -> None:
    with pytest.raises(ProblemError, match=r"'xyzzy' is no column here; the nearest are \w+, \w+, \w+\.$"):
        parsed('[columns]\n"A" = "xyzzy"')


@pytest.mark.parametrize("name", ["time_of_day", "time of day", "Time of day"])
def test_a_time_of_day_may_be_declared(name: str) -> None:
    assert parsed(f'[columns]\n"Uhrzeit" = "{name}"').general.columns == {"Uhrzeit": ColumnRule("time_of_day")}


def test_a_file_that_is_no_text_is_refused() -> None:
    with pytest.raises(ProblemError, match=r"columns.toml is not plain UTF-8 text"):
        parse_mapping("[columns]\n'Getränk' = 'beverage_g'".encode("latin-1"), "columns.toml")


def test_laying_over_keeps_lists_of_both() -> None:
    both = Section(ignore=("A",), missing=("-",)).under(Section(ignore=("B",)))
    assert (both.ignore, both.missing) == (("A", "B"), ("-",))
