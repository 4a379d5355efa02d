"""Scatter of readings, of drops and of brews to one recipe: against plain loops, a published layout, and truth."""

import math
import statistics

import numpy as np
import polars as pl
import pytest

from analysis.measurement.drops import DropScatter, drop_scatter, widest_brew
from analysis.measurement.effort import Effort
from analysis.measurement.same_recipe import BY_SETTINGS, NAMED, recipe_scatter, with_recipe
from analysis.measurement.smallest_difference import smallest_for_brews
from schemas.problem import ProblemError
from tests.analysis.measurement.made_up_brews import filter_brew

READING = {
    "brew": pl.Int64, "instrument_id": pl.String, "method": pl.String, "is_void": pl.Boolean, "sample_no": pl.Int64,
    "strength_pct": pl.Float64,
}  # fmt: skip
# Davies & Goldsmith (1972), the Dyestuff data of check-values 3.2: six batches of five, MS within = 2451.25,
# between-batch variance 1764.05.
DYESTUFF = [
    [1545, 1440, 1440, 1520, 1580],
    [1540, 1555, 1490, 1560, 1495],
    [1595, 1550, 1605, 1510, 1560],
    [1445, 1440, 1595, 1465, 1545],
    [1595, 1630, 1515, 1635, 1625],
    [1520, 1455, 1450, 1480, 1445],
]


def readings(rows):
    return pl.DataFrame(
        [(brew, "R1", "espresso", void, sample, value) for brew, void, sample, value in rows],
        schema=READING,
        orient="row",
    ).with_columns(read_by=pl.lit(None, pl.String))


def scatter_of(rows, *, instrument_id="R1", method="espresso"):
    return drop_scatter(readings(rows), instrument_id=instrument_id, method=method)


def test_drops_of_one_brew_are_the_batches_of_the_dyestuff_data():
    rows = [(1, False, sample, float(value)) for sample, batch in enumerate(DYESTUFF) for value in batch]
    found = scatter_of(rows)

    assert found.reading_pct**2 == pytest.approx(2451.25)
    assert found.sample_pct**2 == pytest.approx(1764.05)
    assert (found.reading_df, found.sample_df, found.df) == (24, 5, 5)
    # One sample of five readings has the variance of a batch mean: MS between / 5 = 11271.5 / 5.
    assert found.variance(samples=1, readings_per_sample=5) == pytest.approx(11271.5 / 5)
    assert found.variance(samples=2, readings_per_sample=1) == pytest.approx((1764.05 + 2451.25) / 2)


def test_samples_that_differ_less_than_their_readings_rest_on_the_readings():
    # By hand: two brews, two drops each, read 8.9 and 9.1: every drop averages 9.0, and 0.02 within each of four drops.
    # The mean of two readings has then 0.02 / 2, known as well as the readings are: 4 degrees, not the samples' 2.
    # Simulated apart (normal errors, 2 and 24 degrees): t of the readings' degrees covers 93.5 to 97.3 %, of the
    # samples' 99.4 to 100 %.
    found = scatter_of([(brew, False, drop, value) for brew in (1, 2) for drop in (1, 2) for value in (8.9, 9.1)])
    assert found.samples_alike
    assert (found.sample_df, found.reading_df, found.df) == (2, 4, 4)
    assert found.variance(samples=1, readings_per_sample=2) == pytest.approx(0.02 / 2)


@pytest.mark.parametrize(("typed", "said"), [(2.41, "99 % of the scatter"), (2.02, "")])
def test_a_brew_that_makes_most_of_the_scatter_is_named(typed, said):
    # By hand: five drops of two readings 0.02 apart, 0.0002 each; one brew 2.01 and 2.41: 0.08 of 0.081 in all.
    pairs = [(brew, 1.90, 1.92) for brew in range(5)] + [(9, 2.01, typed)]
    frame = readings([(brew, False, 1, value) for brew, *values in pairs for value in values])
    found = widest_brew(frame.with_columns(brew_id=pl.format("b{}", "brew")), instrument_id="R1", method="espresso")
    assert found.startswith(said)
    assert ("b9 was read 2.01 to 2.41 %" in found) == bool(said)


def test_the_two_scatters_are_found_again():
    rng = np.random.default_rng(20260611)
    rows = [
        (brew, False, sample, 9.0 + brew % 3 + drop + rng.normal(0, 0.03))
        for brew in range(400)
        for sample in range(2)
        for drop in [rng.normal(0, 0.05)]
        for _ in range(1 + (brew + sample) % 3)
    ]
    found = scatter_of(rows)
    # 400 pairs of drops: a standard deviation is known to 1 / sqrt(2 * 400) = 3.5 %; three of them.
    assert found.reading_pct == pytest.approx(0.03, rel=0.11)
    assert found.sample_pct == pytest.approx(0.05, rel=0.14)


def test_without_a_second_drop_only_readings_are_known():
    found = scatter_of([(1, False, 1, 9.0), (1, False, 1, 9.2), (2, False, 1, 8.0), (2, True, 1, 1.0)])
    assert found.reading_pct == pytest.approx(statistics.stdev([9.0, 9.2]))
    assert (found.knows_samples, found.df) == (False, 1)
    assert found.variance(samples=1, readings_per_sample=2) == pytest.approx(0.01)
    assert found.variance(samples=2, readings_per_sample=1) is None


def test_drops_read_once_do_not_say_what_another_reading_would_buy():
    found = scatter_of([(1, False, 1, 9.0), (1, False, 2, 9.2)])
    assert found.variance(samples=2, readings_per_sample=1) == pytest.approx(0.02 / 2)
    assert found.variance(samples=2, readings_per_sample=2) is None


def test_repeats_that_are_all_equal_are_called_so():
    equal = scatter_of([(1, False, 1, 9.0), (1, False, 1, 9.0), (2, False, 1, 8.0), (2, False, 1, 8.0)])
    assert (equal.all_equal, equal.df) == (True, 2)
    assert not scatter_of([(1, False, 1, 9.0), (1, False, 1, 9.1)]).all_equal
    found = smallest_for_brews(filter_brew(), equal, effort=Effort(samples=1, readings_per_sample=2))
    assert "with 2 degrees of freedom, all of them equal: the display step alone" in found.rests_on


def test_without_repeats_nothing_is_known():
    assert DropScatter(None, 0, None, None, 0).variance(samples=1, readings_per_sample=1) is None
    assert scatter_of([(1, False, 1, 9.0), (2, False, 1, 9.2)]) == DropScatter(None, 0, None, None, 0, True)
    with pytest.raises(ProblemError, match="No readings on R7"):
        scatter_of([(1, False, 1, 9.0)], instrument_id="R7")


def test_a_method_without_repeats_borrows_from_the_instruments_others():
    found = scatter_of([(1, False, 1, 9.0), (1, False, 1, 9.2)], method="moka")
    assert (found.reading_pct, found.other_methods) == (pytest.approx(statistics.stdev([9.0, 9.2])), True)
    assert not scatter_of([(1, False, 1, 9.0), (1, False, 1, 9.2)]).other_methods


BREW = {
    "brew_id": pl.String, "recipe_id": pl.String, "coffee_id": pl.String, "method": pl.String, "grinder_id": pl.String,
    "grind_setting": pl.String, "dose_g": pl.Float64, "water_ratio": pl.Float64, "beverage_ratio": pl.Float64,
    "is_void": pl.Boolean, "extraction_yield_pct": pl.Float64,
}  # fmt: skip


def facts(*rows):
    """Rows of (recipe, coffee, setting, dose, water ratio, beverage ratio, yield)."""
    return pl.DataFrame(
        [
            (f"b{n}", recipe, coffee, "espresso", "G1", setting, dose, water, beverage, False, extracted)
            for n, (recipe, coffee, setting, dose, water, beverage, extracted) in enumerate(rows)
        ],
        schema=BREW,
        orient="row",
    )


def groups(frame):
    """Brews that stand together, as sets of row numbers."""
    marked = with_recipe(frame).with_row_index()
    return {tuple(rows) for (number,), rows in _by_recipe(marked) if number is not None}


def _by_recipe(marked):
    return [(key, group["index"].to_list()) for key, group in marked.group_by("recipe_no", maintain_order=True)]


def test_a_named_recipe_rules_within_one_coffee():
    frame = facts(
        ("A", "c1", "5", 18.0, None, 2.0, 20.0),
        ("A", "c1", "9", 25.0, None, 3.0, 21.0),
        ("A", "c2", "5", 18.0, None, 2.0, 20.0),
        (None, "c1", "5", 18.0, None, 2.0, 20.0),
    )
    assert groups(frame) == {(0, 1), (2,), (3,)}
    assert with_recipe(frame)["recipe_rule"].to_list() == [NAMED, NAMED, NAMED, BY_SETTINGS]


def test_without_a_name_coffee_grinder_dial_dose_and_ratio_decide():
    frame = facts(
        (None, "c1", "5", 18.0, None, 2.00, 20.0),
        (None, "c1", "5", 18.3, None, 2.09, 20.0),  # 0.3 g and 4.5 % apart: the same
        (None, "c1", "5", 18.4, None, 2.00, 20.0),  # 0.4 g apart: another
        (None, "c1", "5", 18.1, None, 2.50, 20.0),  # another ratio
        (None, "c1", "6", 18.0, None, 2.00, 20.0),  # another setting
        (None, "c2", "5", 18.0, None, 2.00, 20.0),  # another coffee
        (None, "c1", "5", 18.0, 16.0, 2.00, 20.0),  # water was weighed: its ratio decides
        (None, "c1", None, 18.0, None, 2.00, 20.0),  # the dial is not known: nobody can tell
    )
    assert groups(frame) == {(0, 1), (2,), (3,), (4,), (5,), (6,)}
    assert with_recipe(frame).columns == [*frame.columns, "recipe_rule", "recipe_no"]


def test_brew_to_brew_scatter_is_the_within_square_of_the_dyestuff_data():
    rows = [(f"r{n}", "c1", "5", 18.0, None, 2.0, float(y)) for n, batch in enumerate(DYESTUFF) for y in batch]
    found = recipe_scatter(facts(*rows), method="espresso")

    assert found.sd_pct**2 == pytest.approx(2451.25)
    assert (found.df, found.n_recipes, found.n_brews, found.rule) == (24, 6, 30, NAMED)
    assert "30 brews of 6 recipes, 24 degrees of freedom; same recipe: the same recipe_id" in found.sentence()


def test_void_brews_single_brews_and_brews_without_a_yield_stay_out():
    rows = [("A", "c1", "5", 18.0, None, 2.0, y) for y in (20.0, 21.0, 90.0, None)] + [
        ("B", "c1", "5", 18.0, None, 2.0, 19.0)
    ]
    frame = facts(*rows).with_columns(is_void=pl.col("extraction_yield_pct") == 90.0)
    found = recipe_scatter(frame.with_columns(pl.col("is_void").fill_null(False)), method="espresso")
    assert (found.sd_pct, found.df, found.n_brews) == (pytest.approx(math.sqrt(0.5)), 1, 2)


def test_no_recipe_brewed_twice_is_refused_plainly():
    with pytest.raises(ProblemError, match=r"No recipe of espresso was brewed twice \(1 brew with a yield\)"):
        recipe_scatter(facts(("A", "c1", "5", 18.0, None, 2.0, 20.0)), method="espresso")
