"""The risk of channeling by factor: against brglm2 and the search in base R (tests/reference/firth, case practice)."""

from pathlib import Path

import numpy as np
import polars as pl
import pytest

from analysis.channeling.resample import Resampled
from analysis.channeling.risk import channeling_risk
from analysis.channeling.seen import NotShown
from schemas.problem import ProblemError

REFERENCE = Path(__file__).parents[2] / "reference" / "firth"


def rng():
    return np.random.default_rng(7)


def risk_of(facts, **more):
    return channeling_risk(facts, method="espresso", rng=rng(), resamples=more.pop("resamples", 40), **more)


@pytest.fixture(scope="module")
def practice(make_facts):
    rows = pl.read_csv(REFERENCE / "inputs.csv", infer_schema_length=None).filter(pl.col("case") == "practice")
    return make_facts(
        rows.height,
        channeled=[bool(y) for y in rows["y"]],
        grind_steps_finer=rows["x1"],
        dose_g=rows["x2"].cast(float),
        operator=["Bo" if other else "Ada" for other in rows["x3"].cast(float)],
        session_id=[f"s{k // 6}" for k in range(rows.height)],
    )


@pytest.fixture(scope="module")
def expected():
    rows = pl.read_csv(REFERENCE / "expected.csv").filter(pl.col("case") == "practice")
    return {(quantity, term): value for quantity, term, value in rows.drop("case").iter_rows()}


def test_odds_ratios_and_intervals_are_those_of_r(practice, expected):
    risk = risk_of(practice, steps={"dose_g": 1})

    assert [effect.name for effect in risk.effects] == ["grind_steps_finer", "dose_g", "operator"]
    assert [effect.change for effect in risk.effects] == ["one step finer", "1 g more dose", "operator Bo against Ada"]
    for effect, term in zip(risk.effects, ("x1", "x2", "x3"), strict=True):
        assert np.log(effect.odds_ratio) == pytest.approx(expected["estimate", term], rel=1e-6)
        assert np.log(effect.odds_low) == pytest.approx(expected["low", term], rel=1e-4)
        assert np.log(effect.odds_high) == pytest.approx(expected["high", term], rel=1e-4)


def test_the_difference_of_risk_at_the_mean_recipe_is_that_of_r(practice, expected):
    grind = risk_of(practice).effects[0]

    assert grind.points == pytest.approx(100 * expected["risk_difference", "x1"], rel=1e-4)
    assert grind.points_low == pytest.approx(100 * expected["risk_difference_low", "x1"], rel=1e-4)
    assert grind.points_high == pytest.approx(100 * expected["risk_difference_high", "x1"], rel=1e-4)
    assert grind.risk_to_pct - grind.risk_from_pct == pytest.approx(grind.points)


def test_a_practical_step_multiplies_log_odds(practice, expected):
    dose = risk_of(practice, factors=["grind_steps_finer", "dose_g", "operator"], steps={"dose_g": 0.2}).effects[1]

    assert np.log(dose.odds_ratio) == pytest.approx(0.2 * expected["estimate", "x2"], rel=1e-6)
    assert dose.change == "0.2 g more dose"
    assert not dose.beyond


def test_a_step_past_the_brews_is_marked(make_log):
    dose = risk_of(make_log(seed=1), factors=["dose_g"], steps={"dose_g": 3}).effects[0]

    assert dose.beyond


def test_a_usual_step_that_the_brews_do_not_span_shrinks(make_log):
    """Doses from 17.8 to 18.2 g: 1 g more, or half of it, would be a recipe nobody brewed; 0.2 g is inside."""
    facts = make_log(seed=1)
    assert (facts["dose_g"].min(), facts["dose_g"].max()) == (17.8, 18.2)

    dose = risk_of(facts, factors=["dose_g"]).effects[0]

    assert dose.change == "0.2 g more dose"
    assert not dose.beyond


@pytest.mark.parametrize("seed", [0, 4, 22, 30, 54])
def test_few_brews_still_get_intervals_that_hold_their_estimates(make_log, seed):
    """About 14 brews looked at, 3 to 5 channeled, 3 terms: separated or nearly so."""
    risk = risk_of(make_log(seed=seed, n=20, unseen=0.3), resamples=2)

    for effect in risk.effects:
        assert effect.odds_low < effect.odds_ratio < effect.odds_high
        assert effect.points_low < effect.points < effect.points_high


def test_no_p_value_under_five_brews_of_the_rarer_kind_a_term(practice):
    n_channeled = int(practice["channeled"].sum())
    risk = risk_of(practice)

    assert risk.events_per_term == n_channeled / 3
    assert n_channeled / 3 < 5
    assert not risk.has_p_values
    assert [effect.p_value for effect in risk.effects] == [None] * 3


def test_p_values_come_with_enough_of_the_rarer_kind(practice):
    """The least odds ratio of 1 that an interval of 95 % leaves out is where the likelihood-ratio p value is 0.05."""
    tripled = risk_of(pl.concat([practice] * 3))

    assert tripled.has_p_values
    for effect in tripled.effects:
        assert (effect.p_value < 0.05) == (not effect.odds_low <= 1 <= effect.odds_high)


def test_clean_brews_can_be_the_rarer_kind(practice):
    mirrored = practice.with_columns(~pl.col("channeled"))
    risk = risk_of(mirrored)

    assert not risk.has_p_values
    assert risk.effects[0].odds_ratio == pytest.approx(1 / risk_of(practice).effects[0].odds_ratio, rel=1e-6)


def test_sessions_are_drawn_whole_and_repeatably(practice):
    first, second = risk_of(practice).resampled, risk_of(practice).resampled

    assert isinstance(first, Resampled)
    assert first == second
    assert (first.unit, first.n_units, first.n_resamples) == ("session", 8, 40)


def test_a_session_interval_is_that_of_refits_by_an_independent_program(make_log):
    """20 draws of sessions from the same generator, fitted by ordinary logistic regression in statsmodels.

    Firth's estimate is a fixed point of it: y + h/2 events in 1 + h brews (Heinze & Schemper 2002, section 2.2).
    """
    import statsmodels.api as sm

    facts = make_log(seed=3)
    found = risk_of(facts, factors=["grind_steps_finer"], resamples=20).resampled
    assert isinstance(found, Resampled)
    x = np.column_stack([facts["grind_steps_finer"] - facts["grind_steps_finer"].mean(), np.ones(facts.height)])
    y = facts["channeled"].cast(float).to_numpy()
    names = sorted(facts["session_id"].unique())
    rows = [np.flatnonzero((facts["session_id"] == name).to_numpy()) for name in names]
    chance, slopes = rng(), []
    for _ in range(20):
        drawn = np.concatenate([rows[k] for k in chance.integers(len(names), size=len(names))])
        design, seen = x[drawn], y[drawn]
        beta = np.zeros(2)
        for _ in range(200):
            risk = 1 / (1 + np.exp(-design @ beta))
            weight = risk * (1 - risk)
            root = np.sqrt(weight)[:, None] * design
            leverage = np.diag(root @ np.linalg.inv(root.T @ root) @ root.T)
            shares = (seen + leverage / 2) / (1 + leverage)
            new = sm.GLM(shares, design, family=sm.families.Binomial(), var_weights=1 + leverage).fit(tol=1e-12).params
            if np.max(np.abs(new - beta)) < 1e-9:
                break
            beta = new
        slopes.append(beta[0])
    low, high = np.exp(np.percentile(slopes, [2.5, 97.5]))

    assert found.changes[0].odds_low == pytest.approx(low, rel=1e-5)
    assert found.changes[0].odds_high == pytest.approx(high, rel=1e-5)


def test_days_then_coffees_stand_in_for_sessions(make_log):
    by_day = risk_of(make_log(seed=1).with_columns(session_id=pl.lit(None, pl.String)))

    assert isinstance(by_day.resampled, Resampled)
    assert by_day.resampled.unit == "day"


def test_too_few_sessions_days_and_coffees_are_said(make_log):
    facts = make_log(seed=1).with_columns(session_id=pl.lit("s1"), brewed_on=pl.col("brewed_on").first())

    resampled = risk_of(facts).resampled

    assert isinstance(resampled, NotShown)
    assert "at least 6 sessions, days or coffees" in resampled.said


def test_what_was_not_recorded_or_stood_still_is_said(make_log):
    facts = make_log(seed=1).with_columns(operator=pl.lit("Ada"))

    risk = risk_of(facts)

    assert [effect.name for effect in risk.effects] == ["grind_steps_finer", "dose_g"]
    assert "Pressure was not recorded." in risk.notes
    assert "Operator was the same in all brews looked at." in risk.notes


def test_a_factor_that_few_brews_have_stays_out_unasked(make_log):
    facts = (
        make_log(seed=1)
        .with_row_index("row")
        .with_columns(pressure_bar=pl.when(pl.col("row") < 20).then(pl.col("row") / 10 + 8))
        .drop("row")
    )

    assert "Pressure stayed out: only 20 of 60 brews looked at have it." in risk_of(facts).notes


def test_more_factors_come_in_while_events_allow(make_log):
    facts = (
        make_log(seed=2, n=200)
        .with_row_index("row")
        .with_columns(water_temp_c=92 + pl.col("row") % 5, days_off_roast=(pl.col("row") % 13).cast(pl.Int64), row=None)
        .drop("row")
    )
    few = facts.head(60)

    assert {"water_temp_c", "days_off_roast"} <= {effect.name for effect in risk_of(facts).effects}
    left_out = [note for note in risk_of(few).notes if "stayed out" in note]
    events = min(int(few["channeled"].sum()), int((~few["channeled"]).sum()))
    taken = len(risk_of(few).effects)
    assert taken == min(max(events // 5, 3), 5)
    assert bool(left_out) == (taken < 5)


def test_dials_of_two_grinders_get_a_slope_each(make_log):
    facts = (
        make_log(seed=2, n=120)
        .with_row_index("row")
        .with_columns(grinder_id=pl.when(pl.col("row") % 2 == 0).then(pl.lit("g1")).otherwise(pl.lit("g2")))
        .drop("row")
    )

    changes = [effect.change for effect in risk_of(facts, factors=["grind_steps_finer"]).effects]

    assert changes == ["one step finer on g1", "one step finer on g2"]


def test_micrometres_pool_two_grinders_and_go_by_tens(make_log):
    facts = make_log(seed=2, n=120).with_row_index("row")
    two = facts.with_columns(
        grinder_id=pl.when(pl.col("row") % 2 == 0).then(pl.lit("g1")).otherwise(pl.lit("g2")),
        grind_um_finer=12 * pl.col("grind_steps_finer"),
    ).drop("row")

    assert risk_of(two).effects[0].change == "10 um finer"


def test_perfect_separation_still_gives_an_interval(make_facts):
    grind = [-3.0, -2, -2, -1, 0, 0, 1, 2, 2, 3, 3, 4]
    facts = make_facts(12, grind_steps_finer=grind, channeled=[step >= 2 for step in grind])

    effect = risk_of(facts, factors=["grind_steps_finer"]).effects[0]

    assert 1 < effect.odds_low < effect.odds_ratio < effect.odds_high < np.inf
    assert effect.p_value is not None


@pytest.mark.parametrize(
    ("channeled", "said"),
    [
        ([True] * 12, "Each of the 12 brews of espresso looked at channeled"),
        ([False] * 12, "None of the 12 brews of espresso looked at channeled"),
        ([True, False] * 4 + [None] * 4, "Only 8 brews of espresso were looked at"),
        ([None] * 12, "Only 0 brews of espresso were looked at"),
    ],
)
def test_one_sided_or_few_brews_are_refused(make_facts, channeled, said):
    facts = make_facts(12, channeled=channeled, grind_steps_finer=range(12))

    with pytest.raises(ProblemError, match=said):
        risk_of(facts)


@pytest.mark.parametrize(
    ("factors", "columns", "said"),
    [
        (["dose_g"], {}, "dose_g does not vary"),
        (["grind_steps_finer", "dose_g"], {"dose_g": [18 + k / 10 for k in range(14)]}, "always move together"),
        (["operator"], {"operator": ["Ada"] * 14}, "All complete brews are of one operator, Ada"),
        (["operator"], {}, "No brew says its operator"),
        (["brew_time_s"], {}, "result of how the water ran"),
        (["colour"], {}, "cannot be set against channeling"),
        ([], {}, "No factor is named"),
        (["grind_steps_finer", "grind_um_finer"], {}, "the same grind in two units"),
        (
            ["grind_steps_finer", "operator"],
            {"grind_steps_finer": [float(k % 2) for k in range(14)], "operator": ["Ada", "Bo"] * 7},
            "always move together",
        ),
    ],
)
def test_what_cannot_be_answered_is_refused(make_facts, factors, columns, said):
    given = {"grind_steps_finer": [float(k) for k in range(14)], "channeled": [k % 3 == 0 for k in range(14)]}

    with pytest.raises(ProblemError, match=said):
        risk_of(make_facts(14, **(given | columns)), factors=factors)


def test_steps_are_checked(make_log):
    with pytest.raises(ProblemError, match="not among the factors"):
        risk_of(make_log(seed=1), factors=["dose_g"], steps={"grind_steps_finer": 1})
    with pytest.raises(ProblemError, match="must be a number above 0"):
        risk_of(make_log(seed=1), factors=["dose_g"], steps={"dose_g": 0})


def test_nothing_to_set_against_channeling_is_refused(make_facts):
    facts = make_facts(12, channeled=[k % 3 == 0 for k in range(12)])

    with pytest.raises(ProblemError, match="No factor can be set against channeling"):
        risk_of(facts)


def test_operators_that_repeat_another_factor_stay_out_unasked(make_facts):
    facts = make_facts(
        20,
        channeled=[k % 3 == 0 for k in range(20)],
        grind_steps_finer=[float(k % 2) for k in range(20)],
        operator=["Ada", "Bo"] * 10,
    )

    risk = risk_of(facts)

    assert [effect.name for effect in risk.effects] == ["grind_steps_finer"]
    assert "The operators stayed out: they cannot be told apart from the other factors here." in risk.notes


def test_void_brews_stay_out(make_log):
    facts = make_log(seed=1)
    voided = facts.with_row_index("row").with_columns(is_void=pl.col("row") < 5).drop("row")

    assert risk_of(voided).n_brews == facts.height - 5
    assert "5 void" in risk_of(voided).dropped
