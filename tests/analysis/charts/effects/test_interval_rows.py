from __future__ import annotations

from drawn_rows import description, drawn_rows

from analysis.charts.effects.effect_rows import CHANGE, alike_places, change_row
from analysis.charts.effects.interval_rows import IntervalAxis, IntervalRow, interval_chart, row_domain

ROWS = [
    change_row("A", 0.4, 0.3, 0.5, more="12 brews", hue=0),
    change_row("B", -0.2, -0.9, 0.5, hollow=True),
    change_row("C", 0.1, None, None),
]


def test_every_row_is_drawn_and_only_known_intervals():
    drawn = drawn_rows(interval_chart("Title", ROWS, CHANGE))

    assert [row["estimate"] for row in drawn["estimates"]] == [0.4, -0.2, 0.1]
    assert [(row["low"], row["high"]) for row in drawn["intervals"]] == [(0.3, 0.5), (-0.9, 0.5)]
    assert [row["at"] for row in drawn["zero"]] == [0.0, 0.0, 0.0]
    assert [row["fill"] for row in drawn["estimates"]] == ["var(--fill-0)", "var(--paper)", "var(--ink)"]


def test_the_description_says_every_number():
    said = description(interval_chart("Title", ROWS, CHANGE))

    assert "A: +0.40 points, 95 % interval 0.30 to 0.50, 12 brews." in said
    assert "B: -0.2 points, 95 % interval -0.9 to 0.5." in said


def test_one_huge_interval_does_not_squeeze_the_others_and_is_still_said_in_full():
    rows = [*ROWS[:1] * 5, change_row("wild", 0.2, -40.0, 40.0)]
    drawn = drawn_rows(interval_chart("Title", rows, CHANGE))
    domain = row_domain(rows, CHANGE)

    assert domain.high < 2
    assert drawn["intervals"][-1]["high"] == domain.high
    assert "-40 to 40" in drawn["estimates"][-1]["words"]


def test_a_share_stays_between_its_ends():
    rows = [IntervalRow("r", 98.0, 60.0, 100.0, "98", "98 %")]
    domain = row_domain(rows, IntervalAxis("Share (%)", zero=False, floor=0.0, ceiling=100.0))

    assert domain.high == 100.0


def test_numbers_at_the_right_have_one_number_of_decimals():
    assert [row.side for row in alike_places(ROWS)] == ["+0.40", "-0.20", "+0.10"]
