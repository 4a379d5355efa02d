"""Bias and limits against Bland and Altman's own numbers and R; see tests/reference/agreement/README.md."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import polars as pl
import pytest

from analysis.measurement.agreement import Agreement, NotCompared, all_pairs, compare_instruments, predict_b
from analysis.measurement.agreement_limits import reach_of_limits
from schemas.problem import ProblemError

FOLDER = Path(__file__).parents[2] / "reference" / "agreement"
EXPECTED = pl.read_csv(FOLDER / "expected.csv")
NONE_STATED = pl.DataFrame(
    schema={"instrument_id": pl.String, "resolution": pl.Float64, "standard_uncertainty": pl.Float64}
)
RTOL = 1e-8


def frame_of(rows) -> pl.DataFrame:
    schema = {"brew_id": pl.String, "instrument_id": pl.String, "sample_no": pl.Int64, "strength_pct": pl.Float64}
    return pl.DataFrame(rows, schema=schema, orient="row").with_columns(is_void=pl.lit(False))


def stated(resolution: float | None = 0.01, u: float | None = None, names: str = "AB") -> pl.DataFrame:
    return pl.DataFrame([(name, resolution, u) for name in names], schema=NONE_STATED.schema, orient="row")


def pairs_of(x, y) -> pl.DataFrame:
    return frame_of(
        [(f"{i:03}", name, 1, float(v)) for name, values in (("A", x), ("B", y)) for i, v in enumerate(values)]
    )


def peak_flow() -> Agreement:
    rows = pl.read_csv(FOLDER / "peak_flow.csv")
    return compare_instruments(pairs_of(rows["mini"], rows["wright"]), NONE_STATED, "A", "B")


def cardiac() -> Agreement:
    rows = pl.read_csv(FOLDER / "cardiac.csv")
    readings = [(f"{s:02}", name, 1, v) for name in ("ic", "rv") for s, v in rows.select("subject", name).rows()]
    return compare_instruments(frame_of(readings), NONE_STATED, "ic", "rv")


def refractometers() -> Agreement:
    rows = pl.read_csv(FOLDER / "refractometers.csv").with_columns(is_void=pl.lit(False))
    return compare_instruments(rows, stated(names=("R1", "R2")), "R1", "R2")


def r_value(case: str, quantity: str) -> float:
    return EXPECTED.filter(case=case, quantity=quantity)["value"].item()


@pytest.mark.parametrize("study", [peak_flow, cardiac, refractometers])
def test_bias_limits_and_intervals_match_r(study):
    found, case = study(), study.__name__

    for name in ("bias", "lower", "upper"):
        estimate = getattr(found, name)
        assert estimate.value == pytest.approx(r_value(case, name), rel=RTOL), name
        assert estimate.low == pytest.approx(r_value(case, f"{name}_low"), rel=RTOL), name
        assert estimate.high == pytest.approx(r_value(case, f"{name}_high"), rel=RTOL), name
    assert found.sd_single == pytest.approx(r_value(case, "sd_single"), rel=RTOL)


def test_bland_and_altman_1986_to_the_digits_printed():
    """check-values.md 2.6 (VERIFIED-S and COMPUTED)."""
    found = peak_flow()

    assert found.bias.value == pytest.approx(-2.1176471, abs=5e-8)
    assert found.sd_single == pytest.approx(38.7651299, abs=5e-8)
    assert (found.lower.value, found.upper.value) == pytest.approx((-78.0973, 73.8620), abs=5e-5)
    assert (found.bias.high - found.bias.low) / 2 == pytest.approx(2.119905 * 9.401925, rel=1e-6)  # t(16), SE of mean


def test_bland_and_altman_1999_and_2007_unequal_replicates():
    found = cardiac()

    assert found.pairs.readings_b.variance == pytest.approx(0.107227795, abs=5e-8)
    assert found.pairs.readings_a.variance == pytest.approx(0.137874069, abs=5e-8)
    assert found.bias.value == pytest.approx(0.7092361, abs=5e-8)
    assert found.sd_single == pytest.approx(1.0518506, abs=5e-8)
    assert found.sd_single == pytest.approx(1.0517, abs=2e-4)  # 1999, from rounded variances
    assert (found.lower.value, found.upper.value) == pytest.approx((-1.3521, 2.7705), abs=4e-4)


@pytest.mark.parametrize(("n", "factor"), [(10, 2.911), (20, 2.396), (30, 2.220)])
def test_the_outer_end_of_a_limit_is_a_published_tolerance_factor(n, factor):
    """NIST e-Handbook 7.2.6.3: 95 % content, 95 % confidence, one-sided: the upper end of a 90 % interval."""
    reach = reach_of_limits(np.asarray(1.0), n, [], factor=1.6448536, level=0.90)

    assert float(reach.outer) == pytest.approx(factor, abs=6e-4)


def test_scatter_inside_brews_matches_quadratic_forms_in_r():
    pairs = refractometers().pairs

    for name, part in (("samples", pairs.samples), ("readings_a", pairs.readings_a), ("readings_b", pairs.readings_b)):
        assert part.single == pytest.approx(r_value("refractometers", f"{name}_share"), rel=1e-10)
        assert part.variance == pytest.approx(r_value("refractometers", f"{name}_variance"), rel=1e-9)
        assert part.df == r_value("refractometers", f"{name}_df")


@pytest.mark.parametrize("study", [peak_flow, refractometers])
def test_slope_of_difference_on_mean_matches_r(study):
    trend = study().trend

    assert trend is not None
    assert trend.slope.value == pytest.approx(r_value(study.__name__, "trend"), rel=RTOL)
    assert trend.slope.low == pytest.approx(r_value(study.__name__, "trend_low"), rel=RTOL)
    assert trend.slope.high == pytest.approx(r_value(study.__name__, "trend_high"), rel=RTOL)


def test_averaged_repeats_do_not_narrow_the_limits_of_single_readings():
    rng = np.random.default_rng(3)
    rows = []
    for brew in range(400):
        truth = rng.uniform(1.1, 1.5)
        rows += [(f"{brew}", name, 1, v) for name in "AB" for v in rng.normal(truth, 0.02, 5)]
    found = compare_instruments(frame_of(rows), stated(), "A", "B")

    assert found.sd_single == pytest.approx(0.02 * np.sqrt(2), rel=0.05)
    assert (found.pairs.y_pct - found.pairs.x_pct).std() == pytest.approx(0.02 * np.sqrt(2 / 5), rel=0.15)


def test_unequal_scatter_makes_a_trend_that_the_line_does_not_have():
    rng = np.random.default_rng(4)
    truth = rng.normal(1.3, 0.05, 3000)
    rows = []
    for brew, level in enumerate(truth):
        rows += [(f"{brew}", "A", 1, v) for v in rng.normal(level, 0.01, 2)]
        rows += [(f"{brew}", "B", 1, v) for v in rng.normal(level, 0.04, 2)]
    found = compare_instruments(frame_of(rows), stated(0.0), "A", "B")

    assert found.trend is not None
    assert found.line is not None
    assert found.trend.slope.low > 0.05  # an interval that "proves" a gap which is not there
    assert found.trend.slope.value == pytest.approx(found.trend.artefact, abs=0.03)
    assert found.trend.artefact == pytest.approx((0.04**2 - 0.01**2) / 2 / (2 * (0.05**2 + 0.00085 / 4)), rel=0.1)
    assert found.line.slope_low < 1 < found.line.slope_high


def test_fewer_than_three_brews_are_refused_with_what_to_do():
    two = pairs_of([1.2, 1.3], [1.21, 1.33])

    with pytest.raises(ProblemError, match=r"A and B: 2 brews with a sample read on both, at least 3 are needed; read"):
        compare_instruments(two, stated(), "A", "B")
    with pytest.raises(ProblemError, match="cannot be compared with itself"):
        compare_instruments(two, stated(), "A", "A")


def test_refusal_counts_readings_that_stand_alone():
    rows = frame_of([("b1", "A", 1, 1.2), ("b1", "B", 2, 1.2), ("b2", "A", 1, 1.3)])

    with pytest.raises(
        ProblemError, match=r"0 brews .* 3 readings of the two stand on samples that only one of them read"
    ):
        compare_instruments(rows, stated(), "A", "B")


def test_all_repeats_equal_still_counts_the_display_steps():
    level = [1.21, 1.25, 1.30, 1.34, 1.38, 1.45]
    found = compare_instruments(pairs_of(level, level), stated(0.01), "A", "B")

    step = np.sqrt(2 * 0.01**2 / 12)  # two rectangular steps, JCGM 100:2008 4.3.7
    assert found.sd_single == pytest.approx(step, rel=1e-12)
    assert found.bias.high == pytest.approx(2.570582 * step / np.sqrt(6), rel=1e-6)  # t(5), 0.975, as tabulated
    assert any("display steps" in note for note in found.notes)
    with pytest.raises(ProblemError, match="same on all 6 brews and no resolution"):
        compare_instruments(pairs_of(level, level), NONE_STATED, "A", "B")


@pytest.mark.parametrize(
    ("x", "y", "reason"),
    [
        ([1.20, 1.30, 1.40, 1.5], [1.21, 1.30, 1.42, 1.5], "4 brews; a slope takes 5"),
        ([1.30] * 6, [1.30] * 6, "equally strong"),
        ([1.30, 1.31, 1.30, 1.29, 1.31, 1.30], [1.32, 1.29, 1.31, 1.31, 1.28, 1.32], "range is too narrow"),
    ],
)
def test_no_slope_says_why(x, y, reason):
    found = compare_instruments(pairs_of(x, y), stated(), "A", "B")

    assert found.line is None
    assert found.trend is None
    assert reason in found.no_slope
    assert predict_b(found, 1.3) is None


def test_a_slope_that_few_brews_leave_open_is_not_shown():
    x, y = [1.30, 1.27, 1.25, 1.22, 1.21], [1.29, 1.26, 1.23, 1.20, 1.17]
    found = compare_instruments(pairs_of(x, y), stated(), "A", "B")

    assert found.line is None
    assert found.no_slope.startswith("5 brews over this range leave the slope open by 0.6 either way")


def twice(x, y) -> pl.DataFrame:
    """Every brew read twice on both, the second reading like the first."""
    once = pairs_of(x, y)
    return pl.concat([once, once])


def test_where_all_repeats_are_equal_display_steps_make_the_error_ratio():
    x, y = [1.20, 1.25, 1.31, 1.38, 1.44, 1.50], [1.2, 1.3, 1.3, 1.4, 1.4, 1.5]
    steps = pl.concat([stated(0.01, names="A"), stated(0.1, names="B")])
    by_steps = compare_instruments(twice(x, y), steps, "A", "B").errors
    nothing = compare_instruments(twice(x, y), NONE_STATED, "A", "B").errors
    exact_a = compare_instruments(twice(x, y), pl.concat([stated(0.0, names="A"), stated(0.1, names="B")]), "A", "B")

    assert by_steps.ratio == pytest.approx(100)
    assert by_steps.basis == "all repeats equal: display steps alone"
    assert not nothing.known
    assert np.isinf(exact_a.errors.ratio)
    assert exact_a.line is not None
    assert exact_a.line.slope == pytest.approx(np.polyfit(x, y, 1)[0], rel=1e-9)  # an exact x: ordinary regression


@pytest.mark.parametrize(
    ("repeats_a", "repeats_b", "words", "known"),
    [(1, 1, "no repeats", False), (3, 1, "repeats on A alone", False), (3, 2, "40 and 20 degrees", True)],
)
def test_the_error_ratio_says_what_it_rests_on(repeats_a, repeats_b, words, known):
    rng = np.random.default_rng(5)
    rows = []
    for brew in range(20):
        truth = rng.uniform(1.1, 1.5)
        rows += [(f"{brew:02}", "A", 1, v) for v in rng.normal(truth, 0.01, repeats_a)]
        rows += [(f"{brew:02}", "B", 1, v) for v in rng.normal(truth, 0.02, repeats_b)]
    errors = compare_instruments(frame_of(rows), stated(0.001), "A", "B").errors

    assert words in errors.basis
    assert errors.known is known
    assert errors.low < errors.ratio < errors.high
    if known:  # 0.02^2 / 2 against 0.01^2 / 3: 6, within its own interval
        assert errors.low < 6 < errors.high


def test_repeats_elsewhere_serve_where_paired_samples_have_none():
    rng = np.random.default_rng(6)
    rows = [(f"{i}", n, 1, v) for i, v in enumerate(rng.uniform(1.1, 1.5, 8).round(2)) for n in "AB"]
    rows = [(b, n, s, v + rng.normal(0, 0.01)) for b, n, s, v in rows]
    rows += [(f"only{i}", n, 1, rng.normal(1.3, 0.01)) for i in range(4) for n in "AB" for _ in range(3)]
    rows = [(b, n, 1 if n == "A" or not b.startswith("only") else 2, v) for b, n, _, v in rows]
    errors = compare_instruments(frame_of(rows), stated(), "A", "B").errors

    assert errors.known
    assert "8 and 8 degrees" in errors.basis


def test_scatter_that_grows_with_strength_is_noted():
    rng = np.random.default_rng(7)
    truth = np.where(np.arange(30) % 2, 9.0, 1.3) + rng.normal(0, 0.1, 30)
    x, y = truth * (1 + rng.normal(0, 0.01, 30)), truth * (1 + rng.normal(0, 0.01, 30))

    assert any("stronger brews" in note for note in compare_instruments(pairs_of(x, y), stated(), "A", "B").notes)


def test_all_pairs_compares_what_it_can_and_says_why_not():
    level = np.linspace(1.2, 1.5, 6)
    rows = pl.concat(
        [pairs_of(level, level + np.array([0.01, 0.02, 0.0, 0.01, 0.03, 0.02])), frame_of([("000", "C", 1, 1.2)])]
    )
    found = all_pairs(rows, stated(names="ABC"))

    assert [(one.a, one.b) for one in found] == [("A", "B"), ("A", "C"), ("B", "C")]
    assert isinstance(found[0], Agreement)
    assert all(isinstance(one, NotCompared) for one in found[1:])
    assert all_pairs(rows.clear(), stated()) == ()


@pytest.mark.slow
def test_intervals_cover_as_the_committed_table_says():
    from tests.reference.agreement.coverage import TABLE, table

    committed, found = pl.read_csv(TABLE), table()

    assert found.select("kind", "case", "interval_of").equals(committed.select("kind", "case", "interval_of"))
    assert found["coverage"].to_numpy() == pytest.approx(committed["coverage"].to_numpy(), abs=0.001)
    ours = found.filter(~pl.col("interval_of").str.starts_with("("))
    assert ours["coverage"].min() >= 0.92
