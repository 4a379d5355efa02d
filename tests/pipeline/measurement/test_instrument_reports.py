"""Instruments of a stored lab: checks, doubts, corrections with an oven, agreement, and weights that do not add up."""

from __future__ import annotations

import math
import tomllib

import polars as pl
import pytest
from measuring_lab import BOTH, LAB_TOML, files, make_lab

from pipeline.measurement.agreement_report import compared
from pipeline.measurement.brew_budget import budgeted
from pipeline.measurement.instrument_report import instruments_report
from pipeline.measurement.method_budget import method_budget
from pipeline.measurement.method_report import summary_report
from schemas.problem import ProblemError


@pytest.fixture(scope="module")
def report(gathered):
    return instruments_report(gathered, tolerance_pct=0.1)


def said(report, title: str) -> str:
    return " ".join(next(part.sentences for part in report.parts if part.title.startswith(title)))


def numbers(report, **where: str) -> list[float]:
    found = report.frame
    for column, value in where.items():
        found = found.filter(pl.col(column) == value)
    return found["value"].to_list()


def test_a_failed_check_puts_the_time_around_it_in_doubt(report):
    assert said(report, "r1 ").startswith(
        "r1 failed its zero check on 6 April 2026 08:00: it read 0.05 % where 0.00 % was due, and 0.02 % either way is "
        "allowed; from 30 March 2026 08:00 until 13 April 2026 08:00, readings on r1 are in doubt."
    )
    assert numbers(report, about="in doubt") == [pytest.approx(0.05)]
    basis = report.frame.filter(about="in doubt")["basis"][0]
    assert basis == (
        "failed 2026-04-06T08:00:00+00:00; in doubt from 2026-03-30T08:00:00+00:00 until 2026-04-13T08:00:00+00:00"
    )


def test_the_block_of_a_correction_that_is_called_for_can_be_pasted(report, tmp_path, gathered_from):
    part = next(part for part in report.parts if part.title.startswith("r2 "))
    block = tomllib.loads(part.block)["correction"]["r2"]
    # Two bottles and four dried brews, all read 0.04 high.
    assert block["offset"] == pytest.approx(0.04, abs=0.005)
    assert block["slope"] == pytest.approx(1.0, abs=0.005)

    corrected = gathered_from(make_lab(tmp_path / "lab", tmp_path, files(), LAB_TOML + part.block))
    on_r2 = corrected.readings.filter((pl.col("instrument_id") == "r2") & (pl.col("brew_id") == "a1"))
    assert on_r2["strength_pct"].to_list() == pytest.approx([t - 0.04 for t in on_r2["tds_pct"]], abs=0.005)
    again = instruments_report(corrected, instrument_id="r2")
    assert again.parts[0].block == ""
    assert "lab.toml corrects every reading on r2" in said(again, "r2 ")
    words = "Every reading is corrected, as lab.toml says: r2: (reading - 0.04"
    assert words in said(again, "r1 and r2")
    report = summary_report([method_budget(corrected, "batch_brew")], timezone="UTC")
    assert any(text.startswith(words) for text in report.parts[0].sentences)
    assert any(text.startswith(words) for text in budgeted(corrected, "a1").sentences())


def test_a_correction_that_is_not_called_for_is_offered_only_to_who_asks(gathered, report):
    assert "No correction is called for" in said(report, "r1 ")
    assert next(part.block for part in report.parts if part.title.startswith("r1 ")) == ""
    alone = instruments_report(gathered, instrument_id="r1")
    assert "offset" in tomllib.loads(alone.parts[0].block)["correction"]["r1"]


def test_dried_samples_serve_the_correction_and_not_the_passing_of_checks(gathered):
    record = next(one for one in gathered.records() if one.instrument.instrument_id == "r2")

    assert len(record.instrument.checks) == 6
    assert record.correction.n_checks == 6 + 4
    # Half a percent of every strength may have gone with the steam; more dishes do not make that smaller.
    assert record.correction.slope_u > 0
    assert record.correction.height_u > 0


def test_two_instruments_on_the_same_samples_are_compared(gathered, report):
    pair = next(one for one in compared(gathered) if (one.a, one.b) == ("r1", "r2"))

    # r2 - r1 is 0.04, 0.02, 0.04, ...: mean 0.03, standard deviation sqrt(6 * 0.01^2 / 5), t(5) = 2.570582.
    half = 2.570582 * math.sqrt(6 * 0.01**2 / 5) / math.sqrt(6)
    assert (pair.n_brews, pair.bias.value) == (6, pytest.approx(0.03))
    assert (pair.bias.low, pair.bias.high) == pytest.approx((0.03 - half, 0.03 + half), rel=1e-6)
    words = said(report, "r1 and r2")
    assert words.startswith("r2 reads 0.030 % TDS higher than r1 on average (95 % interval +0.019 to +0.041).")
    assert "One may stand in for the other within 0.100 % TDS either way." in words


def test_the_oven_is_the_one_relied_on(gathered, report):
    pair = next(one for one in compared(gathered) if (one.a, one.b) == ("drying oven", "r1"))

    assert pair.n_brews == 4
    assert pair.bias.value == pytest.approx(0.01, abs=1e-4)
    assert "r1 reads 0.010 % TDS higher than drying oven" in said(report, "drying oven and r1")
    assert "No brew was measured on both: drying oven with silent, r1 with silent" in said(report, "Not compared")
    dried = dict(zip(report.frame.filter(about="drying")["subject"], numbers(report, about="drying"), strict=True))
    assert dried == {name: pytest.approx(BOTH[name] - 0.01, abs=2e-4) for name in ("a1", "a2", "a3", "a4")}
    assert "Drying ovens and hot dishes burn." in said(report, "Strength by drying")


def test_an_oven_is_asked_neither_for_a_display_step_nor_for_weekly_checks(tmp_path, gathered_from):
    texts = files()
    texts["instruments.csv"] += "hot,oven,1,,C\n"
    texts["dryings.csv"] = (
        texts["dryings.csv"].replace("brew_id,", "instrument_id,brew_id,", 1).replace("\na", "\nhot,a")
    )
    found = gathered_from(make_lab(tmp_path / "lab", tmp_path, texts))
    report = instruments_report(found)

    assert "No resolution stated" not in said(report, "hot and r1")
    assert (
        said(report, "hot (drying oven)") == "hot has no checks of its own: its dishes and blank dishes speak for it."
    )
    assert "No resolution stated" not in said(instruments_report(gathered_from(tmp_path / "lab")), "hot and r2")


def test_weights_that_do_not_add_up_are_told(report):
    # 18 + 320 - 288 - (47.5, 48.5, 48.0, 48.0) g: 2.00 g on average.
    assert numbers(report, about="closure") == [pytest.approx(2.0)]
    assert "4 brews (pour over) with spent grounds weighed: on average 2.00 g missing" in said(report, "Do the weights")


def test_one_instrument_alone(gathered):
    alone = instruments_report(gathered, instrument_id="r1")

    titles = [part.title.partition(" (")[0] for part in alone.parts]
    assert titles == ["r1", "drying oven and r1: do they agree?", "r1 and r2: do they agree?", "Not compared"]
    assert [one["instrument"]["instrument_id"] for one in alone.data["instruments"]] == ["r1"]
    with pytest.raises(ProblemError, match=r"There is no instrument r11\. Did you mean r1\?"):
        instruments_report(gathered, instrument_id="r11")


def test_a_strength_by_drying_without_an_uncertainty_is_no_reference(tmp_path, gathered_from):
    texts = files()
    texts["dryings.csv"] = texts["dryings.csv"].replace(",balance,", ",,")
    found = gathered_from(make_lab(tmp_path / "lab", tmp_path, texts))

    assert found.checks().filter(pl.col("instrument_id") == "r2").height == 6
    words = said(instruments_report(found), "Strength by drying")
    assert "4 strengths by drying without an uncertainty: no reference for a correction." in words


def test_what_all_dryings_of_an_oven_share_is_said_to_stand_outside_the_intervals(report):
    # By hand: the balance of 0.0001 g on residue and sample, the blank and the volatile loss are shared by all dishes.
    assert "Not in these intervals: what all dryings in drying oven share" in said(report, "drying oven and r1")
    assert "Not in these intervals" not in said(report, "r1 and r2")
