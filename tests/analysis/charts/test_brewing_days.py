from __future__ import annotations

from datetime import UTC, date, datetime

import made_up_lab
import polars as pl
import pytest

from analysis.charts.brewing_days import bar_length, brewing_days
from analysis.charts.brews import brew_marks


@pytest.mark.parametrize(
    ("last", "word"),
    [(date(2026, 3, 2), "day"), (date(2026, 5, 15), "day"), (date(2026, 5, 16), "week"), (date(2028, 1, 1), "month")],
)
def test_bars_grow_with_the_log(last, word):
    assert bar_length(date(2026, 3, 2), last)[1] == word


def test_a_bar_of_a_month_ends_where_the_next_begins():
    days = [date(2024, 1, 31), date(2024, 2, 29), date(2026, 3, 1)]
    facts = made_up_lab.made_up_facts(n_brews=3).with_columns(brewed_on=pl.Series(days), is_void=pl.lit(value=False))

    bars = brew_marks(facts).all.select("at", "at_end").rows()

    def ms(year, month):
        return int(datetime(year, month, 1, tzinfo=UTC).timestamp() * 1000)

    assert bars == [(ms(2024, 1), ms(2024, 2)), (ms(2024, 2), ms(2024, 3)), (ms(2026, 3), ms(2026, 4))]


def test_one_day_of_brewing_is_a_narrow_bar_and_counts_brews():
    facts = made_up_lab.made_up_facts(n_brews=9).with_columns(
        brewed_on=pl.lit(date(2026, 3, 2)), is_void=pl.lit(value=False)
    )
    spec = brewing_days(brew_marks(facts).drawn).to_dict()["encoding"]

    start, end = spec["x"]["scale"]["domain"]
    assert end - start == 14 * 86_400_000
    assert spec["y"]["scale"]["domain"] == [0, 9]
