"""Where a date decides day and month, its place is a row of a sheet or a line of a text file."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from pipeline.parse.settle import settle_order


def surveyed(*, day_first: bool, month_first: bool) -> tuple[SimpleNamespace, list[SimpleNamespace]]:
    fact = SimpleNamespace(numeric_dates=3, dotted_dates=0, day_first=day_first, month_first=month_first)
    examples = {
        "day_first": SimpleNamespace(text="24/03/2026", line=24),
        "month_first": SimpleNamespace(text="03/25/2026", line=31),
    }
    return SimpleNamespace(facts=[fact], examples=examples), [SimpleNamespace(position=0, date_order=None)]


@pytest.mark.parametrize(("typed", "place"), [(True, "row"), (False, "line")])
def test_the_date_that_decides_is_placed(typed: bool, place: str) -> None:
    found, dates = surveyed(day_first=True, month_first=False)
    section = SimpleNamespace(date_order=None)
    assert settle_order(found, dates, section, typed=typed).notes == (
        f"dates were read day first, as 24/03/2026 in {place} 24 shows",
    )
    found, dates = surveyed(day_first=True, month_first=True)
    (told,) = settle_order(found, dates, section, typed=typed).notes
    assert f"24/03/2026 ({place} 24) has the day first, 03/25/2026 ({place} 31) the month" in told
