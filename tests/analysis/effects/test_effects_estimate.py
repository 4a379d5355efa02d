"""From facts to table, sentences, residuals and counts, against base R, lmerTest and literal words."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest
from scipy import stats

from analysis.effects.estimate import estimate_effects
from analysis.effects.request import EffectsRequest
from schemas.columns import COLUMNS
from schemas.dtypes import frame_schema
from schemas.reports import EFFECT_COLUMNS

YIELD = "extraction_yield_pct"
FOUR = ("grind_steps_finer", "water_temp_c", "beverage_ratio", "channeled")


@pytest.fixture(scope="module")
def r_brews(make_facts, reference) -> pl.DataFrame:
    """The invented brews of one coffee that base R was given."""
    data = reference("regression/brews.csv")
    columns = {name: data[name].to_list() for name in data.columns if name != "channeled"}
    return make_facts(data.height, **columns, channeled=data["channeled"].cast(pl.Boolean).to_list())


def _r(reference, case: str, name: str) -> np.ndarray:
    return reference("regression/brews_expected.csv").filter(case=case)[name].to_numpy()


@pytest.mark.parametrize(
    ("case", "extra"),
    [
        ("linear", {}),
        ("curve", {"curves": ("grind_steps_finer",), "crosses": ("grind_steps_finer:channeled",)}),
    ],
)
def test_one_coffee_is_base_r_with_hc3_and_t(r_brews, reference, case, extra):
    table = estimate_effects(r_brews, EffectsRequest(YIELD, FOUR, **extra)).table
    intercept_first = pl.concat([table.tail(1), table.head(-1)])
    per_unit = intercept_first["step"].fill_null(1.0).to_numpy()

    for ours, theirs in {"estimate": "estimate", "std_error": "hc3", "low": "low", "high": "high"}.items():
        assert intercept_first[ours].to_numpy() / per_unit == pytest.approx(_r(reference, case, theirs), rel=1e-9)
    assert intercept_first["df"].to_numpy() == pytest.approx(_r(reference, case, "df"))
    assert intercept_first["p_value"].to_numpy() == pytest.approx(_r(reference, case, "p_value"), rel=1e-8)


def test_the_notes_stand_on_every_row_of_the_table(r_brews, make_trial):
    alone = estimate_effects(r_brews, EffectsRequest(YIELD, ("water_temp_c",)))
    noted = estimate_effects(make_trial(seed=1, coffees=3), EffectsRequest(YIELD, ("water_temp_c", "beverage_ratio")))

    assert alone.notes == ()
    assert alone.table["effect_note"].to_list() == [None, None]
    assert len(noted.notes) == 2
    assert noted.table["effect_note"].to_list() == [f"{noted.notes[0]} {noted.notes[1]}"] * 3


def test_table_says_what_each_row_is(r_brews):
    request = EffectsRequest(YIELD, FOUR, curves=("grind_steps_finer",), crosses=("beverage_ratio:channeled",))
    table = estimate_effects(r_brews, request).table

    assert dict(table.schema) == frame_schema([COLUMNS[name] for name in EFFECT_COLUMNS])
    assert table.select("term", "unit", "step", "per").rows() == [
        ("grind_steps_finer", "points", 1.0, "1 step"),
        ("water_temp_c", "points", 1.0, "1 C"),
        ("beverage_ratio", "points", 0.1, "0.1 g/g"),
        ("channeled", "points", 1.0, "yes against no"),
        ("grind_steps_finer^2", "points", 1.0, "(1 step) squared"),
        ("beverage_ratio:channeled", "points", 0.1, "0.1 g/g x yes against no"),
        ("intercept", "%", None, "at the factors' means"),
    ]
    assert table["response"].unique().to_list() == [YIELD]
    assert table.select("n_brews", "n_coffees").unique().rows() == [(42, 1)]
    assert table["dropped"][0] == "0 of 42 brews left out"
    assert table["model"][0] == (
        "espresso; least squares, HC3 standard errors, t(n - p); linear terms are slopes at the means"
    )


def test_sentences_in_the_trades_words(r_brews):
    """R: 0.3455 (0.0494 to 0.6416); 0.0735 (-0.0550 to 0.2020); 2.2012 (1.2013 to 3.2012) per unit; -2.132; 19.708."""
    result = estimate_effects(r_brews, EffectsRequest(YIELD, FOUR))

    assert result.sentences == (
        "one step finer: +0.35 points, 95 % interval 0.05 to 0.64, 42 brews of 1 coffee, for this coffee",
        "1 C hotter: +0.07 points, 95 % interval -0.06 to 0.20, 42 brews of 1 coffee, for this coffee; "
        "the interval includes zero, so these brews do not settle the direction",
        "0.1 g/g more beverage per dose: +0.22 points, 95 % interval 0.12 to 0.32, 42 brews of 1 coffee, for this "
        "coffee; both sides share weights, so part of it may be weighing noise",
        "channeled against clean: -2.1 points, 95 % interval -3.9 to -0.4, 42 brews of 1 coffee, for this coffee",
        "at the factors' means: 19.71 %, 95 % interval 19.42 to 20.00, 42 brews of 1 coffee, for this coffee; "
        "an error common to all readings is not in it",
    )


def test_steps_rescale_everything_but_the_test(r_brews):
    one = estimate_effects(r_brews, EffectsRequest(YIELD, FOUR))
    two = estimate_effects(r_brews, EffectsRequest(YIELD, FOUR, steps={"grind_steps_finer": 2, "water_temp_c": 5}))

    for name in ("estimate", "std_error", "low", "high"):
        assert two.table[name].to_numpy() == pytest.approx(one.table[name].to_numpy() * [2, 5, 1, 1, 1])
    assert two.table["p_value"].to_numpy() == pytest.approx(one.table["p_value"].to_numpy())
    assert two.table["per"].to_list()[:2] == ["2 steps", "5 C"]
    assert [words.partition(":")[0] for words in two.sentences[:2]] == ["2 steps finer", "5 C hotter"]


def test_the_step_of_a_product_is_the_product_of_steps(r_brews, reference):
    request = EffectsRequest(
        YIELD,
        FOUR,
        curves=("grind_steps_finer",),
        crosses=("grind_steps_finer:channeled",),
        steps={"grind_steps_finer": 0.5},
    )
    table = estimate_effects(r_brews, request).table

    assert table["step"].to_list() == [0.5, 1.0, 0.1, 1.0, 0.25, 0.5, None]
    square, product = _r(reference, "curve", "estimate")[5:]
    assert table["estimate"].to_list()[4:6] == pytest.approx([square / 4, product / 2], rel=1e-9)


def test_several_coffees_are_lmertest_with_square_and_product(make_facts, reference):
    """Case brews_curve of tests/reference/mixed, slopes of each coffee too: tests/reference/effects_random.

    lmerTest gives the slope of grind 1.45 degrees of freedom; under 2 we say 2.
    """
    data = reference("mixed/inputs.csv").filter(case="brews_curve")
    expected = reference("effects_random/expected.csv").filter(case="curve")
    facts = make_facts(
        data.height,
        coffee_id=data["group"],
        extraction_yield_pct=data["y"],
        grind_steps_finer=data["x1"],
        water_temp_c=data["x2"] + 93,
    )
    request = EffectsRequest(
        YIELD,
        ("grind_steps_finer", "water_temp_c"),
        curves=("grind_steps_finer",),
        crosses=("grind_steps_finer:water_temp_c",),
    )
    result = estimate_effects(facts, request)
    intercept_first = pl.concat([result.table.tail(1), result.table.head(-1)])

    # R's optimiser meets a flat top here, and takes curvature numerically: 1e-4, and 1e-3 for degrees of freedom.
    for name, rel in (("estimate", 1e-4), ("std_error", 1e-4)):
        outside = expected.filter(quantity=name)["value"].to_numpy()
        assert intercept_first[name].to_numpy() == pytest.approx(outside, rel=rel)
    df = np.maximum(expected.filter(quantity="df")["value"].to_numpy(), 2.0)
    assert intercept_first["df"].to_numpy() == pytest.approx(df, rel=1e-3)
    joint = result.joint_tests.filter(factor="grind_steps_finer").row(0, named=True)
    outside = dict(expected.filter(term="grind").select("quantity", "value").iter_rows())
    assert [joint["statistic"], joint["df_num"], joint["df_den"], joint["p_value"]] == pytest.approx(
        [outside[name] for name in ("F", "df_num", "df_den", "p_F")], rel=1e-3
    )
    sd = dict(expected.filter(quantity="sd").select("term", "value").iter_rows())
    assert result.components == pytest.approx(
        {
            "coffee": sd["group (Intercept)"],
            "grind_steps_finer by coffee": sd["group.1 a"],
            "water_temp_c by coffee": sd["group.2 b"],
            "brew to brew": sd["Residual NA"],
        },
        rel=1e-3,
    )
    assert result.model == (
        "espresso; mixed model, one intercept per coffee, a slope of grind_steps_finer by coffee, a slope of "
        "water_temp_c by coffee (REML), Satterthwaite degrees of freedom; linear terms are slopes at the means"
    )
    assert (result.n_brews, result.n_coffees) == (88, 6)
    assert all(" 88 brews of 6 coffees, for coffees like these" in words for words in result.sentences)
    assert result.residuals["leverage"].null_count() == 88


def test_a_spread_of_zero_is_named_and_only_that_is_dropped(make_facts, reference):
    """Case brews_singular: lme4 finds no spread between the five coffees' levels."""
    data = reference("mixed/inputs.csv").filter(case="brews_singular")
    facts = make_facts(
        data.height, coffee_id=data["group"], extraction_yield_pct=data["y"], grind_steps_finer=data["x1"]
    )
    result = estimate_effects(facts, EffectsRequest(YIELD, ("grind_steps_finer",)))

    assert result.model == (
        "espresso; mixed model, a slope of grind_steps_finer by coffee (REML), Satterthwaite degrees of freedom; "
        "the spread of the intercept per coffee came out as zero, so only that was dropped"
    )
    assert result.group_sd is None
    assert result.dropped_components == ("coffee",)


def test_where_no_spread_is_left_it_is_classical_least_squares(make_facts, reference):
    """The same brews as three coffees: too few for slopes; lme4's singular fit is least squares, t(n - 2)."""
    data = reference("mixed/inputs.csv").filter(case="brews_singular")
    k = np.arange(data.height) % 3
    y = data["y"].to_numpy().copy()
    for group in range(3):
        y[k == group] -= y[k == group].mean()  # nothing is left between the three
    facts = make_facts(
        data.height, coffee_id=[f"c{c}" for c in k], extraction_yield_pct=y + 20, grind_steps_finer=data["x1"]
    )
    result = estimate_effects(facts, EffectsRequest(YIELD, ("grind_steps_finer",)))

    assert result.model == (
        "espresso; singular mixed model: the spread of the intercept per coffee came out as zero, so it was dropped; "
        "least squares, classical standard errors, t(n - p)"
    )
    slope = stats.linregress(data["x1"].to_numpy(), y)
    row = result.table.row(0, named=True)
    assert [row["estimate"], row["std_error"], row["p_value"], row["df"]] == pytest.approx(
        [slope.slope, slope.stderr, slope.pvalue, data.height - 2], rel=1e-9
    )


def test_each_grinder_gets_its_own_slope_and_intercept(make_trial):
    facts = make_trial(seed=4, coffees=1, grinders=2)
    result = estimate_effects(facts, EffectsRequest(YIELD, ("grind_steps_finer",)))
    table = result.table

    assert table.select("term", "per").rows() == [
        ("grind_steps_finer", "1 step on g0"),
        ("grind_steps_finer", "1 step on g1"),
        ("intercept", "at the factors' means, on g0"),
        ("intercept", "at the factors' means, on g1"),
    ]
    assert result.sentences[0].startswith("one step finer on g0: ")
    assert result.sentences[3].startswith("at the factors' means on g1: ")
    for row, name in enumerate(("g0", "g1")):
        alone = facts.filter(grinder_id=name)
        slope, _ = np.polyfit(alone["grind_steps_finer"], alone[YIELD], 1)
        assert table["estimate"][row] == pytest.approx(slope, rel=1e-9)
        assert table["estimate"][2 + row] == pytest.approx(alone[YIELD].mean(), rel=1e-9)
        assert table["n_brews"][row] == alone.height
    assert result.model.endswith("; one slope and one intercept per grinder")


def test_micrometres_are_one_unit_across_grinders(make_trial):
    facts = make_trial(seed=4, coffees=1, grinders=2).with_columns(grind_um_finer=10 * pl.col("grind_steps_finer"))
    table = estimate_effects(facts, EffectsRequest(YIELD, ("grind_um_finer",), steps={"grind_um_finer": 10})).table

    assert table.select("term", "per").rows() == [("grind_um_finer", "10 um"), ("intercept", "at the factors' means")]


def test_a_grinder_whose_dial_stood_still_is_left_out_and_said(make_trial):
    facts = make_trial(seed=4, coffees=1, grinders=2).with_columns(
        grind_steps_finer=pl.when(grinder_id="g1").then(0.0).otherwise("grind_steps_finer")
    )
    still = facts.filter(grinder_id="g1").height
    result = estimate_effects(facts, EffectsRequest(YIELD, ("grind_steps_finer",)))

    assert result.table["per"].to_list() == ["1 step", "at the factors' means"]
    assert result.n_brews == 90 - still
    assert result.dropped == (
        f"{still} of 90 brews left out: {still} on grinder g1, where grind_steps_finer does not vary"
    )


def test_one_grinder_per_coffee_leaves_nothing_to_a_coffee_intercept(make_trial):
    facts = make_trial(seed=6, coffees=3).with_columns(grinder_id=pl.col("coffee_id"))
    result = estimate_effects(facts, EffectsRequest(YIELD, ("grind_steps_finer", "water_temp_c")))

    assert result.model == (
        "espresso; least squares, HC3 standard errors, t(n - p); one slope and one intercept per grinder; "
        "the intercepts stand for the levels of the 3 coffees too"
    )


def test_one_brew_of_each_coffee_is_least_squares(make_trial):
    facts = make_trial(seed=6, n=30).with_columns(coffee_id=pl.col("brew_id"))
    result = estimate_effects(facts, EffectsRequest(YIELD, ("grind_steps_finer",)))

    assert result.model == (
        "espresso; least squares, HC3 standard errors, t(n - p); one brew of each coffee, so no level of its own"
    )
    assert "30 brews of 30 coffees" in result.sentences[0]


def test_rows_left_out_are_counted_by_reason(make_trial):
    k = pl.int_range(pl.len())
    facts = make_trial(seed=1).with_columns(
        is_void=k < 3,
        water_temp_c=pl.when(k.is_between(2, 6)).then(None).otherwise("water_temp_c"),
        channeled=pl.when(k.is_between(6, 8)).then(None).otherwise("channeled"),
        extraction_yield_pct=pl.when(k == 20).then(None).otherwise(YIELD),
    )
    result = estimate_effects(facts, EffectsRequest(YIELD, FOUR))

    # Void: rows 0 1 2. No temperature: 3 4 5 6 (2 is void). Not looked at: 6 7 8. No yield: 20.
    assert result.left_out == {"void": 3, f"without {YIELD}": 1, "without water_temp_c": 4, "without channeled": 3}
    assert result.n_left_out == 10
    assert result.dropped == (
        "10 of 90 brews left out: 3 void, 1 without extraction_yield_pct, 4 without water_temp_c, "
        "3 without channeled (some for more than one reason)"
    )
    assert result.residuals["brew_id"].to_list() == [f"b{n:03d}" for n in range(90) if n not in (*range(9), 20)]


def test_method_filter_keeps_one_method(make_trial):
    other = pl.int_range(pl.len()) % 3 == 0
    facts = make_trial(seed=1).with_columns(method=pl.when(other).then(pl.lit("pour_over")).otherwise("method"))
    result = estimate_effects(facts, EffectsRequest(YIELD, FOUR, method="pour_over"))

    assert result.method == "pour_over"
    assert result.model.startswith("pour over; ")
    assert result.residuals["method"].unique().to_list() == ["pour_over"]
    assert result.dropped == "0 of 30 brews left out"


def test_residuals_add_up(make_trial):
    facts = make_trial(seed=2, coffees=1)
    residuals = estimate_effects(facts, EffectsRequest(YIELD, FOUR)).residuals

    assert residuals.columns == [
        "brew_id", "coffee_id", "method", "brewed_at", "fitted", "residual", "standardised", "leverage"
    ]  # fmt: skip
    assert (residuals["fitted"] + residuals["residual"]).to_numpy() == pytest.approx(facts[YIELD].to_numpy())
    assert residuals["leverage"].sum() == pytest.approx(5)  # as many as there are coefficients


def test_units_of_other_responses(make_trial):
    facts = make_trial(seed=2, coffees=1).with_columns(brew_time_s=28 - pl.col(YIELD), tds_pct=pl.col(YIELD) / 2)
    time = estimate_effects(facts, EffectsRequest("brew_time_s", ("grind_steps_finer",))).table
    strength = estimate_effects(facts, EffectsRequest("tds_pct", ("grind_steps_finer",))).table

    assert time["unit"].to_list() == ["s", "s"]
    assert strength["unit"].to_list() == ["points", "%"]


def test_order_of_rows_does_not_matter(make_trial):
    facts = make_trial(seed=9)
    there = estimate_effects(facts, EffectsRequest(YIELD, FOUR)).table
    back = estimate_effects(facts.reverse(), EffectsRequest(YIELD, FOUR)).table

    assert back["estimate"].to_numpy() == pytest.approx(there["estimate"].to_numpy(), rel=1e-9)
    assert back["std_error"].to_numpy() == pytest.approx(there["std_error"].to_numpy(), rel=1e-6)


def test_same_facts_same_bytes(make_trial):
    facts = make_trial(seed=9)
    once, again = (estimate_effects(facts, EffectsRequest(YIELD, FOUR)) for _ in range(2))

    assert once.table.write_json() == again.table.write_json()
    assert once.sentences == again.sentences
