"""Pairs and their scatter against means by hand, and against truths that thousands of brews must show."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from analysis.measurement.pairing import pair_up, pooled_readings, reference_as_readings

SCHEMA = {
    "brew_id": pl.String,
    "instrument_id": pl.String,
    "sample_no": pl.Int64,
    "strength_pct": pl.Float64,
    "is_void": pl.Boolean,
}


def readings(*rows) -> pl.DataFrame:
    return pl.DataFrame([(*row, False)[:5] for row in rows], schema=SCHEMA, orient="row")


def test_means_and_scatter_of_two_brews_by_hand():
    pairs = pair_up(
        readings(
            ("b1", "A", 1, 1.20), ("b1", "A", 1, 1.22), ("b1", "B", 1, 1.25),
            ("b2", "A", 1, 1.40), ("b2", "A", 2, 1.44), ("b2", "B", 1, 1.41), ("b2", "B", 2, 1.49),
        ),
        "A", "B",
    )  # fmt: skip

    assert pairs.brew_ids == ("b1", "b2")
    assert pairs.x_pct == pytest.approx([1.21, 1.42])
    assert pairs.y_pct == pytest.approx([1.25, 1.45])
    assert (pairs.n_samples, pairs.n_readings_a, pairs.n_readings_b, pairs.n_left_out) == (3, 4, 3, 0)
    assert (pairs.readings_a.variance, pairs.readings_a.df) == (pytest.approx(0.0002), 1)
    assert pairs.readings_b.df == 0
    assert (pairs.samples.variance, pairs.samples.df) == (pytest.approx(0.0008), 1)  # 0.01 and 0.05 about 0.03
    assert pairs.samples.single == pytest.approx(1 - (1 + 1 / 2) / 2)


def test_only_samples_read_on_both_are_paired_and_the_rest_is_counted():
    frame = readings(
        ("b1", "A", 1, 1.2), ("b1", "A", 2, 1.9), ("b1", "B", 1, 1.3), ("b2", "A", 1, 1.2), ("b2", "B", 2, 1.3),
        ("b3", "A", None, 1.2), ("b3", "B", 1, 1.3), ("b3", "C", 1, 1.3), ("b4", "A", 1, None), ("b4", "B", 1, 1.3),
        ("b5", "A", 1, 1.2, True), ("b5", "B", 1, 1.3, True), ("b6", None, 1, 1.3),
    )  # fmt: skip
    pairs = pair_up(frame, "A", "B")

    assert pairs.brew_ids == ("b1", "b3")  # an empty sample_no is sample 1
    assert pairs.x_pct == pytest.approx([1.2, 1.2])
    assert pairs.n_left_out == 4  # b1 sample 2, both of b2, B of b4; void brews and C are no part of it


def test_nothing_in_common_is_an_empty_pairing():
    pairs = pair_up(readings(("b1", "A", 1, 1.2), ("b2", "B", 1, 1.3)), "A", "B")

    assert pairs.brew_ids == ()
    assert pairs.inside == ()
    assert pairs.n_left_out == 2


def test_the_order_of_rows_changes_no_digit():
    rng = np.random.default_rng(2)
    frame = readings(*((f"b{i % 7}", "AB"[i % 2], 1 + i % 3, rng.normal(1.3, 0.02)) for i in range(120)))
    one, other = pair_up(frame, "A", "B"), pair_up(frame.sample(fraction=1, shuffle=True, seed=5), "A", "B")

    assert one.x_pct.tolist() == other.x_pct.tolist()
    assert (one.readings_a, one.readings_b, one.samples) == (other.readings_a, other.readings_b, other.samples)


@pytest.mark.parametrize(
    ("samples", "of_a", "of_b"),
    [((1,), (3,), (2,)), ((1,), (1, 4), (2, 5)), ((2,), (3,), (3,)), ((1, 2, 4), (1, 2, 5), (3, 1))],
    ids=["equal", "unequal readings", "samples", "unequal all through"],
)
def test_the_variance_of_a_single_difference_is_recovered_from_averaged_repeats(samples, of_a, of_b):
    """Truth: 0.02^2 between brews, 0.015^2 between samples, 0.01^2 and 0.03^2 of readings."""
    rng = np.random.default_rng(20260612)
    rows = []
    n = 4000
    for brew in range(n):
        own = rng.normal(0, 0.02)
        for sample in range(samples[brew % len(samples)]):
            truth, shift = rng.normal(1.3, 0.1), own + rng.normal(0, 0.015)
            k = brew + sample
            rows += [(f"{brew}", "A", sample, v) for v in rng.normal(truth, 0.01, of_a[k % len(of_a)])]
            rows += [(f"{brew}", "B", sample, v) for v in rng.normal(truth + shift, 0.03, of_b[k % len(of_b)])]
    pairs = pair_up(readings(*rows), "A", "B")
    found = (pairs.y_pct - pairs.x_pct).var(ddof=1) + sum(part.single * part.variance for part in pairs.inside)

    truth = 0.02**2 + 0.015**2 + 0.01**2 + 0.03**2
    if samples == (1,):  # one sample a brew: what samples do is part of what brews do
        assert pairs.samples.df == 0
    assert found == pytest.approx(truth, rel=4 * np.sqrt(2 / n))  # four standard errors of a variance of n


def test_repeats_of_an_instrument_are_pooled_over_all_its_samples():
    frame = readings(
        ("b1", "A", 1, 1.2), ("b1", "A", 1, 1.24), ("b1", "A", 2, 1.5), ("b2", "A", 1, 1.3), ("b2", "A", 1, 1.3)
    )
    scatter = pooled_readings(frame, "A")

    assert (scatter.variance, scatter.df) == (pytest.approx(0.0004), 2)  # (0.02^2 + 0.02^2 + 0 + 0) / 2
    assert pooled_readings(frame, "Z").df == 0


def test_dried_replicates_stand_in_for_an_instrument():
    dried = pl.DataFrame({"brew_id": ["b1", "b1"], "sample_no": [1, None], "tds_pct": [1.31, 1.33]})
    frame = pl.concat([readings(("b1", "A", 1, 1.30)), reference_as_readings(dried)])
    pairs = pair_up(frame, "drying oven", "A")

    assert pairs.x_pct == pytest.approx([1.32])
    assert pairs.n_readings_a == 2
