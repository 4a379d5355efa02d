"""The smallest difference worth talking about, by hand from the invented lab's brews."""

from __future__ import annotations

import math

import polars as pl
import pytest
from measuring_lab import files, make_lab

from analysis.measurement.component import share_words
from pipeline.measurement.method_budget import method_budget, without_words
from pipeline.measurement.method_report import method_report, summary_report
from pipeline.publish.measurement.content import measured_page
from pipeline.publish.measurement.sections.smallest import smallest
from schemas.problem import ProblemError

# As in test_brew_budgets: scatter of a reading 0.01 sqrt(2) % with 4 degrees of freedom, masses on one scale.
SLOPE = 288 / 18
SCATTER_2 = (SLOPE * 0.01) ** 2
T_5, T_3 = 2.570582, 3.182446  # two-sided 95 % quantiles of Student's t, from tables


def display_variance(tds: float) -> float:
    masses = ((tds * 288 / 18**2) ** 2 + (tds / 18) ** 2) * 2 * 0.1**2 / 12
    return SLOPE**2 * 0.01**2 / 12 + masses


def test_two_brews_measured_alike_differ_by_this_much_for_measuring_alone(gathered):
    found = method_budget(gathered, "pour_over").smallest[0]

    # Every brew has the same slope along strength, so the typical brew is the third of five in order of time: p3.
    u = math.sqrt(2 * (SCATTER_2 + display_variance(1.27)))
    assert found.u_difference == pytest.approx(u, rel=1e-6)
    # Welch-Satterthwaite, the scatter of both sides being one pool: u^4 / ((2 * 0.16^2)^2 / 4), cut to a whole number.
    assert found.df == pytest.approx(u**4 / ((2 * SCATTER_2) ** 2 / 4), rel=1e-6)
    assert found.critical == pytest.approx(T_5 * u, rel=1e-6)
    one_more = {more.what: more.u_difference for more in found.purchases}
    assert one_more["reading"] == pytest.approx(math.sqrt(2 * (SCATTER_2 * 2 / 3 + display_variance(1.27))), rel=1e-6)
    assert one_more["sample"] is None  # no brew was sampled twice


def test_two_recipes_are_judged_by_how_brews_to_one_recipe_scatter(gathered):
    once, thrice = (method_budget(gathered, "pour_over", repeats=n).smallest[1] for n in (1, 3))

    # Four brews to the recipe "house": yields 16 * (1.25, 1.30, 1.27, 1.26) %.
    strengths = [1.25, 1.30, 1.27, 1.26]
    sd = SLOPE * math.sqrt(sum((x - 1.27) ** 2 for x in strengths) / 3)
    assert once.u_difference == pytest.approx(math.sqrt(2) * sd, rel=1e-6)
    assert (once.df, once.critical) == (pytest.approx(3), pytest.approx(T_3 * math.sqrt(2) * sd, rel=1e-6))
    assert thrice.u_difference == pytest.approx(math.sqrt(2 / 3) * sd, rel=1e-6)


def test_brews_without_an_interval_are_counted_by_their_reason():
    rows = [(2, 20.0, 0.5, None), (0, None, None, None), (0, None, None, None), (1, None, None, None)]
    rows += [(1, 19.0, None, "R1 has no standard_uncertainty")]
    names = ["n_readings", "extraction_yield_pct", "extraction_yield_expanded_u_pct", "u_note"]
    brews = pl.DataFrame(rows, schema=names, orient="row")
    assert without_words(brews) == (
        "2 brews, no reading of strength; 1 brew, R1 has no standard_uncertainty; 1 brew, a reading but no yield "
        "(`brewtrials flags` says why)"
    )
    assert without_words(brews.head(1)) == ""


def test_the_report_says_both_numbers_and_what_one_more_would_buy(gathered):
    report = method_report(method_budget(gathered, "pour_over"), timezone="UTC")

    said = " ".join(report.parts[0].sentences)
    assert said.startswith("Pour over: 5 of 5 brews have an interval; in the middle it reaches 0.73 points")
    for words in (
        "measuring alone gives differences up to 0.63 points (95 %)",
        "is found in 8 of 10 comparisons",
        "One more sample of each brew: not known, because no brew was sampled twice.",
        "One more brew of each recipe: standard uncertainty of a difference 0.35 instead of 0.49 points, 29 % less.",
    ):
        assert words in said
    assert set(report.frame["unit"]) == {"points"}
    assert report.frame["n"].null_count() == 0


def test_brews_read_on_two_instruments_have_shares_and_no_smallest_difference(gathered):
    found = method_budget(gathered, "batch_brew")

    assert found.shares.startswith("TDS 9")
    assert found.smallest == ()
    assert found.refusals == ("No brew was read on one instrument alone, so no typical brew can be named.",)


def test_an_instrument_without_an_uncertainty_is_named(gathered):
    found = method_budget(gathered, "moka")

    assert found.expanded_u is None
    assert found.summary().startswith("Moka: 1 brew, none with an interval. silent has no standard_uncertainty")


def test_a_method_that_nobody_brewed_is_refused_with_its_neighbour(gathered):
    with pytest.raises(ProblemError, match=r"There are no brews of the method pour-over\. Did you mean pour_over\?"):
        method_budget(gathered, "pour-over")


def test_the_summary_has_a_row_for_every_method(gathered):
    methods = ("batch_brew", "moka", "pour_over")
    report = summary_report([method_budget(gathered, name) for name in methods], timezone="UTC")

    rows = {row[0]: row for row in report.parts[0].rows}
    assert list(rows) == ["batch brew", "moka", "pour over"]
    assert rows["moka"][2:4] == ("0", "not known")
    assert rows["pour over"][3:] == ("+- 0.73 points", "TDS 96 %", "0.63 points (5)", "1.6 points (3)")
    assert [one["method"] for one in report.data] == list(methods)


def test_readings_without_an_instrument_share_nothing(tmp_path, gathered_from):
    texts = {name: text for name, text in files().items() if name in ("brews.csv", "readings.csv")}
    texts["brews.csv"] = texts["brews.csv"].replace(",s1,", ",,")
    rows = [row for row in texts["readings.csv"].splitlines() if row.startswith(("brew_id", "p"))]
    texts["readings.csv"] = "\n".join(rows).replace(",r1,", ",,")
    settings = "[uncertainty]\ntds_pct = 0.03\ndose_g = 0.1\nbeverage_g = 0.5\n"
    found = method_budget(gathered_from(make_lab(tmp_path / "lab", tmp_path, texts, settings)), "pour_over")

    # Nothing says that two brews were read on one instrument, so the lab's 0.03 % counts for each of them; the typical
    # brew is the second of four, p2.
    own = SCATTER_2 + (SLOPE * 0.03) ** 2 + (1.30 * 288 / 18**2 * 0.1) ** 2 + (1.30 / 18 * 0.5) ** 2
    assert found.smallest[0].u_difference == pytest.approx(math.sqrt(2 * own), rel=1e-6)
    said = " ".join(method_report(found, timezone="UTC").parts[0].sentences)
    assert "read on two instruments (their offsets count in full) and two weighing scales" in said
    assert "No instrument is named on the readings, so each brew counts as read on another one." in said


def test_the_page_says_of_brews_without_an_instrument_what_the_command_says(tmp_path, gathered_from):
    texts = {name: text for name, text in files().items() if name in ("brews.csv", "readings.csv")}
    rows = [row for row in texts["readings.csv"].splitlines() if row.startswith(("brew_id", "p"))]
    texts["readings.csv"] = "\n".join(rows).replace(",r1,", ",,")
    texts["brews.csv"] = texts["brews.csv"].replace(",s1,", ",,")
    settings = "[uncertainty]\ntds_pct = 0.03\ndose_g = 0.1\nbeverage_g = 0.5\n"
    gathered = gathered_from(make_lab(tmp_path / "lab", tmp_path, texts, settings))
    page = measured_page(gathered, manifest_number=1)

    told, found = page.smallest[0], method_budget(gathered, "pour_over").smallest[0]
    assert (told.measured.critical, told.measured.detectable) == (found.critical, found.detectable)
    below = smallest(page).html
    assert "No instrument is named on the readings, so each brew counts as read on another one." in below
    assert "two instruments (their offsets count in full) and two weighing scales" in below


def test_page_and_command_give_one_and_the_same_numbers(gathered):
    page = measured_page(gathered, manifest_number=1)

    assert {one.method for one in page.budgets} >= {"batch_brew", "pour_over"}
    for budget, compared in zip(page.budgets, page.smallest, strict=True):
        found = method_budget(gathered, budget.method, repeats=3)
        assert found.shares == share_words(budget.groups)
        assert (found.n_known, found.expanded_u) == (budget.n_brews, budget.half_width)
        for about, one in (("two brews measured", compared.measured), ("two recipes brewed", compared.usual)):
            same = [same for same in found.smallest if same.about == about]
            assert [(same.critical, same.detectable, same.df) for same in same] == (
                [(one.critical, one.detectable, one.df)] if one else []
            )


def test_a_likely_slip_is_left_out_of_the_scatter_of_recipes(tmp_path, gathered_from):
    texts = files()
    texts["readings.csv"] += "slip,r1,1,1,0.125,tds,black\n"
    texts["brews.csv"] += "slip,house,2026-05-01T10:00,ostrin,pour_over,s1,18,320,288,,\n"
    found = method_budget(gathered_from(make_lab(tmp_path / "lab", tmp_path, texts)), "pour_over")

    assert found.n_slips == 1
    assert found.smallest[1].df == pytest.approx(3)
    assert any("Left out of the scatter of recipes: 1 brew flagged" in text for text in
               method_report(found, timezone="UTC").parts[0].sentences)  # fmt: skip
