"""Budgets of stored brews and of their differences, against the law of propagation written out here."""

from __future__ import annotations

import math

import numpy as np
import polars as pl
import pytest
from measuring_lab import files, make_lab

from pipeline.measurement.brew_budget import budget_report, budgeted
from pipeline.measurement.brew_difference import difference_report
from schemas.problem import ProblemError

# measuring_lab: dose 18 g and beverage 288 g on s1 (u 0.05 g, step 0.1 g), strength on r1 (u 0.02 %, step 0.01 %).
# Four brews were read twice, 0.02 % apart: s^2 = 4 * 2 * 0.01^2 / 4 with 4 degrees of freedom.
S_2 = 2 * 0.01**2
STEP_TDS, STEP_MASS = 0.01 / math.sqrt(12), 0.1 * math.sqrt(2 / 12)
SLOPE = 288 / 18


def own_variance(tds: float, *, n: int = 2) -> float:
    """What a brew has to itself, in points^2: scatter of the mean, display steps of strength, dose, beverage."""
    return SLOPE**2 * (S_2 / n + STEP_TDS**2) + ((tds * 288 / 18**2) ** 2 + (tds / 18) ** 2) * STEP_MASS**2


def bias_variance(tds: float) -> float:
    return (SLOPE * 0.02) ** 2 + ((tds * 288 / 18**2) ** 2 + (tds / 18) ** 2) * 0.05**2


def test_a_brew_has_the_budget_that_the_law_of_propagation_gives(gathered):
    found = budgeted(gathered, "p1")

    u_2 = own_variance(1.25) + bias_variance(1.25)
    assert found.budget.value == pytest.approx(20.0)
    assert found.budget.u == pytest.approx(math.sqrt(u_2), rel=1e-9)
    assert found.budget.df == pytest.approx(u_2**2 / ((SLOPE**2 * S_2 / 2) ** 2 / 4), rel=1e-9)
    said = found.sentences()[0]
    assert said.startswith("Brew p1, pour over. Extraction yield 20.00 %, 95 % interval ")
    assert "(2 readings, coverage factor 1.98). Its uncertainty comes from TDS 96 %, dose 4 %." in said


def test_one_reading_takes_its_scatter_from_other_brews(gathered):
    found = budgeted(gathered, "once")

    assert found.budget.u == pytest.approx(math.sqrt(own_variance(1.25, n=1) + bias_variance(1.25)), rel=1e-9)
    assert found.sentences()[-1] == (
        "One reading only on r1: how readings scatter is known from other brews (4 degrees of freedom)."
    )


def test_the_lines_add_up_and_have_units(gathered):
    report = budget_report([budgeted(gathered, "p1"), budgeted(gathered, "steep")], timezone="UTC")

    by_brew = report.frame.partition_by("brew_id", as_dict=True)
    assert list(by_brew) == [("p1",), ("steep",)]
    for lines in by_brew.values():
        assert lines["share_pct"].sum() == pytest.approx(100)
        assert lines["contribution"].to_list() == pytest.approx((lines["u"] * lines["sensitivity"]).to_list())
    units = {row["part"]: row["unit"] for row in by_brew["p1",].iter_rows(named=True)}
    assert (units["TDS scatter"], units["dose bias"]) == ("%", "g")
    assert report.data[0]["df"] == pytest.approx(111.7, abs=0.1)
    assert next(line["df"] for line in report.data[0]["lines"] if line["part"] == "dose bias") is None


def test_a_simulation_stands_beside_the_budget_and_is_the_same_for_the_same_seed(gathered):
    one, two = (budgeted(gathered, "p1", rng=np.random.default_rng(5)) for _ in range(2))

    assert one.drawn.drawn == two.drawn.drawn
    # Student's t with 4 degrees of freedom has variance 4 / 2: the scatter of the mean counts twice (JCGM 101, 6.4.9).
    assert one.drawn.drawn.u == pytest.approx(math.sqrt(one.budget.u**2 + SLOPE**2 * S_2 / 2), rel=0.01)
    assert "simulation" in one.sentences()[1]


@pytest.mark.parametrize(
    ("brew", "said"),
    [
        ("milky", r"Brew milky has no extraction yield.*milk drink.*Read the coffee before the milk goes in\."),
        ("sugary", r"Brew sugary has no extraction yield.*Brix.*brix_factor in lab\.toml\."),
        ("unread", r"Brew unread has no extraction yield.*no reading of strength. Take at least one\."),
        ("quiet", r"Brew quiet: silent has no standard_uncertainty, so no uncertainty can be stated\."),
        ("P01", r"There is no brew P01\. Did you mean p1 or g01\?.*`brewtrials facts` lists them all"),
    ],
)
def test_what_has_no_budget_says_why_and_what_to_do(gathered, brew, said):
    with pytest.raises(ProblemError, match=said):
        budgeted(gathered, brew)


def test_equal_repeats_leave_the_display_step(tmp_path, gathered_from):
    texts = files()
    rows = texts["readings.csv"].splitlines()
    texts["readings.csv"] = "\n".join([rows[0], *(f"p1,r1,1,{k},1.25,tds,black" for k in (1, 2, 3))]) + "\n"
    found = budgeted(gathered_from(make_lab(tmp_path / "lab", tmp_path, texts)), "p1")

    u = math.sqrt(own_variance(1.25) - SLOPE**2 * S_2 / 2 + bias_variance(1.25))
    assert found.budget.u == pytest.approx(u, rel=1e-9)
    assert found.budget.df == math.inf
    assert (
        "All repeats on r1 are equal (2 degrees of freedom): the display step alone counts for their scatter."
        in found.sentences()
    )


def test_readings_in_doubt_are_said_to_be_so_beside_the_budget_and_the_difference(tmp_path, gathered_from):
    texts = files()
    # r1 failed its zero on 6 April; p1 was read on that day.
    texts["brews.csv"] = texts["brews.csv"].replace("p1,house,2026-05-01T08:00", "p1,house,2026-04-06T12:00")
    lab = gathered_from(make_lab(tmp_path / "lab", tmp_path, texts))
    doubted, sound = budgeted(lab, "p1"), budgeted(lab, "p2")

    (said,) = [text for text in doubted.sentences() if text.startswith("Readings in doubt: r1 failed its zero")]
    assert "(2 readings of this brew)" in said
    assert not any("in doubt" in text for text in sound.sentences())
    assert said in difference_report([sound], [doubted], timezone="UTC").parts[0].sentences


def test_a_void_brew_says_so(gathered):
    assert "This brew is void (spilled) and left out of every analysis." in budgeted(gathered, "spilled").sentences()


def test_a_difference_keeps_what_each_brew_has_to_itself_and_cancels_what_they_share(gathered):
    report = difference_report([budgeted(gathered, "p1")], [budgeted(gathered, "p2")], timezone="UTC")

    # The strength's slope is the same, so r1's offset cancels; dose and beverage slopes go with the strength.
    left = ((0.05 * 288 / 18**2) ** 2 + (0.05 / 18) ** 2) * 0.05**2
    u = math.sqrt(own_variance(1.25) + own_variance(1.30) + left)
    assert report.data["value"] == pytest.approx(-0.8)
    assert report.data["u"] == pytest.approx(u, rel=1e-9)
    assert {one["name"]: one["left_u"] for one in report.data["shared"]}["TDS bias"] == pytest.approx(0, abs=1e-12)
    (part,) = report.parts
    said = " ".join(part.sentences)
    assert "Difference, p1 less p2: -0.80 points, 95 % interval -1.43 to -0.17: a difference." in said
    assert "Both sides were read on r1: an offset cancels as far as it moves both yields alike" in said
    assert [row[0] for row in part.rows[:2]] == ["p1: TDS scatter", "p2: TDS scatter"]
    of = report.frame.filter(pl.col("part").is_in(["TDS scatter", "TDS bias"])).select("part", "of").rows()
    assert sorted(of) == [("TDS bias", "r1"), ("TDS scatter", "p1"), ("TDS scatter", "p2")]


def test_a_difference_of_balances_says_that_the_balance_is_part_of_it(gathered):
    report = difference_report([budgeted(gathered, "steep")], [budgeted(gathered, "p1")], timezone="UTC")

    assert any("part of the difference is the balance" in text for text in report.parts[0].sentences)


def test_means_of_several_brews_are_compared_too(gathered):
    sides = [[budgeted(gathered, name) for name in names] for names in (("p1", "p2"), ("p3", "p4"))]
    report = difference_report(*sides, timezone="UTC")

    assert report.data["value"] == pytest.approx((20.0 + 20.8) / 2 - (1.27 + 1.26) / 2 * SLOPE)
    assert "the mean of p1 and p2 less the mean of p3 and p4" in report.parts[0].sentences[1]
    assert report.parts[0].headers[1:3] == ("--brew side alone", "--against side alone")


def test_a_brew_is_not_compared_with_itself(gathered):
    with pytest.raises(ProblemError, match="p1 stands there twice"):
        difference_report([budgeted(gathered, "p1")], [budgeted(gathered, "p1")], timezone="UTC")
