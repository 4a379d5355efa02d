"""A published gauge study, taken in as a lab's own files, comes out with its published numbers."""

from __future__ import annotations

import pytest
from measuring_lab import INSTRUMENTS, gauge_study, make_lab

from pipeline.measurement.gauge_report import gauge_report
from pipeline.measurement.instrument_report import instruments_report
from schemas.problem import ProblemError


@pytest.fixture(scope="module")
def report(gathered):
    return gauge_report(gathered, "gauge-may", tolerance_pct=8.0)


def test_the_published_numbers_come_out(report):
    # AIAG manual, 4th edition, ANOVA example, interaction pooled: tests/reference/gauge and check-values.md 2.5.
    sd = dict(zip(report.frame["part"], report.frame["sd"], strict=True))
    published = {
        "repeatability": 0.0399732764,
        "reproducibility": 0.0514552611,
        "gauge": 0.0914285375,
        "brew_to_brew": 1.0864466044,
        "total": 1.1778751419,
    }
    assert {name: sd[name] ** 2 for name in published} == pytest.approx(published, abs=2e-9)
    assert report.data["categories"] == 4
    assert report.data["tolerance_share_pct"] == pytest.approx(22.68, abs=0.005)
    assert set(report.frame["n_readings"]) == {90}
    assert set(report.frame["unit"]) == {"% TDS"}


def test_it_says_who_reads_high_and_who_low(report):
    # AIAG manual, 4th edition: reader averages 0.1903, 0.0683 and -0.2543 over the ten parts; A less the mean of the
    # others is 0.1903 - (0.0683 - 0.2543) / 2 = 0.283, and so on.
    said = report.parts[0].sentences
    gaps = [text.split(" % TDS ")[0] for text in said if "than the other readers on average" in text]
    assert [text.rsplit(" ", 1)[1] for text in gaps] == ["0.283", "0.100", "0.384"]


def test_it_says_how_much_is_the_gauge_and_what_was_left_out(report):
    said = " ".join(report.parts[0].sentences)

    assert said.startswith("Gauge study gauge-may, r2: 10 brews, 3 readers, 90 readings (analysis of variance:")
    assert "8 % of the variance is the gauge, 92 % the coffee" in said
    assert "take up 23 % of a band 8 % TDS wide" in said
    assert "Left out: 1 reading without the name of who read it (read_by)." in said
    rows = {row[0]: row for row in report.parts[1].rows}
    assert rows["reader"][1:4] == ("2", "1.58", "39.62")


def test_a_declared_correction_is_stated_though_nobody_ever_checked_the_instrument(tmp_path, gathered_from):
    texts = {"instruments.csv": INSTRUMENTS, **gauge_study()}
    declared = "[correction.r2]\noffset = 0.02\nslope = 1.0\nstandard_uncertainty = 0.01\n"
    found = gathered_from(make_lab(tmp_path / "lab", tmp_path, texts, declared))
    words = "r2: reading - 0.02 (standard uncertainty 0.01 %)"

    assert gauge_report(found, "gauge-may").parts[0].sentences[-1] == (
        f"Every reading is corrected, as lab.toml says: {words}."
    )
    said = instruments_report(found, instrument_id="r2").parts[0].sentences
    assert said[1:] == [f"lab.toml corrects every reading on {words}."]


@pytest.mark.parametrize(
    ("study", "instrument", "said"),
    [
        ("gauge-mai", None, r"There is no study gauge-mai\. Did you mean gauge-may\?.*brewtrials gauge plan"),
        ("gauge-may", "r1", r"The study gauge-may has no readings on r1\. .*r2"),
    ],
)
def test_what_is_not_there_is_refused_with_its_neighbour(gathered, study, instrument, said):
    with pytest.raises(ProblemError, match=said):
        gauge_report(gathered, study, instrument_id=instrument)


def test_nobody_signed_the_readings(tmp_path, gathered_from):
    texts = gauge_study()
    for reader in "ABC":
        texts["gauge-readings.csv"] = texts["gauge-readings.csv"].replace(f",{reader},", ",,")
    found = gathered_from(make_lab(tmp_path / "lab", tmp_path, {"instruments.csv": INSTRUMENTS, **texts}))

    with pytest.raises(ProblemError, match=r"No reading of the study gauge-may can be used\. Left out: 91 readings"):
        gauge_report(found, "gauge-may")


def test_a_study_without_readings_is_refused(tmp_path, gathered_from):
    texts = gauge_study()
    del texts["gauge-readings.csv"]
    found = gathered_from(make_lab(tmp_path / "lab", tmp_path, texts))

    with pytest.raises(ProblemError, match="The study gauge-may has 10 brews, but no reading"):
        gauge_report(found, "gauge-may")
