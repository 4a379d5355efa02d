"""Budgets of whole frames equal the budget of each brew worked out alone."""

import math

import numpy as np
import polars as pl
import pytest

from analysis.facts.masses import with_extraction
from analysis.facts.strength import read_strength, reading_groups, strength_per_brew
from analysis.facts.yield_uncertainty import with_yield_uncertainty
from analysis.measurement.budget import brew_budget
from analysis.measurement.drops import drop_scatter
from analysis.measurement.facts_budget import BUDGET_COLUMNS, scatter_quartic, with_yield_budget
from analysis.measurement.from_facts import measured_brew
from analysis.repeatability import with_scatter, within_brews
from schemas.lab import Correction, LabSettings
from schemas.problem import ProblemError

SETTINGS = LabSettings(
    default_u={"dose_g": 0.05, "beverage_g": 0.4, "water_g": 0.6, "tds_pct": 0.04, "moisture_pct": 0.3},
    corrections=(Correction("R2", offset=0.01, standard_uncertainty=0.012),),
    brix_factor=0.85,
)
METHODS = ("espresso", "pour_over", "immersion")
INSTRUMENTS = {"R1": (0.01, 0.02), "R2": (0.01, 0.05), "R3": (0.1, 0.2), None: (None, None)}


def made_up_brews(n, rng):
    some = lambda value: value if rng.random() < 0.5 else None  # noqa: E731
    rows = [
        {
            "brew": k, "brew_id": f"b{k}", "method": METHODS[k % 3], "mass_balance": None, "is_void": False,
            "dose_g": rng.uniform(15, 22), "beverage_g": [38.0, 250.0, 210.0][k % 3] + rng.normal(),
            "water_g": 280.0 if k % 3 else None, "bypass_g": some(30.0), "bypass_included": bool(rng.integers(2)),
            "bypass_before_reading": bool(rng.integers(2)), "evaporated_g": some(4.0), "moisture_pct": some(2.0),
            "scale_id": (scale := some("S1")), "scale_standard_uncertainty": 0.1 if scale else None,
            "scale_resolution": 0.1 if scale else None,
        }
        for k in range(n)
    ]  # fmt: skip
    return pl.DataFrame(rows, infer_schema_length=None)


def made_up_readings(n, rng):
    rows = []
    for k in range(n):
        strength = 9.0 if k % 3 == 0 else 1.3
        for instrument in rng.choice(np.array(list(INSTRUMENTS), dtype=object), size=1 + k % 2, replace=False):
            resolution, u = INSTRUMENTS[instrument]
            for number in range(1 + int(rng.integers(3))):
                rows.append(
                    {
                        "brew": k, "method": METHODS[k % 3], "is_void": False, "instrument_id": instrument,
                        "sample_no": 1 + number % 2, "reading_no": number + 1, "served_as": "black", "read_by": None,
                        "tds_pct": strength + rng.normal(0, 0.03),
                        "reading_scale": "brix" if instrument == "R3" else "tds",
                        "resolution": resolution, "standard_uncertainty": u,
                    }
                )  # fmt: skip
    return pl.DataFrame(rows, infer_schema_length=None)


def budgets_of(brews, readings):
    said = read_strength(readings, SETTINGS)
    groups = reading_groups(said, SETTINGS)
    joined = brews.join(strength_per_brew(said, SETTINGS), on="brew", how="left", maintain_order="left")
    joined = joined.join(scatter_quartic(groups), on="brew", how="left", maintain_order="left")
    facts = with_yield_uncertainty(with_extraction(joined), SETTINGS)
    return with_yield_budget(facts, SETTINGS), groups


@pytest.fixture(scope="module")
def both():
    rng = np.random.default_rng(20260611)
    return budgets_of(made_up_brews(90, rng), made_up_readings(90, rng))


def test_every_brew_of_a_frame_has_the_budget_it_has_alone(both):
    facts, groups = both
    for row in facts.iter_rows(named=True):
        own = groups.filter(pl.col("brew") == row["brew"]).iter_rows(named=True)
        budget = brew_budget(measured_brew(row, own, SETTINGS))
        assert row["extraction_yield_pct"] == pytest.approx(budget.value, rel=1e-12)
        assert row["extraction_yield_u_pct"] == pytest.approx(budget.u, rel=1e-12)
        assert row["extraction_yield_df"] == pytest.approx(budget.df, rel=1e-9)
        assert row["extraction_yield_k"] == pytest.approx(budget.coverage_factor, rel=1e-12)
        assert row["extraction_yield_expanded_u_pct"] == pytest.approx(budget.expanded_u, rel=1e-9)
        group, share = next(iter(budget.shares().items()))
        assert row["main_uncertainty"] == f"{group} {round(100 * share)} %"


def test_the_frame_has_brews_of_every_kind(both):
    facts, groups = both
    assert facts["extraction_yield_df"].is_finite().any()
    assert facts["main_uncertainty"].str.split(" ").list.first().n_unique() > 1
    assert set(groups["instrument_id"]) == set(INSTRUMENTS)
    assert set(facts["balance_used"]) == {"percolation", "immersion"}
    assert facts["read_after"].n_unique() == facts["included"].n_unique() == 2


def test_nothing_stays_behind_but_the_four_columns(both):
    facts, _ = both
    before = with_yield_uncertainty(facts.drop(BUDGET_COLUMNS), SETTINGS)
    assert set(facts.columns) - set(before.columns) == set(BUDGET_COLUMNS)


def test_without_a_yield_or_its_uncertainty_there_is_no_interval():
    rng = np.random.default_rng(1)
    readings = made_up_readings(6, rng).with_columns(
        pl.lit("R1").alias("instrument_id"), standard_uncertainty=pl.lit(None, pl.Float64)
    )
    facts, _ = budgets_of(made_up_brews(6, rng), readings)
    assert facts["extraction_yield_pct"].null_count() == 0
    assert facts.select(BUDGET_COLUMNS).null_count().row(0) == (6,) * 4

    dry = made_up_brews(6, rng).with_columns(beverage_g=pl.lit(None, pl.Float64), bypass_g=pl.lit(None, pl.Float64))
    facts, _ = budgets_of(dry, made_up_readings(6, rng))
    without = facts["balance_used"] == "percolation"
    assert facts.filter(without).select(BUDGET_COLUMNS).null_count().row(0) == (4,) * 4
    assert facts.filter(~without).select(BUDGET_COLUMNS).null_count().row(0) == (0,) * 4


def test_no_repeats_mean_infinite_degrees_of_freedom():
    rng = np.random.default_rng(2)
    once = made_up_readings(9, rng).unique(["brew"], maintain_order=True)
    facts, _ = budgets_of(made_up_brews(9, rng), once)
    assert all(math.isinf(df) for df in facts["extraction_yield_df"])
    assert facts["extraction_yield_k"].to_list() == pytest.approx([1.959964] * 9, abs=5e-7)


def test_a_brew_of_the_facts_scatters_as_the_smallest_differences_of_its_method_say():
    """One rule for a brew read as it was and for the same effort asked for: drops of as many readings each."""
    rng = np.random.default_rng(4)
    made_up = made_up_readings(90, rng)
    drops = rng.normal(0, 0.1, (90, 3))
    off = [drops[brew, sample] for brew, sample in made_up.select("brew", "sample_no").iter_rows()]
    said = read_strength(made_up.with_columns(pl.col("tds_pct") + pl.Series(off)), SETTINGS)
    groups = reading_groups(said, SETTINGS)
    alike = groups.filter(pl.col("n") % pl.col("n_samples") == 0, pl.col("scatter_pct").is_not_null())
    for row in alike.iter_rows(named=True):
        found = drop_scatter(said, instrument_id=row["instrument_id"], method=row["method"])
        effort = {"samples": row["n_samples"], "readings_per_sample": row["n"] // row["n_samples"]}
        assert found.variance(**effort) == pytest.approx(row["scatter_pct"] ** 2 / row["n_repeats"])
        assert found.df_of_mean(**effort) == pytest.approx(row["scatter_df"])
    assert alike["n"].n_unique() > 1
    assert (alike["scatter_df"] != alike["repeats_df"]).any()


def test_another_methods_pool_lends_its_degrees_of_freedom():
    rows = {"brew": [0, 0, 0, 1], "method": ["espresso"] * 3 + ["moka"], "strength_pct": [9.0, 9.1, 9.2, 8.0]}
    frame = pl.DataFrame(rows).with_columns(instrument_id=pl.lit("R1"), is_void=False, sample_no=1, read_by=None)
    found = with_scatter(within_brews(frame)).sort("brew")
    assert found["scatter_df"].to_list() == [2, 2]
    assert found["n_repeats"].to_list() == [3, 1]


def test_a_correction_with_an_uncertain_slope_gives_a_frame_and_a_brew_alone_the_same(monkeypatch):
    slope = Correction("R1", offset=0.02, slope=1.02, standard_uncertainty=0.01, slope_u=0.01, centre=1.3)
    monkeypatch.setattr(f"{__name__}.SETTINGS", LabSettings(default_u=SETTINGS.default_u, corrections=(slope,)))
    rng = np.random.default_rng(3)
    readings = made_up_readings(30, rng).with_columns(
        instrument_id=pl.lit("R1"), resolution=0.01, standard_uncertainty=0.02, reading_scale=pl.lit("tds")
    )
    facts, groups = budgets_of(made_up_brews(30, rng), readings)
    for row in facts.iter_rows(named=True):
        brew = measured_brew(row, groups.filter(pl.col("brew") == row["brew"]).iter_rows(named=True), SETTINGS)
        u = {part.name: part.u for part in brew_budget(brew).components}
        assert (u["TDS correction"], u["TDS gain"]) == pytest.approx((0.01, 0.01 / 1.02))
        assert row["extraction_yield_u_pct"] == pytest.approx(brew_budget(brew).u, rel=1e-12)


def test_a_brew_without_strength_has_no_budget(both):
    facts, _ = both
    row = facts.row(0, named=True) | {"tds_pct": None}
    with pytest.raises(ProblemError, match="Brew b0 has no strength"):
        measured_brew(row, [], SETTINGS)
