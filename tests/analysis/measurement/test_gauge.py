"""A published gauge study to its printed digits; gaps against lme4; zeros, single readings, one brew, one reader."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from analysis.measurement.gauge import check_interaction, gauge_study
from analysis.measurement.gauge_mixed import fit_crossed
from analysis.measurement.gauge_squares import mean_squares
from analysis.measurement.gauge_table import gauge_table
from schemas.problem import ProblemError
from tests.reference.gauge.cases import aiag, case_frame, expected

RTOL = 1e-4  # REML variances: R's optimiser on a flat top


# AIAG manual, 4th edition, ANOVA example: check-values.md 2.5 (third-party published copies, recomputed there).
def test_the_published_study_with_interaction():
    rows = {row.term: row for row in gauge_study(aiag(), interaction="with").anova}

    table = {term: (row.squares, row.df, row.mean) for term, row in rows.items()}
    assert table["brew"] == pytest.approx((88.36193444, 9, 9.817992716), abs=5e-9)
    assert table["reader"] == pytest.approx((3.167262222, 2, 1.583631111), abs=5e-10)
    assert table["interaction"] == pytest.approx((0.358982222, 18, 0.019943457), abs=5e-10)
    assert table["repeat"] == pytest.approx((2.758933333, 60, 0.045982222), abs=5e-10)
    assert rows["interaction"].f == pytest.approx(0.4337210, abs=5e-8)
    assert rows["interaction"].p_value == pytest.approx(0.974106, abs=5e-7)


def test_brews_and_readers_are_judged_against_the_interaction_not_the_repeats():
    rows = {row.term: row for row in gauge_study(aiag(), interaction="with").anova}

    assert rows["brew"].f == pytest.approx(492.2914, abs=5e-5)
    assert rows["reader"].f == pytest.approx(79.40605, abs=5e-6)
    assert (rows["brew"].against, rows["reader"].against) == ("interaction", "interaction")
    against_repeats = 9.817992716 / 0.045982222  # the trap: 213.5
    assert rows["brew"].f > 2 * against_repeats


def test_the_published_study_pooled():
    study = gauge_study(aiag(), tolerance_pct=8)
    found = study.spreads

    assert study.interaction == "pooled"
    assert "p 0.97, above 0.5" in study.notes[0]
    assert [row.df for row in study.anova] == [9, 2, 78]
    names = ("repeatability", "reproducibility", "gauge", "brew_to_brew", "total")
    variances = (0.0399732764, 0.0514552611, 0.0914285375, 1.0864466044, 1.1778751419)
    assert [found[name].variance for name in names] == pytest.approx(variances, abs=1e-10)
    assert [found[name].sd for name in names] == pytest.approx(
        (0.199933, 0.226838, 0.302372, 1.042327, 1.085300), abs=5e-7
    )
    assert found["gauge"].share_of_spread_pct == pytest.approx(27.8607, abs=5e-5)
    assert found["gauge"].share_of_variance_pct == pytest.approx(7.76, abs=0.005)
    assert (study.categories, study.tolerance_share_pct) == (4, pytest.approx(22.68, abs=0.005))


def test_shares_of_variance_add_up_and_shares_of_spread_do_not():
    found = gauge_study(aiag(), interaction="with").spreads
    parts = ("repeatability", "reader", "interaction", "brew_to_brew")

    assert sum(found[name].share_of_variance_pct for name in parts) == pytest.approx(100)
    assert sum(found[name].share_of_spread_pct for name in parts) > 120


def test_a_variance_below_zero_counts_as_zero_and_is_named():
    study = gauge_study(aiag(), interaction="with")
    part = study.spreads["interaction"]

    assert part.raw == pytest.approx((0.019943457 - 0.045982222) / 3, abs=1e-9)
    assert (part.variance, part.low) == (0.0, 0.0)
    assert study.notes == ("the variance of reader by brew came out below zero and counts as zero",)
    # Gauge and total are sums of what was set to zero, not of the raw variance.
    assert study.spreads["gauge"].variance == pytest.approx(0.045982222 + 0.052122923, abs=2e-9)


@pytest.mark.parametrize(
    ("case", "model"), [("aiag", "with"), ("aiag", "without"), ("invented", "with"), ("invented", "without")]
)
def test_sums_of_squares_match_r_aov(case, model):
    rows = {row.term: row for row in gauge_study(case_frame(case), interaction=model).anova}

    squares = expected(f"{case} {model}", "squares")
    assert {term: row.squares for term, row in rows.items()} == pytest.approx(squares, rel=1e-9)
    assert {term: row.df for term, row in rows.items()} == expected(f"{case} {model}", "df")


# Dyestuff (Davies and Goldsmith 1972), the algebra of ISO 5725-2: check-values.md 2.4 and 3.2; batches as readers.
DYESTUFF = {
    "A": (1545, 1440, 1440, 1520, 1580),
    "B": (1540, 1555, 1490, 1560, 1495),
    "C": (1595, 1550, 1605, 1510, 1560),
    "D": (1445, 1440, 1595, 1465, 1545),
    "E": (1595, 1630, 1515, 1635, 1625),
    "F": (1520, 1455, 1450, 1480, 1445),
}


def test_one_brew_gives_repeatability_and_reproducibility_as_iso_5725():
    rows = [("only", reader, float(value)) for reader, values in DYESTUFF.items() for value in values]
    study = gauge_study(pl.DataFrame(rows, schema=["brew_id", "operator", "tds_pct"], orient="row"))
    found = study.spreads

    assert found["repeatability"].variance == pytest.approx(2451.25)
    assert found["reader"].variance == pytest.approx(1764.05)
    assert found["gauge"].variance == pytest.approx(4215.30)
    assert (found["repeatability"].sd, found["gauge"].sd) == pytest.approx((49.5101, 64.9253), abs=5e-5)
    assert study.same_reader_limit_pct == pytest.approx(138.628, abs=5e-4)
    assert study.other_reader_limit_pct == pytest.approx(181.791, abs=5e-4)
    assert (study.gauge_share, study.categories, "brew_to_brew" in found) == (None, None, False)
    assert study.anova[0].f == pytest.approx(4.59827, abs=5e-6)  # p 0.0043975, check-values.md 3.2
    assert study.anova[0].p_value == pytest.approx(0.0043975, abs=5e-8)


def test_one_reader_gives_repeatability_and_coffee_and_no_reproducibility():
    rows = [(brew, "only", float(value)) for brew, values in DYESTUFF.items() for value in values]
    study = gauge_study(pl.DataFrame(rows, schema=["brew_id", "operator", "tds_pct"], orient="row"))

    assert study.spreads["brew_to_brew"].variance == pytest.approx(1764.05)
    assert study.spreads["gauge"].variance == study.spreads["repeatability"].variance == pytest.approx(2451.25)
    assert "reproducibility" not in study.spreads
    assert study.other_reader_limit_pct is None


CROSSED = ("aiag", "aiag_gaps", "invented", "invented_gaps", "small_gaps", "no_reader_gaps")


@pytest.mark.parametrize(
    ("case", "terms"),
    [(case, ("brew", "reader", "interaction")) for case in CROSSED]
    + [
        ("one_each", ("brew", "reader")),
        ("one_each_gaps", ("brew", "reader")),
    ],
)
def test_the_mixed_model_matches_lme4(case, terms):
    fit = fit_crossed(gauge_table(case_frame(case)), terms)

    variances = expected(case, "variance")
    assert fit.variance == pytest.approx(variances, rel=RTOL, abs=1e-7 * max(variances.values()))
    assert fit.criterion == pytest.approx(expected(case, "reml_criterion")[""], abs=1e-6)
    assert fit.mean == pytest.approx(expected(case, "mean")[""], abs=1e-6 * fit.mean_se)
    assert fit.mean_se == pytest.approx(expected(case, "mean_se")[""], rel=RTOL)
    assert bool(fit.zero) == bool(expected(case, "singular")[""])


def test_on_a_full_table_the_mixed_model_is_the_analysis_of_variance():
    frame = case_frame("invented")
    study = gauge_study(frame, interaction="with")
    fit = fit_crossed(gauge_table(frame), ("brew", "reader", "interaction"))

    named = {"repeat": "repeatability", "brew": "brew_to_brew", "reader": "reader", "interaction": "interaction"}
    assert fit.variance == pytest.approx({term: study.spreads[name].variance for term, name in named.items()}, rel=1e-7)


def test_missing_readings_are_analysed_by_the_mixed_model_and_none_is_dropped():
    study = gauge_study(case_frame("invented_gaps"), interaction="with")

    variances = expected("invented_gaps", "variance")
    assert study.n_readings == 58
    assert study.model.startswith("mixed model (REML)")
    assert study.notes == ("14 readings missing of 72, among them all by A of b02 and C of b06",)
    assert study.spreads["repeatability"].variance == pytest.approx(variances["repeat"], rel=RTOL)
    assert study.spreads["reader"].variance == pytest.approx(variances["reader"], rel=RTOL)
    assert {part.interval for part in study.spreads.values()} == {
        "chi-square, exact",
        "modified large-sample, on adjusted mean squares",
    }
    assert all(part.low <= part.variance <= part.high for part in study.spreads.values())


def test_a_singular_fit_is_named():
    study = gauge_study(case_frame("no_reader_gaps"), interaction="with")

    assert "singular mixed model" in study.model
    assert "reader came out as zero and was dropped" in study.model
    assert study.notes[-1] == "the variance of reader came out as zero"
    assert study.spreads["reader"].high > 0


def test_with_gaps_only_the_interaction_has_an_exact_test():
    rows = {row.term: row for row in gauge_study(case_frame("invented_gaps"), interaction="with").anova}

    assert rows["interaction"].f is not None
    assert (rows["brew"].f, rows["reader"].f, rows["repeat"].f) == (None, None, None)


def test_one_reading_each_leaves_the_interaction_in_the_repeats_and_says_so():
    study = gauge_study(case_frame("one_each"))

    assert study.interaction == "not judged"
    assert study.notes == (
        "one reading each, so what a reader does differently from brew to brew counts as repeatability",
    )
    # lme4's Penicillin example, as expected.csv has it.
    assert study.spreads["reader"].variance == pytest.approx(expected("one_each", "variance")["reader"], rel=RTOL)


def test_the_order_of_rows_changes_nothing():
    shuffled = aiag().sample(fraction=1.0, shuffle=True, seed=4)

    assert gauge_study(shuffled) == gauge_study(aiag())


def flat(repeats: tuple[float, ...], *, brews: tuple[float, ...] = (1.30, 1.34, 1.41)) -> pl.DataFrame:
    rows = [(f"b{k}", who, level + add) for k, level in enumerate(brews) for who in ("R", "S") for add in repeats]
    return pl.DataFrame(rows, schema=["brew_id", "operator", "tds_pct"], orient="row")


def test_equal_repeats_still_have_the_display_step():
    study = gauge_study(flat((0.0, 0.0)), display_step_pct=0.01)

    assert study.spreads["repeatability"].sd == pytest.approx(0.01 / np.sqrt(12))
    assert study.spreads["gauge"].sd == pytest.approx(0.01 / np.sqrt(12))
    assert "the step's own 0.0029 % TDS" in study.notes[-1]
    assert study.gauge_share.low_pct > 0


def test_a_display_step_below_the_scatter_changes_nothing():
    assert gauge_study(flat((-0.01, 0.01)), display_step_pct=0.01) == gauge_study(flat((-0.01, 0.01)))


def test_equal_repeats_with_gaps_do_not_break():
    study = gauge_study(flat((0.0, 0.0))[1:], display_step_pct=0.01)

    assert study.spreads["repeatability"].sd == pytest.approx(0.01 / np.sqrt(12))
    assert study.n_readings == 11


def test_only_equal_readings_are_refused_without_a_display_step():
    same = flat((0.0, 0.0), brews=(1.35, 1.35, 1.35))

    with pytest.raises(ProblemError, match=r"All 12 readings show 1\.35 % TDS"):
        gauge_study(same)
    assert gauge_study(same, display_step_pct=0.01).gauge_share.pct == pytest.approx(100)


def test_an_interaction_that_cannot_be_told_is_refused_when_asked_for():
    with pytest.raises(ProblemError, match="cannot be told from the repeats"):
        gauge_study(case_frame("one_each"), interaction="with")
    with pytest.raises(ProblemError, match="auto, with or without"):
        check_interaction("maybe")


def test_adjusted_mean_squares_expect_what_they_say():
    """Mean squares of many invented gappy studies average to the expectation that `expected` states."""
    table = gauge_table(case_frame("invented_gaps"))
    variances = {"brew": 4.0, "reader": 1.0, "interaction": 0.5, "repeat": 1.0}
    rng = np.random.default_rng(11)
    runs = 4000
    cells = table.brew * len(table.readers) + table.reader
    y = rng.normal(0, variances["repeat"] ** 0.5, (cells.size, runs))
    for term, codes in (("brew", table.brew), ("reader", table.reader), ("interaction", cells)):
        y += rng.normal(0, variances[term] ** 0.5, (codes.max() + 1, runs))[codes]
    found = mean_squares(table, y, with_interaction=True)

    stated = found.expected @ np.array([variances[term] for term in found.terms])
    spread = found.mean.std(axis=1) / np.sqrt(runs)
    assert np.all(np.abs(found.mean.mean(axis=1) - stated) < 4 * spread)
