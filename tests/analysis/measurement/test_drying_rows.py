"""Hard rules of a worksheet's row, and worksheets from file to strength."""

from __future__ import annotations

import polars as pl
import pytest

from analysis.measurement.drying import dried_strengths
from analysis.measurement.drying_rows import drying_reasons
from schemas.lab import LabSettings
from schemas.reports import REASON_SCHEMA
from tests.analysis.measurement.made_up_dryings import dish, worksheet

BREWS = "brew_id,brewed_at,coffee_id,method,dose_g,beverage_g\na,2026-03-02T09:00,c,pour_over,15,220\n"
INSTRUMENTS = "instrument_id,kind,resolution,standard_uncertainty,unit\nfine,scale,0.0001,0.0002,g\noven-1,oven,,,\n"
HEADER = (
    "Oven run,brew_id,Oven,Dish no,Weighing,Blank,scale_id,"
    "Empty dish (g),Dish + sample (g),Dish + dry (g),Oven temp (C),Date\n"
)


def reasons(*rows):
    return drying_reasons(worksheet(*rows).with_row_index("line").cast({"line": pl.Int64}))


@pytest.mark.parametrize(
    ("row", "rule", "words"),
    [
        (dish("a", 1, 30.0, 35.0, 30.0), "dry_not_above_dish", "30 g is not more than the empty dish (30 g)"),
        (dish("a", 1, 30.00015, 35.0, 30.0001), "dry_not_above_dish", "than the empty dish (30.00015 g)"),
        (dish("a", 1, 30.0, 35.0, 35.0001), "dry_above_sample", "35.0001 g is more than dish_plus_sample_g (35 g)"),
        (dish(None, 1, 30.0, 35.0, 30.1), "empty_required", "brew_id is empty"),
        (dish(None, 1, 30.0, 30.1, 30.2, is_blank=True), "dry_above_sample", "30.2 g is more"),
    ],
)  # fmt: skip
def test_a_row_that_cannot_be(row, rule, words):
    found = reasons(dish("b", 1, 30.0, 35.0, 30.1), row)
    assert dict(found.schema) == REASON_SCHEMA
    assert found.select("line", "table", "rule").rows() == [(1, "dryings", rule)]
    assert words in found["message"][0]


@pytest.mark.parametrize(
    "row",
    [
        dish("a", 1, 30.0, 35.0, 30.0001),
        dish("a", 1, 30.0, 35.0, 35.0),  # nothing dried yet
        dish("a", 1, None, None, 30.1),
        dish(None, 1, 30.0, None, 29.9999, is_blank=True),
    ],
)
def test_a_row_that_can_be(row):
    assert reasons(row).is_empty()


def test_all_weights_upside_down_break_a_rule_whatever_their_order():
    for empty, full, dry in ((35.0, 30.0, 30.1), (30.1, 30.0, 35.0), (35.0, 30.1, 30.0), (30.0, 30.1, 35.0)):
        assert not reasons(dish("a", 1, empty, full, dry)).is_empty(), (empty, full, dry)


def take(lab, worksheet_text):
    lab.take("brews.csv", BREWS)
    lab.take("instruments.csv", INSTRUMENTS)
    return lab.take("dryings.csv", HEADER + worksheet_text)


def test_a_worksheet_in_own_words_goes_from_file_to_strength(lab):
    report = take(
        lab,
        "r1,a,oven-1,1,1,,fine,30.0000,35.0000,30.0655,105,2026-03-02T16:00\n"
        "r1,a,oven-1,1,2,,fine,,,30.0653,105,2026-03-02T17:30\n"
        "r1,,oven-1,1,1,yes,fine,28.0000,,28.0003,105,2026-03-02T17:30\n",
    )
    (entry,) = report.entries
    assert (entry.table, entry.taken_in, entry.set_aside, entry.unknown_columns) == ("dryings", 3, 0, ())

    (brew,) = dried_strengths(
        lab.current("dryings"), lab.current("instruments"), lab.current("brews"), settings=LabSettings()
    ).brews
    assert brew.tds_pct == pytest.approx(1.3)  # (0.0653 - 0.0003) / 5


def test_rows_that_break_the_contract_are_set_aside(lab):
    report = take(
        lab,
        "r1,a,oven-1,1,1,,fine,30.0000,35.0000,30.0655,105,2026-03-02T16:00\n"
        "r1,a,oven-1,1,2,,fine,,,,105,2026-03-02T17:30\n"  # nothing weighed
        "r1,a,oven-1,1,3,,fine,-30.0,,30.0653,105,2026-03-02T17:30\n"
        "r1,a,oven-1,1,4,,fine,,,30.0653,1050,2026-03-02T17:30\n"
        "r1,,oven-1,1,5,,fine,30.0,35.0,30.0653,105,2026-03-02T17:30\n"  # of no brew and no blank dish
        "r1,zz,oven-1,1,1,,fine,30.0,35.0,30.0653,105,2026-03-02T17:30\n",
    )
    (entry,) = report.entries
    assert (entry.taken_in, entry.set_aside) == (1, 5)
    assert sorted(lab.list("set_aside").select("line", "rule").rows()) == [
        (3, "empty_required"), (4, "not_positive"), (5, "too_high"), (6, "empty_required"), (7, "unknown_id"),
    ]  # fmt: skip


def test_two_weighings_under_one_number_are_asked_about(lab):
    report = take(
        lab,
        "r1,a,oven-1,1,1,,fine,30.0000,35.0000,30.0655,105,2026-03-02T16:00\n"
        "r1,a,oven-1,1,1,,fine,30.0000,35.0000,30.0653,105,2026-03-02T17:30\n",
    )
    assert report.entries[0].set_aside == 2
    assert set(lab.list("set_aside")["rule"]) == {"key_clash"}


def test_weights_that_cannot_be_are_set_aside_at_ingest_and_conserved(lab):
    report = take(
        lab,
        "r1,a,oven-1,1,1,,fine,30.0000,35.0000,30.0655,105,2026-03-02T16:00\n"
        "r1,a,oven-1,1,2,,fine,30.0000,35.0000,29.9000,105,2026-03-02T17:30\n"  # less than the dish
        "r1,a,oven-1,1,3,,fine,30.0000,35.0000,36.0000,105,2026-03-02T17:30\n"  # more than with the sample
        "r1,,oven-1,1,4,no,fine,30.0000,35.0000,30.0653,105,2026-03-02T17:30\n",  # of no brew, and no blank dish
    )
    (entry,) = report.entries
    assert (entry.rows_read, entry.taken_in, entry.set_aside, entry.adds_up) == (4, 1, 3, True)
    assert sorted(lab.list("set_aside").select("line", "rule").rows()) == [
        (3, "dry_not_above_dish"),
        (4, "dry_above_sample"),
        (5, "empty_required"),
    ]
