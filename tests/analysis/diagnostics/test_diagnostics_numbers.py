"""Numbers of the checks against R: tests/reference/diagnostics/README.md says how each was made."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from analysis.diagnostics.case import Case, basis, make_case
from analysis.diagnostics.collinearity import conditions, correlation, inflation
from analysis.diagnostics.deletion import held_change, total_variance
from analysis.diagnostics.influence import influence
from analysis.diagnostics.least_squares import PlainFit, fit_plain, plain_fit
from analysis.diagnostics.replication import lack_of_fit
from analysis.diagnostics.residual_order import drift, neighbours, with_sessions
from analysis.diagnostics.residual_shape import furthest, shape
from analysis.diagnostics.residual_spread import slanted_spread, unlike_spread
from analysis.diagnostics.sittings import Sittings, find_sittings
from analysis.effects.divisions import codes_of
from analysis.effects.request import EffectsRequest
from analysis.mixed.model import RandomPart

REFERENCE = Path(__file__).parents[2] / "reference"
REGRESSORS = ["GNPDEFL", "GNP", "UNEMP", "ARMED", "POP", "YEAR"]
REQUEST = EffectsRequest("extraction_yield_pct", ("grind_steps_finer", "water_temp_c", "beverage_ratio"))
DIGITS = 1e-9
HARD = 1e-7
Expected = Callable[[str], pl.DataFrame]


@pytest.fixture(scope="module")
def longley() -> pl.DataFrame:
    return pl.read_csv(REFERENCE / "regression" / "longley.csv").cast(pl.Float64)


@pytest.fixture(scope="module")
def case(logged_brews: pl.DataFrame) -> Case:
    return make_case(logged_brews, REQUEST)


@pytest.fixture(scope="module")
def fit(case: Case) -> PlainFit:
    found = plain_fit(case)
    assert found is not None
    return found


def test_variance_inflation_of_longley_meets_r(longley: pl.DataFrame, read_expected: Expected) -> None:
    x = longley.select(REGRESSORS).to_numpy()

    found = inflation(x - x.mean(axis=0))

    assert found == pytest.approx(read_expected("vif").filter(pl.col("case") == "longley")["vif"].to_numpy(), rel=HARD)


def test_variance_inflation_and_correlations_within_coffees_meet_r(case: Case, read_expected: Expected) -> None:
    within = case.within

    vif = read_expected("vif").filter(pl.col("case") == "brews")["vif"].to_numpy()
    assert inflation(within) == pytest.approx(vif, rel=DIGITS)
    pairs = [correlation(within[:, j], within[:, k]) for j, k in ((0, 1), (0, 2), (1, 2))]
    assert pairs == pytest.approx(read_expected("correlation")["r"].to_list(), rel=DIGITS)


def test_condition_indices_and_variance_shares_of_longley_meet_r(
    longley: pl.DataFrame, read_expected: Expected
) -> None:
    x = np.column_stack([np.ones(longley.height), longley.select(REGRESSORS).to_numpy()])

    found = conditions(x)

    expected = read_expected("conditions")
    assert found.indices == pytest.approx(expected["index"].to_numpy(), rel=HARD)
    assert found.shares == pytest.approx(expected.drop("index").to_numpy(), rel=1e-6, abs=1e-12)


@pytest.mark.parametrize("which", ["longley", "brews"])
def test_influence_measures_meet_r(which: str, longley: pl.DataFrame, fit: PlainFit, read_expected: Expected) -> None:
    expected, rel = read_expected(f"influence_{which}"), DIGITS
    if which == "longley":
        x = longley.select(REGRESSORS).to_numpy()
        ones = np.ones((longley.height, 1))
        made = fit_plain(longley["TOTEMP"].to_numpy(), np.column_stack([x, ones]), np.arange(6))
        assert made is not None
        fit, rel = made, HARD

    found = influence(fit)

    slopes = expected.select(pl.col("^dfbetas_.*$")).to_numpy()
    assert found.dfbetas == pytest.approx(slopes, rel=rel, abs=rel)
    for mine, theirs in (
        (found.dffits, "dffit"),
        (found.covratio, "cov.r"),
        (found.cook, "cook.d"),
        (found.leverage, "hat"),
        (found.external, "rstudent"),
    ):
        assert mine == pytest.approx(expected[theirs].to_numpy(), rel=rel, abs=rel), theirs


def _check(read_expected: Expected, name: str) -> tuple[float, float]:
    row = read_expected("residual_checks").row(by_predicate=pl.col("check") == name, named=True)
    return row["statistic"], row["p_value"]


def test_shape_meets_r(fit: PlainFit, read_expected: Expected) -> None:
    found = shape(fit.studentised())

    assert found is not None
    statistic, p_value = _check(read_expected, "shapiro")
    assert found.statistic == pytest.approx(statistic, rel=1e-6)
    assert found.p_value == pytest.approx(p_value, rel=1e-5)


def test_the_furthest_brew_meets_r(fit: PlainFit, read_expected: Expected) -> None:
    found = furthest(influence(fit).external, fit.df)

    assert found is not None
    assert (found.statistic, found.p_value) == pytest.approx(_check(read_expected, "furthest"), rel=DIGITS)


def test_spread_along_the_settings_meets_r(case: Case, fit: PlainFit, read_expected: Expected) -> None:
    found = slanted_spread(fit.studentised(), case.slopes)

    assert found is not None
    assert (found.statistic, found.p_value) == pytest.approx(_check(read_expected, "breusch_pagan"), rel=DIGITS)
    assert found.df == 3


@pytest.mark.parametrize("column", ["coffee", "operator"])
def test_spread_by_coffee_and_by_operator_meets_r(
    column: str, case: Case, fit: PlainFit, read_expected: Expected
) -> None:
    codes = codes_of(case.brews["coffee_id" if column == "coffee" else column])

    found = unlike_spread(fit.studentised(), codes)

    assert found is not None
    expected = _check(read_expected, f"brown_forsythe_{column}")
    assert (found.statistic, found.p_value) == pytest.approx(expected, rel=DIGITS)


def test_trend_and_likeness_of_neighbours_meet_r(case: Case, fit: PlainFit, read_expected: Expected) -> None:
    sittings = find_sittings(case.brews)
    assert sittings is not None
    model = with_sessions(fit.x, sittings)

    trend = drift(case.y, model, sittings)
    near = neighbours(case.y, model, sittings, rng=np.random.default_rng(1))

    assert trend is not None
    assert near is not None
    assert (trend.estimate, trend.p_value) == pytest.approx(_check(read_expected, "drift"), rel=DIGITS)
    assert near.correlation == pytest.approx(_check(read_expected, "lag_1")[0], rel=DIGITS)
    assert near.n_pairs == 40


def test_lack_of_fit_of_the_central_composite_design_meets_the_published_table(read_expected: Expected) -> None:
    design = pl.read_csv(REFERENCE / "diagnostics" / "central_composite.csv")
    a, b = design["x1"].to_numpy(), design["x2"].to_numpy()
    x = np.column_stack([np.ones(a.size), a, b, a * a, b * b, a * b])
    clusters = codes_of(design.select(pl.struct("x1", "x2").rank("dense").alias("s"))["s"])

    found = lack_of_fit(design["y"].to_numpy(), x, clusters)

    assert found is not None
    expected = read_expected("lack_of_fit").row(0, named=True)
    assert (found.df_misfit, found.df_pure) == (expected["df_misfit"], expected["df_pure"]) == (3, 4)
    assert found.ss_misfit == pytest.approx(expected["ss_misfit"], rel=DIGITS)
    assert found.ss_pure == pytest.approx(expected["ss_pure"], rel=DIGITS)
    assert found.statistic == pytest.approx(1.78851, abs=5e-6)  # Montgomery table 11.6 with alpha 1.414 as printed
    assert found.p_value == pytest.approx(0.288564, abs=5e-7)


def test_lack_of_fit_of_nearly_alike_brews_meets_r(case: Case, read_expected: Expected) -> None:
    cluster = codes_of(case.brews.select(pl.struct("coffee_id", "grind_steps_finer").rank("dense").alias("s"))["s"])

    found = lack_of_fit(case.y, case.full, cluster)

    assert found is not None
    expected = read_expected("near_lack_of_fit").row(0, named=True)
    assert (found.df_misfit, found.df_pure) == (expected["df_misfit"], expected["df_pure"])
    assert (found.statistic, found.p_value) == pytest.approx((expected["f"], expected["p_value"]), rel=DIGITS)


def test_change_with_the_variances_held_meets_generalised_least_squares_without_each_brew(
    logged_blends: pl.DataFrame, read_expected: Expected
) -> None:
    expected = read_expected("held")
    y = logged_blends["extraction_yield_pct"].to_numpy()
    x = np.column_stack([np.ones(48), logged_blends["grind_steps_finer"], logged_blends["water_temp_c"]])
    part = RandomPart("coffee", codes_of(logged_blends["coffee_id"]), np.ones(48))

    variance = total_variance(48, expected["sigma"][0], [part], {"coffee": expected["coffee_variance"][0]})
    found = held_change(y, x, variance)[:, 1]

    assert found == pytest.approx(expected["change"].to_numpy(), rel=1e-6, abs=1e-9)


def test_a_basis_counts_columns_alike_whatever_their_unit() -> None:
    rng = np.random.default_rng(5)
    x = rng.normal(size=(20, 3)) * [1e-6, 1.0, 1e6]

    found = basis(np.column_stack([x, x[:, 0] + x[:, 0]]))

    assert found.shape == (20, 3)
    assert found.T @ found == pytest.approx(np.eye(3), abs=1e-12)


@pytest.mark.parametrize(("way", "sign"), [(1.0, 1.0), (-1.0, -1.0)])
def test_neighbours_more_alike_or_unlike_than_every_shuffle_get_the_smallest_p_value(way: float, sign: float) -> None:
    # 999 shuffles and the order seen make 1,000 orders, of which only the one seen is so far out: p = 1/1000
    codes, place = np.repeat([0, 1], 20), np.tile(np.arange(1.0, 21.0), 2)
    wave = np.sin(place / 3) if way > 0 else np.where(place % 2 == 0, 1.0, -1.0)
    y = wave + np.random.default_rng(3).normal(scale=0.05, size=40)
    sittings = Sittings(codes, place, ("s1", "s2"), "session")

    found = neighbours(y, with_sessions(np.ones((40, 1)), sittings), sittings, rng=np.random.default_rng(4))

    assert found is not None
    assert found.p_value == pytest.approx(0.001)
    assert np.sign(found.correlation) == sign


def test_shuffled_orders_give_the_lag_1_correlation_that_a_fit_alone_makes() -> None:
    # for scatter without memory the mean of e'Ae / e'e is tr(MA) / tr(M), M the residual maker of level and trend,
    # A pairing neighbours (von Neumann 1941, Annals of Mathematical Statistics 12:367); 0.015 is 3 errors of 999 draws
    n = 40
    place = np.arange(1.0, n + 1)
    sittings = Sittings(np.zeros(n, dtype=np.int64), place, ("s1",), "session")
    x = np.column_stack([np.ones(n), place])
    maker = np.eye(n) - x @ np.linalg.inv(x.T @ x) @ x.T
    pairs = (np.eye(n, k=1) + np.eye(n, k=-1)) / 2
    y = np.random.default_rng(5).normal(size=n)

    found = neighbours(y, np.full((n, 1), n**-0.5), sittings, rng=np.random.default_rng(6))

    assert found is not None
    assert found.usual == pytest.approx(np.trace(maker @ pairs) / (n - 2), abs=0.015)
