"""Strength by drying against a worksheet worked by hand, and every reason why there is none."""

from __future__ import annotations

import json
import math
from pathlib import Path

import polars as pl
import pytest

from analysis.measurement.drying import dried_strengths
from schemas.lab import DryingSettings, LabSettings
from tests.analysis.measurement.made_up_dryings import FINE, SCHEMA, brews, dish, instruments, worksheet

FOLDER = Path(__file__).parents[2] / "reference" / "drying"
EXPECTED = json.loads((FOLDER / "expected.json").read_text())
BY_HAND = {"A": (1.300, 1.320), "B": (1.400, 1.430, 1.400)}  # README.md there
RTOL = 1e-6
SETTINGS = LabSettings(drying=DryingSettings(volatile_loss_u_pct=1.0))
FILTER = brews(A="pour_over", B="pour_over", C="pour_over", D="pour_over", E="pour_over")


@pytest.fixture(scope="module")
def worked():
    text = pl.read_csv(FOLDER / "worksheet.csv", infer_schema=False)
    typed = text.with_columns(
        pl.col("sample_no", "replicate", "weighing_no").cast(pl.Int64),
        pl.col("dish_g", "dish_plus_sample_g", "dish_plus_dry_g", "dry_temp_c").cast(pl.Float64),
        pl.col("is_blank") == "yes",
        pl.col("dried_at").str.to_datetime(time_zone="UTC"),
        notes=pl.lit(None, pl.String),
    )
    return dried_strengths(typed.select(list(SCHEMA)), instruments(), FILTER, settings=SETTINGS)


def dried(*dishes, scales=(), settings=SETTINGS, methods=None):
    frame = worksheet(*dishes)
    if methods is None:
        methods = brews(**dict.fromkeys(frame["brew_id"].drop_nulls().unique(), "pour_over"))
    return dried_strengths(frame, instruments(*scales), methods, settings=settings)


@pytest.mark.parametrize("brew_id", ["A", "B"])
def test_strengths_of_the_worksheet(worked, brew_id):
    brew = next(one for one in worked.brews if one.brew_id == brew_id)
    assert [round(one.tds_pct, 9) for one in brew.dishes] == list(BY_HAND[brew_id])
    assert brew.tds_pct == pytest.approx(EXPECTED["brews"][brew_id]["tds_pct"], rel=RTOL)


@pytest.mark.parametrize("brew_id", ["A", "B"])
def test_every_line_of_its_budget(worked, brew_id):
    budget = next(one for one in worked.brews if one.brew_id == brew_id).budget
    expected = EXPECTED["brews"][brew_id]
    assert {line.name: abs(line.contribution) for line in budget.components} == pytest.approx(
        expected["lines"], rel=RTOL
    )
    assert budget.u == pytest.approx(expected["u_pct"], rel=RTOL)
    assert budget.df == pytest.approx(expected["df"], rel=RTOL)


def test_scatter_and_blank_of_the_worksheet(worked):
    (scatter,) = worked.scatter.values()
    assert 100 * scatter.seen == pytest.approx(EXPECTED["scatter_seen_pct"], rel=RTOL)
    assert 100 * scatter.weighing == pytest.approx(EXPECTED["scatter_weighing_pct"], rel=RTOL)
    assert (scatter.df, scatter.n_brews, scatter.of_oven) == (3, 2, False)
    blank = worked.brews[0].dishes[0].blank
    assert (blank.gain_g, blank.u_g) == pytest.approx((0.0003, 0.0001), rel=RTOL)


def test_brews_that_were_not_dry_have_an_upper_bound_only(worked):
    assert {one.brew_id: one.at_most_pct for one in worked.refused} == pytest.approx(EXPECTED["at_most_pct"], rel=RTOL)
    assert {one.brew_id: one.dishes[0][1] for one in worked.refused} == {
        "C": "weighed once",
        "D": "still losing",
        "E": "gained",
    }


@pytest.mark.parametrize(
    # Residue 0.0650 g at the last weighing: 0.5 % of it is 0.000325 g, 1 % 0.00065 g.
    ("before_g", "criterion_pct", "state"),
    [
        (30.0653, 0.5, "dry"),
        (30.0654, 0.5, "still losing"),
        (30.0656, 1.0, "dry"),
        (30.0647, 0.5, "dry"),
        (30.0646, 0.5, "gained"),
        (30.0651, 0.0, "dry"),  # one display step can always be rounding
        (30.0652, 0.0, "still losing"),
    ],
)
def test_the_criterion_of_constant_mass(before_g, criterion_pct, state):
    settings = LabSettings(drying=DryingSettings(constant_mass_pct=criterion_pct))
    found = dried(dish("a", 1, 30.0, 35.0, before_g, 30.0650), settings=settings)
    states = [state for one in found.refused for _, state in one.dishes] or ["dry"]
    assert states == [state]


def test_a_dish_that_is_not_dry_does_not_spoil_the_others():
    (brew,) = dried(dish("a", 1, 30.0, 35.0, 30.065, 30.065), dish("a", 2, 30.0, 35.0, 30.09)).brews
    assert brew.tds_pct == pytest.approx(1.3)
    assert [(left.replicate, state) for left, state in brew.left_out] == [(2, "weighed once")]


def test_all_dishes_alike_still_carry_the_display_step():
    (brew,) = dried(*(dish("a", n, 30.0, 35.0, 30.065, 30.065) for n in (1, 2, 3))).brews
    lines = {line.name: line for line in brew.budget.components}
    # Slopes 20, -0.26 and -19.74 %/g; each weighing 0.0001 g * sqrt(2 / 12); three dishes.
    one_dish = math.sqrt(20**2 + 0.26**2 + 19.74**2) * 0.0001 * math.sqrt(2 / 12)
    assert lines["display step"].u == pytest.approx(one_dish / math.sqrt(3))
    assert "scatter of dishes" not in lines
    assert math.isinf(brew.budget.df)


def test_more_dishes_do_not_shrink_calibration_blank_and_volatile_loss():
    blank = dish(None, 1, 29.0, None, 29.0002, is_blank=True)
    one, three = (
        dried(*(dish("a", number, 30.0, 35.0, 30.065, 30.065) for number in range(1, n + 1)), blank).brews[0]
        for n in (1, 3)
    )
    assert three.shared_u_pct == pytest.approx(one.shared_u_pct)
    assert three.u_pct < one.u_pct


def test_without_repeats_of_its_method_the_oven_s_others_stand_in_as_a_share_of_the_strength():
    found = dried(
        dish("f", 1, 30.0, 35.0, 30.0650, 30.0650),
        dish("f", 2, 30.0, 35.0, 30.0663, 30.0663),
        dish("e", 1, 30.0, 35.0, 30.5, 30.5),
        methods=brews(f="pour_over", e="espresso"),
    )
    espresso, filtered = found.scatter["oven-1", "espresso"], found.scatter["oven-1", "pour_over"]
    # 1.300 and 1.326 %: sd 0.013 * sqrt(2) over 1.313.
    assert filtered.seen == pytest.approx(0.013 * math.sqrt(2) / 1.313)
    assert (espresso.seen, espresso.of_oven, filtered.of_oven) == (filtered.seen, True, False)


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (dish("a", 1, None, 35.0, 30.065, 30.065), "dish_g is empty on every row"),
        (dish("a", 1, 30.0, None, 30.065, 30.065), "dish_plus_sample_g is empty on every row"),
        (dish("a", 1, 30.0, 35.0, 30.065) + dish("a", 1, 31.0, 35.0, 30.065, weighing_no=2), "2 values of dish_g"),
        (dish("a", 1, 30.0, 29.0, 30.065, 30.065), "is not more than dish_g"),
        (dish("a", 1, 30.0, 30.05, 30.065, 30.065), "lies outside"),
        (dish("a", 1, 30.1, 35.0, 30.065, 30.065), "lies outside"),
        (dish("a", 1, 30.0, 35.0, 30.065) + dish("a", 1, None, None, 30.065, weighing_no=2, scale_id="other"),
         "2 values of scale_id"),
    ],
)  # fmt: skip
def test_rows_that_make_no_dish(rows, words):
    (refused,) = dried(rows).refused
    ((bad, state),) = refused.dishes
    assert state == "unusable"
    assert words in bad.problem
    assert refused.at_most_pct is None


def test_weighings_count_in_their_order_whatever_the_order_of_rows():
    rows = dish("a", 1, 30.0, 35.0, 30.07, 30.0652, 30.065)
    assert dried(rows).brews[0].tds_pct == dried(rows[::-1]).brews[0].tds_pct == pytest.approx(1.3)


def test_a_dish_with_no_more_than_the_blank_says_nothing():
    blank = dish(None, 1, 29.0, None, 29.1, is_blank=True)
    (refused,) = dried(dish("a", 1, 30.0, 35.0, 30.065, 30.065), blank).refused
    assert refused.dishes[0][1] == "unusable"
    assert refused.at_most_pct is None


def test_a_blank_corrects_its_own_oven_run_only():
    found = dried(
        dish("a", 1, 30.0, 35.0, 30.065, 30.065),
        dish("b", 1, 30.0, 35.0, 30.065, 30.065, drying_id="r2"),
        dish(None, 1, 29.0, None, 29.0050, is_blank=True),
    )
    assert {one.brew_id: round(one.tds_pct, 9) for one in found.brews} == {"a": 1.2, "b": 1.3}
    notes = {one.brew_id: " ".join(one.notes) for one in found.brews}
    assert "no blank dish" in notes["b"]
    assert "no blank dish" not in notes["a"]


@pytest.mark.parametrize(
    ("scale", "words"),
    [(FINE | {"standard_uncertainty": None}, "no standard_uncertainty of fine"),
     (FINE | {"instrument_id": "another"}, "no standard_uncertainty of fine")],
)  # fmt: skip
def test_a_scale_that_states_nothing_gives_a_strength_without_uncertainty(scale, words):
    (brew,) = dried(dish("a", 1, 30.0, 35.0, 30.065, 30.065), scales=(scale,)).brews
    assert brew.tds_pct == pytest.approx(1.3)
    assert (brew.budget, brew.u_pct, brew.df, brew.shared_u_pct) == (None, None, None, None)
    assert words in brew.notes[0]


def test_what_is_not_declared_is_not_counted_and_said():
    settings = LabSettings()
    (brew,) = dried(dish("a", 1, 30.0, 35.0, 30.065, 30.065), settings=settings).brews
    assert "volatile loss" not in brew.budget.shares()
    assert any("no volatile_loss_u_pct" in note for note in brew.notes)
    assert any("scatter of dishes is not counted" in note for note in brew.notes)


def test_brews_that_are_not_asked_for_are_passed_over():
    found = dried(dish("a", 1, 30.0, 35.0, 30.065, 30.065), methods=brews(other="pour_over"))
    assert (found.brews, found.refused) == ((), ())


def test_an_empty_worksheet_is_no_problem():
    found = dried(methods=brews(a="pour_over"))
    assert (found.brews, found.refused, dict(found.scatter)) == ((), (), {})


def test_blank_dishes_of_all_runs_of_an_oven_say_together_how_far_blanks_differ():
    # By hand: gains 0 and 2 mg in one run, 0.4 and 0.8 mg in the other: squares 2 and 0.08 mg^2 over 1 + 1 degrees of
    # freedom, 1.04 mg^2; a mean of two 0.7211 mg, times 100 / 5 g. JCGM 100, G.4.1: it counts with its 2 degrees.
    blanks = [("r1", 1, 0.0), ("r1", 2, 0.002), ("r2", 1, 0.0004), ("r2", 2, 0.0008)]
    rows = [dish(None, n, 29.0, None, 29.0 + gain, is_blank=True, drying_id=run) for run, n, gain in blanks]
    (brew,) = dried(dish("a", 1, 30.0, 35.0, 30.066, 30.066), *rows).brews
    (line,) = (part for part in brew.budget.components if part.name == "blank dish")
    assert (abs(line.contribution), line.df, line.kind) == (pytest.approx(20 * 0.001 * math.sqrt(0.52)), 2, "A")
    assert brew.budget.df == pytest.approx(2 * (brew.budget.u / line.contribution) ** 4)
    assert brew.budget.coverage_factor > 2.1
