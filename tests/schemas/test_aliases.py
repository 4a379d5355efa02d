from __future__ import annotations

import re

import pytest

from schemas.aliases import ONLY_IN, WORDS, column_names, words_of
from schemas.aliases_unclear import CLOCK_WORDS, OPEN_TIME, UNCLEAR, WITH_UNIT, WORKED_OUT
from schemas.aliases_units import UNITS, conversion_of
from schemas.columns import COLUMNS
from schemas.contracts import TABLES
from schemas.plain import plain


@pytest.mark.parametrize("table", TABLES)
def test_a_word_names_one_column_of_a_table(table: str) -> None:
    only = ONLY_IN.get(table, {})
    seen: dict[str, str] = {word: column for column, words in only.items() for word in words}
    for column in column_names(table):
        for word in WORDS.get(column, ()):
            if word in seen and word in {w for words in only.values() for w in words}:
                continue
            assert seen.setdefault(word, column) == column, f"{word!r}: {seen[word]} or {column}"


@pytest.mark.parametrize("table", TABLES)
def test_contract_names_always_mean_themselves(table: str) -> None:
    assert {words_of(table)[plain(name)] for name in column_names(table)} == set(column_names(table))


def test_words_are_written_as_matching_sees_them() -> None:
    words = [word for words in WORDS.values() for word in words]
    words += [word for table in ONLY_IN.values() for words in table.values() for word in words]
    words += [*UNCLEAR, *WORKED_OUT, *CLOCK_WORDS, OPEN_TIME]
    assert [word for word in words if plain(word) != word] == []


def test_every_word_belongs_to_a_known_column() -> None:
    assert set(WORDS) <= set(COLUMNS)
    assert {column for table in ONLY_IN.values() for column in table} <= set(COLUMNS)


def test_unclear_words_are_not_in_the_dictionary_of_brews() -> None:
    known = words_of("brews")
    assert [word for word in (*UNCLEAR, *WORKED_OUT, *CLOCK_WORDS, OPEN_TIME) if word in known] == []


def test_a_unit_settles_only_words_that_are_unclear_or_mean_a_text_otherwise() -> None:
    known = words_of("brews")
    for words in WITH_UNIT.values():
        for word in words:
            assert word in UNCLEAR or word == OPEN_TIME or COLUMNS[known[word]].kind == "text"


def test_no_unit_is_written_in_two_ways_for_one_quantity() -> None:
    for conversions in UNITS.values():
        written = [word for words in conversions.values() for word in words]
        assert len(written) == len(set(written))
        assert all(re.fullmatch(r"\S+", word) for word in written)


@pytest.mark.parametrize(
    ("column", "written", "conversion"),
    [
        ("water_temp_c", "°F", "fahrenheit"),
        ("water_temp_c", "deg C", ""),
        ("water_temp_c", "K", None),
        ("dose_g", "oz", "ounces"),
        ("dose_g", "ml", None),
        ("tds_pct", "‰", "permille"),
        ("brew_time_s", "mm:ss", "mm_ss"),
        ("brew_time_s", "hh:mm:ss", "h_mm_ss"),
        ("frozen_days", "days", ""),
        ("frozen_days", "months", None),
        ("coffee_id", "g", None),
    ],
)
def test_conversion_of_a_written_unit(column: str, written: str, conversion: str | None) -> None:
    assert conversion_of(COLUMNS[column], written) == conversion
