"""Budgets of brews against the `uncertainties` library, check values, and arithmetic on paper."""

import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from uncertainties import ufloat

from analysis.measurement.budget import brew_budget, budget_sentence, left_out
from analysis.measurement.measured import Mass, MeasuredBrew, ReadingGroup, Scale
from schemas.problem import ProblemError
from tests.analysis.measurement.made_up_brews import (
    GROUP,
    SCALE,
    cup_by_hand,
    espresso,
    filter_brew,
    steeped,
    yield_by_hand,
)

CASE = json.loads((Path(__file__).parents[2] / "reference" / "propagation" / "cases.json").read_text())["yield"]
MASSES = ("dose", "beverage", "water", "evaporated", "bypass")


def lines(budget):
    return {part.name: part for part in budget.components}


def test_the_yield_of_the_check_values():
    (tds, u_tds), (beverage, u_beverage), (dose, u_dose) = CASE["tds_pct"], CASE["beverage_g"], CASE["dose_g"]
    group = ReadingGroup("R1", 1, 1, None, 0, u_tds)
    brew = MeasuredBrew("percolation", tds, (group,), Mass(dose, u_dose), beverage=Mass(beverage, u_beverage))
    budget = brew_budget(brew)

    assert budget.value == pytest.approx(CASE["value"], rel=1e-12)
    assert budget.u == pytest.approx(CASE["u"], abs=5e-8)
    shares = [budget.shares()[name] for name in ("TDS", "beverage", "dose")]
    assert shares == pytest.approx(CASE["shares"], abs=5e-7)


def generated_brew(rng, *, balance):
    """A brew with everything that can be wrong, and its inputs as numbers of the `uncertainties` library."""
    included, after = bool(rng.integers(2)), bool(rng.integers(2))
    mass = dict(zip(MASSES, (rng.uniform(14, 30), rng.uniform(180, 400), 300.0, 8.0, rng.uniform(20, 60)), strict=True))
    scale = Scale("S1", rng.uniform(0.02, 0.2), rng.choice([0.01, 0.1, 1.0]), gain_u=rng.uniform(1e-4, 2e-3))
    groups = tuple(
        ReadingGroup(
            name,
            n_readings=n,
            n_repeats=n,
            scatter_pct=rng.uniform(0.005, 0.05),
            scatter_df=int(rng.integers(5, 60)),
            standard_uncertainty_pct=rng.uniform(0.01, 0.05),
            resolution_pct=0.01,
            correction_u_pct=u_correction,
            gain_u=rng.uniform(1e-3, 1e-2),
            gain_about_pct=0.5,
        )
        for name, n, u_correction in (("R1", 2, None), ("R2", 3, 0.013))
    )
    moisture_u = rng.uniform(0.1, 0.5)
    weighed = {name: Mass(mass_g, scale) for name, mass_g in mass.items()}
    brew = MeasuredBrew(
        balance, rng.uniform(1.1, 1.6), groups, **weighed, bypass_included=included, read_after_bypass=after,
        moisture_pct=2.5, moisture_u_pct=moisture_u,
    )  # fmt: skip

    tds = brew.tds_pct
    for group in groups:
        share = group.n_readings / 5
        bias_u = group.correction_u_pct or group.standard_uncertainty_pct
        tds += share * ufloat(0, group.scatter_pct / math.sqrt(group.n_repeats))
        tds += share * (ufloat(0, bias_u) + ufloat(0, 0.01 / math.sqrt(12)))
        tds += share * ufloat(0, group.gain_u) * (brew.tds_pct - 0.5)
    gain = ufloat(0, scale.gain_u)
    u_each = math.sqrt(scale.standard_uncertainty_g**2 + 2 * scale.resolution_g**2 / 12)
    uncertain = {name: ufloat(mass_g, u_each) + gain * mass_g for name, mass_g in mass.items()}
    return brew, {"tds": tds, **uncertain, "included": included, "after": after}, ufloat(2.5, moisture_u)


@pytest.mark.parametrize("balance", ["percolation", "immersion"])
@pytest.mark.parametrize("seed", range(12))
def test_budgets_agree_with_the_uncertainties_library(balance, seed):
    brew, uncertain, moisture = generated_brew(np.random.default_rng([seed, len(balance)]), balance=balance)
    expected = {
        "extraction_yield_pct": yield_by_hand(balance=balance, **uncertain),
        "extraction_yield_dry_pct": yield_by_hand(balance=balance, **uncertain, moisture=moisture),
        "cup_tds_pct": cup_by_hand(**{k: uncertain[k] for k in ("tds", "beverage", "bypass", "included", "after")}),
    }
    for result, by_library in expected.items():
        budget = brew_budget(brew, result=result)
        assert budget.value == pytest.approx(by_library.nominal_value, rel=1e-12)
        assert budget.u == pytest.approx(by_library.std_dev, rel=1e-9)


def test_readings_shrink_the_scatter_only_and_its_pool_gives_the_degrees_of_freedom():
    budget = brew_budget(filter_brew())
    found = lines(budget)
    per_percent = 288 / 18

    assert found["TDS scatter"].contribution == pytest.approx(per_percent * 0.02 / math.sqrt(3))
    assert found["TDS bias"].contribution == pytest.approx(per_percent * 0.02)
    assert found["TDS display step"].contribution == pytest.approx(per_percent * 0.01 / math.sqrt(12))
    # G.4: u^4 over the fourth power of the only estimated part, over its 40 pooled degrees of freedom.
    assert budget.df == pytest.approx(budget.u**4 / (found["TDS scatter"].contribution ** 4 / 40))
    assert [part.kind for part in budget.components].count("A") == 1


def test_tare_and_load_are_two_readings_of_the_display():
    step = lines(brew_budget(filter_brew(scale=Scale("S1", 0.0, 0.1))))["dose display step"]
    assert step.u == pytest.approx(math.sqrt(2 * 0.1**2 / 12))


def test_a_slope_error_of_the_scale_moves_dose_and_beverage_alike_and_cancels():
    with_gain = filter_brew(scale=replace(SCALE, gain_u=0.01))
    assert brew_budget(with_gain).u == pytest.approx(brew_budget(filter_brew()).u)
    # Without bypass an immersion divides water by dose: it cancels there too.
    assert brew_budget(steeped(scale=replace(SCALE, gain_u=0.01))).u == pytest.approx(brew_budget(steeped()).u)


def test_equal_repeats_leave_the_display_step():
    exact = replace(GROUP, scatter_pct=0.0, standard_uncertainty_pct=0.0)
    strength = brew_budget(filter_brew(group=exact), result="cup_tds_pct")
    assert strength.u == pytest.approx(0.01 / math.sqrt(12))
    assert math.isinf(strength.df)


def test_one_reading_has_the_pooled_scatter():
    one = lines(brew_budget(filter_brew(group=replace(GROUP, n_readings=1, n_repeats=1))))["TDS scatter"]
    assert (one.u, one.df) == (0.02, 40)


def test_a_correction_replaces_what_is_left_of_calibration():
    found = lines(brew_budget(filter_brew(group=replace(GROUP, correction_u_pct=0.004))))
    assert "TDS bias" not in found
    assert (found["TDS correction"].u, found["TDS correction"].shared) == (0.004, "R1")


def test_the_water_of_a_percolation_and_the_beverage_of_an_immersion_do_not_count():
    assert "water" not in brew_budget(filter_brew(water=Mass(300.0, SCALE))).shares()
    assert "beverage" not in brew_budget(steeped(beverage=Mass(190.0, SCALE))).shares()


def test_a_bypass_of_nothing_changes_nothing():
    asked = filter_brew(bypass=Mass(0.0), bypass_included=True, read_after_bypass=True)
    assert brew_budget(asked).u == brew_budget(filter_brew()).u


def test_the_budget_in_words():
    brew = filter_brew()
    said = budget_sentence(brew, brew_budget(brew))
    # 16 * sqrt(0.02^2/3 + 0.02^2 + 0.01^2/12) and 1.111 * sqrt(0.05^2 + 2 * 0.1^2/12): u = 0.3793, k = 1.963.
    assert said == (
        "Extraction yield 20.00 %, 95 % interval 19.26 to 20.74 % (3 readings, coverage factor 1.96). "
        "Its uncertainty comes from TDS 96 %, dose 4 %."
    )


def test_what_cannot_be_counted_is_said():
    silent = ReadingGroup("R1", 1, 1, None, 0, 0.02, resolution_pct=None)
    brew = filter_brew(group=silent, scale=0.0)
    assert left_out(brew) == [
        "no repeated readings on R1: scatter is not counted",
        "R1 has no resolution: its display step is not counted",
        "no weighing scale and no default for dose, beverage: counted as exact",
    ]


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: brew_budget(filter_brew(group=replace(GROUP, standard_uncertainty_pct=None))), "R1 has no standard"),
        (lambda: brew_budget(filter_brew(scale=Scale("S9", None, 0.1))), "S9 has no standard_uncertainty"),
        (lambda: brew_budget(espresso(), result="extraction_yield_dry_pct"), "needs moisture_pct"),
        (lambda: brew_budget(espresso(), result="taste"), "one of extraction_yield_pct"),
        (lambda: brew_budget(steeped(bypass=Mass(20.0)), result="cup_tds_pct"), "the mass of the beverage"),
        (lambda: replace(filter_brew(), beverage=None), "needs the mass of its beverage"),
        (lambda: replace(steeped(), water=None), "needs the mass of its water"),
        (lambda: replace(steeped(), bypass=Mass(20.0), read_after_bypass=True), "needs the mass of its beverage"),
        (lambda: replace(filter_brew(), readings=()), "without readings"),
        (lambda: replace(GROUP, n_repeats=4), "no more samples than readings"),
    ],
)  # fmt: skip
def test_what_cannot_be_answered_is_refused_plainly(make, said):
    with pytest.raises(ProblemError, match=said):
        make()
