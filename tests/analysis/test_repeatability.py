"""Pooled scatter against plain loops and a published one-way layout."""

import math
import statistics

import numpy as np
import polars as pl
import pytest

from analysis.repeatability import scatter_of_others, with_scatter, within_brews

# Davies & Goldsmith (1972), the Dyestuff data of check-values.md 3.2: six batches of five; MS within = 2451.25.
DYESTUFF = [
    [1545, 1440, 1440, 1520, 1580],
    [1540, 1555, 1490, 1560, 1495],
    [1595, 1550, 1605, 1510, 1560],
    [1445, 1440, 1595, 1465, 1545],
    [1595, 1630, 1515, 1635, 1625],
    [1520, 1455, 1450, 1480, 1445],
]
SCHEMA = {
    "brew": pl.Int64,
    "instrument_id": pl.String,
    "method": pl.String,
    "is_void": pl.Boolean,
    "sample_no": pl.Int64,
    "strength_pct": pl.Float64,
}


def readings(*rows):
    return pl.DataFrame(rows, schema=SCHEMA, orient="row")


def brew(number, values, *, instrument="R1", method="espresso", void=False, sample=1):
    return [(number, instrument, method, void, sample, float(value)) for value in values]


def scatter(*brews):
    return with_scatter(within_brews(readings(*(row for rows in brews for row in rows)))).sort("brew")


def test_pooled_sd_of_a_published_layout():
    found = scatter(*(brew(number, batch) for number, batch in enumerate(DYESTUFF)))

    assert found["scatter_pct"].to_list() == pytest.approx([math.sqrt(2451.25)] * 6, rel=1e-12)
    assert found["n_repeats"].to_list() == [5] * 6


def test_pools_equal_plain_loops_over_brews():
    rng = np.random.default_rng(11)
    brews = []
    for number in range(60):
        method, instrument = ["espresso", "pour_over"][number % 2], ["R1", "R2", None][number % 3]
        values = rng.normal(10, 0.05, size=1 + number % 4)
        brews.append((number, instrument, method, number % 10 == 0, values))
    found = scatter(*(brew(n, values, instrument=i, method=m, void=v) for n, i, m, v, values in brews))

    for row in found.iter_rows(named=True):
        squares, df = 0.0, 0
        for _, instrument, method, void, values in brews:
            if (instrument, method) == (row["instrument_id"], row["method"]) and not void:
                mean = sum(values) / len(values)
                squares += sum((value - mean) ** 2 for value in values)
                df += len(values) - 1
        assert row["scatter_pct"] == pytest.approx(math.sqrt(squares / df), rel=1e-12)


def test_void_brews_stay_out_of_the_pool():
    found = scatter(brew(1, [10.0, 10.2]), brew(2, [9.0, 12.0], void=True))
    assert found["scatter_pct"].to_list() == pytest.approx([statistics.stdev([10.0, 10.2])] * 2)


def test_without_repeats_the_instruments_other_methods_stand_in():
    found = scatter(brew(1, [10.0, 10.2]), brew(2, [1.3], method="pour_over"), brew(3, [1.3], instrument="R2"))
    assert found["scatter_pct"].to_list()[:2] == pytest.approx([statistics.stdev([10.0, 10.2])] * 2)
    assert found["scatter_pct"][2] is None


def test_with_samples_the_repeat_is_the_sample():
    # Sample means 10.0 and 10.4 (sd sqrt(0.08)), then 9.9 and 10.1 (sd sqrt(0.02)): pooled sqrt(0.05).
    found = scatter(
        brew(1, [9.9, 10.1]) + brew(1, [10.3, 10.5], sample=2),
        brew(2, [9.9]) + brew(2, [10.1], sample=2),
        brew(3, [10.0, 10.0, 10.0]),
    )
    assert found["scatter_pct"].to_list() == pytest.approx([math.sqrt(0.05)] * 3)
    # Three readings of one drop are one repeat of the sampling.
    assert found["n_repeats"].to_list() == [2, 2, 1]


def test_the_order_of_rows_does_not_move_a_digit():
    rng = np.random.default_rng(3)
    rows = [row for number in range(200) for row in brew(number, rng.normal(10, 0.1, 3))]
    shuffled = [rows[position] for position in rng.permutation(len(rows))]
    once = with_scatter(within_brews(readings(*sorted(rows)))).sort("brew")["scatter_pct"]
    again = with_scatter(within_brews(readings(*sorted(shuffled)))).sort("brew")["scatter_pct"]
    assert once.to_list() == again.to_list()


def test_scatter_of_the_others_leaves_the_brew_itself_out():
    brews = {1: [10.0, 10.2], 2: [10.0, 10.1, 10.2], 3: [8.0, 12.0]}
    frame = readings(*(row for number, values in brews.items() for row in brew(number, values)))
    found = scatter_of_others(within_brews(frame)).sort("brew")

    for row in found.iter_rows(named=True):
        others = [values for number, values in brews.items() if number != row["brew"]]
        squares = sum((len(values) - 1) * statistics.variance(values) for values in others)
        df = sum(len(values) - 1 for values in others)
        assert row["others_df"] == df
        assert row["others_scatter_pct"] == pytest.approx(math.sqrt(squares / df))
