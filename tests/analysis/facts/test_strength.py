"""Readings averaged per brew, and the uncertainty of that mean."""

import math
import statistics

import numpy as np
import pytest

from schemas.lab import Correction, LabSettings

R1 = {"instrument_id": "R1", "standard_uncertainty": 0.03, "resolution": 0.01, "brew_id": "b1"}
R2 = {"instrument_id": "R2", "standard_uncertainty": 0.05, "resolution": 0.1, "brew_id": "b1"}
R1_BIAS = 0.03**2 + 0.01**2 / 12
R2_BIAS = 0.05**2 + 0.1**2 / 12


def read(instrument, values, *, sample=1, **more):
    return [
        instrument | {"sample_no": sample, "reading_no": number, "tds_pct": value} | more
        for number, value in enumerate(values, 1)
    ]


def test_the_mean_weighs_every_reading_alike_whatever_its_sample(fact_of):
    fact = fact_of({}, read(R1, [9.0, 9.2, 9.4]) + read(R1, [10.4], sample=2))
    assert fact["tds_pct"] == pytest.approx(9.5)
    assert fact["tds_sd_pct"] == pytest.approx(statistics.stdev([9.0, 9.2, 9.4, 10.4]))
    assert fact["n_readings"] == 4


def test_one_reading_has_no_spread(fact_of):
    fact = fact_of({}, read(R1, [9.0]))
    assert fact["tds_sd_pct"] is None
    assert fact["tds_u_pct"] == pytest.approx(math.sqrt(R1_BIAS))
    assert fact["u_note"] == "no repeated readings on R1: scatter not counted; " + NO_SCALE


NO_SCALE = "no scale_id and no lab default for dose_g, beverage_g: counted as exact"


def test_two_instruments_by_their_shares(facts_of):
    # R1 reads 3 of the 4 readings of b1, R2 one. R2's scatter comes from b2 alone: sd of 9.0 and 9.4 is sqrt(0.08).
    readings = read(R1, [9.0, 9.2, 9.4]) + read(R2, [9.6]) + read(R2 | {"brew_id": "b2"}, [9.0, 9.4])
    facts = facts_of([{}, {}], readings).sort("brew_id")
    first, second = facts["tds_u_pct"]
    assert first == pytest.approx(math.sqrt((3 / 4) ** 2 * (0.04 / 3 + R1_BIAS) + (1 / 4) ** 2 * (0.08 / 1 + R2_BIAS)))
    assert second == pytest.approx(math.sqrt(0.08 / 2 + R2_BIAS))


def test_samples_set_the_scatter_and_the_count(fact_of):
    # Sample means 9.1 and 9.5: sd sqrt(0.08), two samples.
    fact = fact_of({}, read(R1, [9.0, 9.2]) + read(R1, [9.4, 9.6], sample=2))
    assert fact["tds_u_pct"] == pytest.approx(math.sqrt(0.08 / 2 + R1_BIAS))


def test_another_methods_repeats_stand_in(facts_of):
    readings = read(R1, [9.0, 9.4]) + read(R1 | {"brew_id": "b2"}, [1.3])
    facts = facts_of([{}, {"method": "pour_over", "beverage_g": 280.0}], readings).sort("brew_id")
    assert facts["tds_u_pct"][1] == pytest.approx(math.sqrt(0.08 + R1_BIAS))
    assert facts["u_note"][1] == f"scatter of readings on R1 judged from 1 repeat only; {NO_SCALE}"


def test_void_brews_neither_feed_the_pool_nor_lose_their_own_uncertainty(facts_of):
    readings = read(R1, [9.0, 9.4]) + read(R1 | {"brew_id": "b2"}, [9.0, 12.0])
    facts = facts_of([{}, {"void_reason": "spilt"}], readings).sort("brew_id")
    assert facts["tds_u_pct"].to_list() == pytest.approx([math.sqrt(0.08 / 2 + R1_BIAS)] * 2)


def test_readings_without_instrument_take_the_labs_default(fact_of):
    lab = LabSettings(default_u={"tds_pct": 0.04, "dose_g": 0.0, "beverage_g": 0.0})
    fact = fact_of({"tds": [9.0, 9.4]}, settings=lab)
    assert fact["tds_u_pct"] == pytest.approx(math.sqrt(0.08 / 2 + 0.04**2))
    assert fact["u_note"] == "scatter of readings on an unnamed instrument judged from 1 repeat only"


def test_without_instrument_or_default_the_uncertainty_is_empty(fact_of):
    fact = fact_of({"tds": [9.0, 9.4]})
    assert fact["tds_u_pct"] is None
    assert fact["extraction_yield_u_pct"] is None
    assert fact["u_note"].startswith("no instrument_id and no lab default for tds_pct: no uncertainty of strength")


def test_an_instrument_that_says_nothing_of_itself_leaves_it_empty(fact_of):
    fact = fact_of({}, read({"instrument_id": "R9", "brew_id": "b1"}, [9.0, 9.4]))
    assert fact["tds_pct"] == pytest.approx(9.2)
    assert fact["tds_u_pct"] is None
    assert fact["u_note"] == (
        "R9 has no standard_uncertainty: no uncertainty of strength; scatter of readings on R9 judged from 1 repeat "
        f"only; R9 has no resolution: counted as 0; {NO_SCALE}"
    )


@pytest.mark.parametrize(
    ("readings", "said"),
    [
        ([[9.0, 9.2]], "scatter of readings on R1 judged from 1 repeat only; "),
        ([[9.0, 9.2], [9.1, 9.2]], "scatter of readings on R1 judged from 2 repeats only; "),
        ([[9.0, 9.2, 9.4]], "scatter of readings on R1 judged from 2 repeats only; "),
        ([[9.0, 9.2, 9.4], [9.1, 9.2]], ""),
    ],
)
def test_a_scatter_of_one_or_two_repeats_is_said_to_be_so(facts_of, readings, said):
    rows = [row for number, values in enumerate(readings, 1) for row in read(R1 | {"brew_id": f"b{number}"}, values)]
    facts = facts_of([{} for _ in readings], rows)
    assert facts["u_note"].to_list() == [said + NO_SCALE] * len(readings)


def test_readers_who_differ_do_not_widen_the_scatter(fact_of):
    # Each reader's pair is 0.2 apart, variance 0.02 with one degree of freedom each; the readers lie 1.0 apart.
    second = [row | {"reading_no": row["reading_no"] + 2} for row in read(R1, [10.0, 10.2], read_by="Bo")]
    fact = fact_of({}, read(R1, [9.0, 9.2], read_by="Ann") + second)
    assert fact["tds_pct"] == pytest.approx(9.6)
    assert fact["tds_u_pct"] == pytest.approx(math.sqrt(0.02 / 4 + R1_BIAS))


def test_one_unknown_instrument_is_enough(fact_of):
    fact = fact_of({}, read(R1, [9.0, 9.4]) + read({"instrument_id": "R9", "brew_id": "b1"}, [9.2]))
    assert fact["tds_u_pct"] is None


def test_a_declared_correction_is_applied_first_and_brings_its_own_uncertainty(fact_of):
    # (9.25 - 0.05) / 1.15 = 8; the two readings then differ by 0.23 / 1.15 = 0.2: variance 0.02.
    lab = LabSettings(corrections=(Correction("R1", offset=0.05, slope=1.15, standard_uncertainty=0.01),))
    fact = fact_of({}, read(R1, [9.135, 9.365]), settings=lab)
    assert fact["tds_pct"] == pytest.approx(8.0)
    assert fact["tds_sd_pct"] == pytest.approx(math.sqrt(0.02))
    assert fact["tds_u_pct"] == pytest.approx(math.sqrt(0.02 / 2 + 0.01**2 + 0.01**2 / 12))


def test_brix_needs_the_labs_factor(fact_of):
    brix = read(R1, [10.0, 10.4], reading_scale="brix")
    fact = fact_of({}, brix)
    assert (fact["tds_pct"], fact["tds_sd_pct"], fact["extraction_yield_pct"]) == (None, None, None)
    assert fact["n_readings"] == 2
    # With 0.85 invented: 8.5 and 8.84 %, and the instrument's figures are in Brix too.
    fact = fact_of({}, brix, settings=LabSettings(brix_factor=0.85))
    assert fact["tds_pct"] == pytest.approx(8.67)
    assert fact["tds_u_pct"] == pytest.approx(0.85 * math.sqrt(0.08 / 2 + R1_BIAS))


def test_a_reading_on_milk_says_no_strength(fact_of):
    fact = fact_of({}, read(R1, [5.0, 5.1], served_as="milk"))
    assert (fact["tds_pct"], fact["cup_tds_pct"], fact["extraction_yield_pct"]) == (None, None, None)
    assert fact["n_readings"] == 2
    mixed = fact_of({}, read(R1, [9.0]) + read(R1, [5.0], sample=2, served_as="milk"))
    assert mixed["tds_pct"] == 9.0


def test_the_mean_of_simulated_brews_scatters_as_its_uncertainty_says(facts_of):
    # 600 invented brews, three readings each on one instrument whose bias is drawn once per brew, display 0.01:
    # the standard deviation of (mean - truth) must equal u within 4 standard errors, 4 / sqrt(2 * 600) = 11.5 %.
    rng = np.random.default_rng(77)
    truth = rng.normal(9.0, 0.5, 600)
    bias = rng.normal(0, 0.03, 600)
    values = np.round(truth[:, None] + bias[:, None] + rng.normal(0, 0.04, (600, 3)), 2)
    readings = [
        row for number, trio in enumerate(values, 1) for row in read(R1 | {"brew_id": f"b{number}"}, trio.tolist())
    ]
    facts = facts_of([{"brew_id": f"b{number}"} for number in range(1, 601)], readings)
    order = [int(name[1:]) - 1 for name in facts["brew_id"]]
    error = facts["tds_pct"].to_numpy() - truth[order]
    assert facts["tds_u_pct"].mean() == pytest.approx(error.std(), rel=0.115)
