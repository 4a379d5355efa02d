from __future__ import annotations

from datetime import UTC, date, datetime

import polars as pl
import pytest

from pipeline.parse.dates import Moment, read_moment
from pipeline.parse.model import DateOrder
from pipeline.parse.moments import Times, parse_days, parse_times

APRIL_3 = datetime(2026, 4, 3)


@pytest.mark.parametrize(
    ("text", "order", "when", "is_date"),
    [
        ("2026-04-03", "iso", APRIL_3, True),
        ("2026/4/3", "iso", APRIL_3, True),
        ("2026-04-03 09:15", "iso", datetime(2026, 4, 3, 9, 15), False),
        ("2026-04-03T09:15:30.25", "iso", datetime(2026, 4, 3, 9, 15, 30, 250000), False),
        ("2026-04-03T09:15:00+02:00", "iso", datetime(2026, 4, 3, 7, 15, tzinfo=UTC), False),
        ("2026-04-03T09:15Z", "iso", datetime(2026, 4, 3, 9, 15, tzinfo=UTC), False),
        ("3.4.2026", "day_first", APRIL_3, True),
        ("03.04.26", "day_first", APRIL_3, True),
        ("4/3/26", "month_first", APRIL_3, True),
        ("3.4.2026 9:15", "day_first", datetime(2026, 4, 3, 9, 15), False),
        ("4/3/2026, 9:15 PM", "month_first", datetime(2026, 4, 3, 21, 15), False),
        ("4/3/2026 12:05 am", "month_first", datetime(2026, 4, 3, 0, 5), False),
        ("3 Apr 2026", "iso", APRIL_3, True),
        ("3-Apr-26", "iso", APRIL_3, True),
        ("April 3rd, 2026", "iso", APRIL_3, True),
        ("25.3.2026", "iso", datetime(2026, 3, 25), True),
        ("3.3.2026", "iso", datetime(2026, 3, 3), True),
    ],
)
def test_moments_as_people_write_them(text: str, order: DateOrder, when: datetime, is_date: bool) -> None:
    assert read_moment(text, order) == Moment(when, is_date)


@pytest.mark.parametrize(
    ("text", "order", "rule"),
    [
        ("3.4.2026", "iso", "ambiguous_date"),
        ("03/04/26 9:15", "iso", "ambiguous_date"),
        ("3/14/2026", "day_first", "not_a_date"),
        ("31.2.2026", "day_first", "not_a_date"),
        ("26-04-03", "day_first", "not_a_date"),
        ("3.4/2026", "day_first", "not_a_date"),
        ("3.4.1026", "day_first", "not_a_date"),
        ("2026-04-03 25:00", "iso", "not_a_date"),
        ("2026-04-03 13:00 pm", "iso", "not_a_date"),
        ("46115", "iso", "not_a_date"),
        ("9:15", "iso", "not_a_date"),
        ("yesterday", "iso", "not_a_date"),
        ("3 Foo 2026", "iso", "not_a_date"),
    ],
)
def test_what_is_no_moment(text: str, order: DateOrder, rule: str) -> None:
    moment = read_moment(text, order)
    assert not isinstance(moment, Moment)
    assert moment.rule == rule


def berlin(*texts: str | None, order: DateOrder = "iso", typed: bool = False) -> Times:
    return parse_times(pl.Series(texts, dtype=pl.String), order=order, zone="Europe/Berlin", typed=typed)


def test_naive_times_are_local_and_offsets_are_kept() -> None:
    times = berlin("2026-01-15 09:15", "2026-07-15 09:15", "2026-07-15T09:15Z", None)
    assert times.utc.to_list() == [
        datetime(2026, 1, 15, 8, 15, tzinfo=UTC),
        datetime(2026, 7, 15, 7, 15, tzinfo=UTC),
        datetime(2026, 7, 15, 9, 15, tzinfo=UTC),
        None,
    ]
    assert times.rule.to_list() == [None] * 4


def test_clocks_going_forward_and_back() -> None:
    # EU summer time 2026: from 29 March 01:00 UTC to 25 October 01:00 UTC (Directive 2000/84/EC)
    times = berlin("2026-03-29 02:30", "2026-10-25 02:30", "2026-10-25 03:30")
    assert times.rule.to_list() == ["no_such_time", None, None]
    assert times.utc.to_list()[1:] == [
        datetime(2026, 10, 25, 0, 30, tzinfo=UTC),
        datetime(2026, 10, 25, 2, 30, tzinfo=UTC),
    ]
    assert times.repeated_hour == 1


def test_a_bare_day_is_its_local_midnight_even_where_midnight_does_not_exist() -> None:
    assert berlin("2026-04-03").utc[0] == datetime(2026, 4, 2, 22, tzinfo=UTC)
    # Beirut: the clocks went from 00:00 to 01:00 on 31 March 2024 (tz database)
    beirut = parse_times(pl.Series(["2024-03-31", "2024-03-31 00:30"]), order="iso", zone="Asia/Beirut")
    assert beirut.utc[0] == datetime(2024, 3, 30, 22, tzinfo=UTC)
    assert beirut.rule.to_list() == [None, "no_such_time"]


def test_midnight_in_a_workbook_is_a_bare_day() -> None:
    assert berlin("2026-04-03 00:00:00", "2026-04-03", "2026-04-03T09:15:00", typed=True).is_date.to_list() == [
        True,
        True,
        False,
    ]
    assert berlin("2026-04-03 00:00:00").is_date.to_list() == [False]


def test_whole_columns_and_single_cells_are_read_alike() -> None:
    texts = ["3.4.2026", "13.4.2026 9:15", "3 Apr 2026", "2026-04-03", "x", "3.4.26", "13.4.2026 9:15:30"] * 3
    whole = berlin(*texts, order="day_first")
    for place, text in enumerate(texts):
        alone = berlin(text, order="day_first")
        assert (whole.utc[place], whole.rule[place]) == (alone.utc[0], alone.rule[0])
        assert whole.is_date[place] == alone.is_date[0]


def test_days_leave_a_time_of_day_off() -> None:
    days, rule = parse_days(pl.Series(["2026-04-03 14:00", "3.4.2026", "x", None]), order="day_first")
    assert days.to_list() == [date(2026, 4, 3), date(2026, 4, 3), None, None]
    assert rule.to_list() == [None, None, "not_a_date", None]
