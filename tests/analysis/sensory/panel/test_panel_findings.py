"""The whole report: what it says of invented panels and of the real one, and what it says where little can be told."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from analysis.sensory.panel.labels import assessor_labels
from analysis.sensory.panel.report import panel_report
from analysis.sensory.panel.request import PanelRequest


def _report(frame: pl.DataFrame, **options: object):
    labels = assessor_labels(frame["assessor"].unique(maintain_order=True).to_list())
    request = options.pop("request", PanelRequest())
    return panel_report(frame, request, labels=labels, rng=np.random.default_rng(2), **options)


def _said(report, topic: str = "") -> str:
    return " ".join(f"{one.said} {one.do}" for one in report.findings if topic in ("", one.topic))


def test_a_reversed_scale_is_said_kindly_and_by_label(invent):
    report = _report(invent(np.random.default_rng(5), faults={3: "reversed"}))
    said = _said(report, "assessors")
    assert "Assessor D's scores fall where the others' rise" in said
    assert "Nothing was turned round here" in said
    assert "1 time in 20" in said
    assert "taster-" not in _said(report)


def test_products_that_differ_are_told_apart_with_their_pairs(invent):
    report = _report(invent(np.random.default_rng(9)))
    assert any(one.separates for one in report.attributes)
    assert "allowing for 4 attributes (Holm)" in _said(report, "attributes")
    assert "15 pairs of coffees differ" in _said(report, "pairs")
    assert "Nobody stands apart" in _said(report, "assessors")


@pytest.mark.slow
def test_products_that_do_not_differ_separate_in_few_panels(invent):
    rng = np.random.default_rng(77)
    panels = [_report(invent(rng, product_sd=0.0, attributes=3, products=4)) for _ in range(20)]
    assert sum(any(one.separates for one in report.attributes) for report in panels) <= 4


def test_people_stand_in_the_order_of_their_labels(fries):
    report = _report(fries)
    labels = [one.label for one in report.assessors]
    assert labels == [f"assessor {letter}" for letter in "ABCDEFGHIJKL"]


def test_the_real_panel_as_a_panel_leader_reads_it(fries):
    report = _report(fries)
    assert report.headline.startswith("12 assessors, 3 coffees and 10 sessions: 3,471 scores of 5 attributes.")
    assert "No attribute separates the coffees, allowing for 5 attributes (Holm)" in _said(report, "attributes")
    spread = _said(report, "spread")
    assert "Assessors move against each other from session to session" in spread
    assert "The whole panel moves from session to session" in spread
    assert "grassy" in _said(report, "scale")
    assert "25 of 720 cups" in _said(report, "gaps")
    assert "4 scores skipped" in _said(report, "gaps")


def test_liking_is_kept_apart_and_is_not_consumers(invent):
    frame = invent(np.random.default_rng(9))
    scales = pl.DataFrame(
        {"attribute": ["attribute-0"], "kind": ["liking"], "low": [None], "high": [None]},
        schema={"attribute": pl.String, "kind": pl.String, "low": pl.Float64, "high": pl.Float64},
    )
    report = _report(frame, attributes=scales)
    assert [one.attribute for one in report.opinions] == ["attribute-0"]
    assert "attribute-0" not in [one.attribute for one in report.attributes]
    assert "not consumers'" in _said(report, "liking")
    assert all(
        on.agreement is None for one in report.assessors for on in one.attributes if on.attribute == "attribute-0"
    )


def test_a_serving_order_that_moves_scores_is_found(invent):
    rng = np.random.default_rng(12)
    frame = invent(rng, replicates=1, products=6, assessors=10)
    places = np.concatenate([np.tile(rng.permutation(6) + 1, (4, 1)).reshape(-1) for _ in range(10)])
    frame = frame.with_columns(position=pl.Series(places))
    frame = frame.with_columns(score=pl.col("score") + 2.0 * (pl.col("position") == 1))
    assert "moved with the place in the serving order" in _said(_report(frame), "order")


def test_yes_or_no_goes_by_cochran(invent):
    frame = invent(np.random.default_rng(13), attributes=1, replicates=1, product_sd=3.0)
    report = _report(frame.with_columns(score=(pl.col("score") > 7.5).cast(pl.Float64)))
    (one,) = report.attributes
    assert one.test is None
    assert one.ranks is not None
    assert one.ranks.name == "Cochran's Q"
    assert one.p_adjusted == pytest.approx(one.ranks.p_value)


def _only(frame: pl.DataFrame, expression: pl.Expr) -> pl.DataFrame:
    return frame.filter(expression)


def test_one_assessor(invent):
    frame = _only(invent(np.random.default_rng(3), attributes=2), pl.col("assessor") == "taster-0")
    report = _report(frame)
    assert "one assessor scored it, and one is no panel" in _said(report, "attributes")
    assert "fewer than three assessors" in _said(report, "limits")
    assert all(on.repeatability and on.discrimination for on in report.assessors[0].attributes)


def test_one_product(invent):
    frame = _only(invent(np.random.default_rng(3), attributes=2), pl.col("coffee_id") == "coffee-0")
    report = _report(frame)
    assert "one product was scored, so there is nothing to tell apart" in _said(report, "attributes")
    assert "One product was tasted" in _said(report, "limits")


def test_nothing_repeated(invent):
    report = _report(invent(np.random.default_rng(3), attributes=2, replicates=1))
    assert "Nothing was tasted twice" in _said(report, "limits")
    assert any(one.test for one in report.attributes)


def test_every_score_the_same(invent):
    frame = invent(np.random.default_rng(3), attributes=2).with_columns(score=pl.lit(5.0))
    report = _report(frame)
    assert "every score is the same" in _said(report, "attributes")
    assert "Assessor A gave one score to everything" in _said(report, "assessors")


def test_somebody_who_scored_one_cup(invent):
    frame = invent(np.random.default_rng(3), attributes=2)
    one_cup = (pl.col("coffee_id") == "coffee-0") & (pl.col("replicate") == 1)
    report = _report(_only(frame, (pl.col("assessor") != "taster-2") | one_cup))
    assert "Assessor C tasted one cup" in _said(report, "limits")
    assert report.assessors[2].n_cups == 1
    assert report.assessors[2].n_not_tasted == 11


def test_two_sessions_with_other_attributes_and_other_coffees(invent):
    first = invent(np.random.default_rng(3), attributes=2)
    second = invent(np.random.default_rng(4), attributes=3).with_columns(
        session_id=pl.lit("s2"), coffee_id=pl.concat_str(pl.lit("other-"), pl.col("coffee_id"))
    )
    report = _report(pl.concat([first, second.filter(pl.col("attribute") != "attribute-0")]))
    assert [one.attribute for one in report.attributes] == ["attribute-0", "attribute-1", "attribute-2"]
    assert all(one.test is not None for one in report.attributes)
    assert "session" not in report.attributes[1].model.split(";")[1].replace("assessor by session", "")


def test_half_of_the_cells_missing_still_reports(invent):
    frame = invent(np.random.default_rng(3), attributes=2)
    keep = np.random.default_rng(1).random(frame.height) < 0.5
    report = _report(frame.filter(pl.Series(keep)))
    assert "not tasted" in _said(report, "gaps")
    assert all(one.test is not None for one in report.attributes)
