"""Records of instruments: what is read from the tables, and what is said."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import polars as pl
import pytest

from analysis.measurement.calibration import limits_for, read_checks, series
from analysis.measurement.calibration_words import record_sentences
from analysis.measurement.correction import FittedCorrection
from analysis.measurement.correction_block import block_for, correction_block
from analysis.measurement.instrument_record import instrument_records
from pipeline.lab import load_settings
from schemas.contracts import TABLES
from schemas.dtypes import stored_schema
from schemas.lab import CheckLimits, Correction, LabSettings

START = datetime(2026, 3, 2, 8, 15, tzinfo=UTC)


def frame(table, rows):
    schema = stored_schema(TABLES[table])
    return pl.DataFrame([{name: row.get(name) for name in schema} for row in rows], schema=schema)


def check(week, kind, due, seen, *, on="R1", minutes=0):
    at = START + timedelta(weeks=week, minutes=minutes)
    return {
        "instrument_id": on, "checked_at": at, "check_kind": kind, "reference_value": due, "observed_value": seen
    }  # fmt: skip


def reading(value, *, on="R1", brew="b1", sample=1, number=1):
    return {"instrument_id": on, "brew_id": brew, "sample_no": sample, "reading_no": number, "tds_pct": value}


UNDECLARED = LabSettings()
R1 = {"instrument_id": "R1", "kind": "refractometer", "unit": "%", "resolution": 0.01}
S1 = {"instrument_id": "S 1", "kind": "scale", "unit": "g", "resolution": 0.1}
WEEKLY = [check(week, "reference", 1.3, 1.32 + 0.01 * (week % 2)) for week in range(8)]
LINE = [
    check(week, "reference", due, due + 0.01 * (week % 2) + 0.02 * due) for week in range(6) for due in (1.3, 5.0, 9.8)
]


def records(checks, instruments=(R1,), readings=(), settings=UNDECLARED):
    tables = frame("calibrations", checks), frame("instruments", instruments), frame("readings", readings)
    return instrument_records(*tables, settings=settings)


def said(checks, instruments=(R1,), readings=(), settings=UNDECLARED, timezone="UTC"):
    (record,) = records(checks, instruments, readings, settings)
    return list(record_sentences(record, timezone=timezone))


def test_every_instrument_of_either_table_in_order_of_time():
    checks = [check(1, "reference", 1.3, 1.31), check(0, "reference", 1.3, 1.3), check(0, "water_zero", 0.0, 0.0)]
    one, two, three = read_checks(frame("calibrations", [*checks, check(0, "reference", 5.0, 5.0, on="X")]),
                                  frame("instruments", [R1, S1]))  # fmt: skip
    assert [found.instrument_id for found in (one, two, three)] == ["R1", "S 1", "X"]
    assert [found.observed for found in one.checks] == [0.0, 1.3, 1.31]
    assert (two.checks, two.unit, two.resolution) == ((), "g", 0.1)
    assert (three.kind, three.unit, three.resolution) == ("", "", None)


def test_uncertainties_of_references_come_along_where_the_table_has_them():
    table = frame("calibrations", [check(0, "reference", 1.3, 1.3)]).with_columns(reference_u=0.012)
    (one,) = read_checks(table, frame("instruments", [R1]))
    assert one.checks[0].reference_u == 0.012


def test_an_instruments_own_block_goes_before_the_general_one_entry_by_entry():
    lab = LabSettings(
        checks=CheckLimits(zero_tolerance=0.02, reference_u=0.01),
        instrument_checks={"R1": CheckLimits(zero_tolerance=0.05), "S 1": CheckLimits(reference_u=0.3)},
    )
    r1, s1 = read_checks(frame("calibrations", []), frame("instruments", [R1, S1]))
    assert limits_for(r1, lab) == CheckLimits(zero_tolerance=0.05, reference_u=0.01)
    assert limits_for(s1, lab) == CheckLimits(reference_u=0.3)


def test_a_reference_of_zero_or_below_is_a_level_of_its_own():
    (thermometer,) = read_checks(
        frame("calibrations", [check(0, "reference", due, due) for due in (-5.0, 0.0, 90.0, 99.0)]),
        frame("instruments", [R1]),
    )
    assert [[found.reference for found in part] for part in series(thermometer.checks)] == [[-5.0], [0.0], [90.0, 99.0]]


def test_an_instrument_without_checks_says_what_rests_on_it():
    assert said([], readings=[reading(1.3), reading(1.31, number=2)]) == [
        "R1 has no checks, so that nothing is known of its drift. 2 readings rest on it. Log a zero and a reference "
        "check each week."
    ]
    assert said([], instruments=[S1]) == [
        "S 1 has no checks, so that nothing is known of its drift. Log a reference check each week."
    ]


def test_one_check_only():
    assert said([check(0, "reference", 1.3, 1.31)]) == [
        "The zero of R1: no drift can be told, there are no checks.",
        "The error of R1 against references: no drift can be told, one check only; it takes 3 at different times.",
        "No correction can be found for R1: one reference check only; how far checks scatter takes 3.",
        "No correction is applied to R1: lab.toml declares none.",
        "1 check neither passes nor fails, it is off by +0.01 % on 2 March 2026: declare reference_tolerance under "
        "[checks] in lab.toml, or log 8 checks of a kind.",
    ]


def test_a_zero_far_off_is_told_before_there_are_limits():
    # Nine display steps of 0.01 % on the third of four days, 4 March 2026; the others within one.
    (record,) = instrument_records(
        pl.DataFrame(
            [("R1", datetime(2026, 3, n, 8, tzinfo=UTC), "water_zero", 0.0, v) for n, v in ((2, 0.0), (3, 0.01),
             (4, 0.09), (5, -0.01))],
            schema=["instrument_id", "checked_at", "check_kind", "reference_value", "observed_value"], orient="row",
        ),
        pl.DataFrame({"instrument_id": ["R1"], "kind": ["refractometer"], "unit": ["%"], "resolution": [0.01]}),
        pl.DataFrame(schema={"instrument_id": pl.String, "brew_id": pl.String, "sample_no": pl.Int64,
                             "tds_pct": pl.Float64}),
        settings=LabSettings(),
    )  # fmt: skip
    said = "4 checks neither pass nor fail, the farthest off: +0.09 % on 4 March 2026: declare zero_tolerance"
    assert said in " ".join(record_sentences(record))


def test_an_offset_with_its_basis_and_what_it_assumes():
    # Errors 0.02 and 0.03 in turn: mean 0.025, sd 0.00535; u = hypot(sd / sqrt(8), sd) = 0.0057, step counted.
    text = said(WEEKLY, readings=[reading(1.3), reading(9.5, brew="b2")])
    assert text[2] == (
        "R1 reads 0.0250 % high at 1.30 % (standard uncertainty 0.0057 %); an offset alone: one reference value only; "
        "8 reference checks at 1.30 %, 2 March to 20 April 2026."
    )
    assert "The reference values count as exact: declare reference_u under [checks] in lab.toml" in text[3]
    assert text[4] == (
        "Readings on R1 go from 1.30 to 9.50 %, references lie at 1.30 %: beyond them the correction is carried "
        "further than it was checked, and that the offset is the same there is assumed, not seen."
    )
    assert text[5] == "No correction is applied to R1: lab.toml declares none."


def test_a_declared_correction_is_stated():
    lab = LabSettings(corrections=(Correction("R1", 0.025, 1.02, 0.004, slope_u=0.001, centre=5.0),))
    assert (
        "lab.toml corrects every reading on R1: (reading - 0.025) / 1.02 (standard uncertainty 0.004 % at 5 %, more on "
        "either side)." in said(WEEKLY, settings=lab)
    )


def test_a_line_says_both_ends_and_how_far_it_is_carried():
    text = said(LINE, readings=[reading(14.0)], settings=LabSettings(checks=CheckLimits(reference_u=0.01)))
    (line,) = [part for part in text if part.startswith("R1 reads ")]
    assert "slope 1.0200, standard uncertainty 0.00" in line
    assert "18 reference checks at 1.30 to 9.80 %, 2 March to 6 April 2026" in line
    assert any("the standard uncertainty grows to 0.0" in part and "at 13.72 %" in part for part in text)


def test_a_drifting_instrument_is_to_be_adjusted_first():
    drifting = [check(week, "reference", 1.3, 1.3 + 0.01 * week) for week in range(6)]
    text = said(drifting)
    assert text[1].startswith("The error of R1 against references drifts up by 0.0100 % a week (95 % interval ")
    assert any(part.startswith("It drifts, so that one correction does not hold") for part in text)


def test_a_failed_check_comes_first_in_the_labs_own_time():
    lab = LabSettings(checks=CheckLimits(zero_tolerance=0.02))
    zeros = [check(week, "water_zero", 0.0, seen) for week, seen in enumerate([0.0, 0.05, 0.0])]
    assert said(zeros, settings=lab, timezone="Europe/Vienna")[0] == (
        "R1 failed its zero check on 9 March 2026 09:15: it read 0.05 % where 0.00 % was due, and 0.02 % either way is "
        "allowed; from 2 March 2026 09:15 until 16 March 2026 09:15, readings on R1 are in doubt."
    )


def test_an_unknown_unit_is_said_and_numbers_go_without():
    text = said(WEEKLY, instruments=[{"instrument_id": "R1"}])
    assert text[-1] == "R1 states no unit: these numbers are in whatever it shows."
    assert not any("%" in part.replace("95 % interval", "") for part in text)


def test_a_weighing_scale_is_adjusted_not_corrected():
    masses = [check(week, "reference", 200.0, 200.3 + 0.1 * (week % 2), on="S 1") for week in range(8)]
    (record,) = records(masses, instruments=[S1])
    assert block_for(record) == ""
    text = record_sentences(record)
    assert "Only readings of strength are ever corrected; have S 1 adjusted where it is off." in text
    assert not any("zero" in part for part in text)
    assert any('declare reference_u under [checks."S 1"] in lab.toml' in part for part in text)


def test_repeats_of_one_drop_near_the_references_are_not_wandering():
    # Drops of 1.30 and 1.32: sd 0.0141. The espresso drop, and the tenfold slip, say nothing of it.
    near = [reading(1.30), reading(1.32, number=2)]
    far = [
        reading(9.0, brew="b2"),
        reading(9.9, brew="b2", number=2),
        reading(1.3, brew="b3"),
        reading(13.0, brew="b3"),
    ]
    scattered = [check(week, "reference", 1.3, 1.3 + 0.03 * (week % 2)) for week in range(8)]
    with_near, with_far = records(scattered, readings=near + far)[0], records(scattered, readings=far)[0]
    variance = 8 * 0.015**2 / 7
    assert with_near.correction.wander == pytest.approx((variance - 0.0002 - 0.0001 / 12) ** 0.5)
    assert with_far.correction.wander == pytest.approx((variance - 0.0001 / 12) ** 0.5)


@pytest.mark.parametrize("name", ["R1", "lens 2", 'big "lens"'])
def test_the_block_is_what_lab_toml_reads_back(tmp_path: Path, name: str):
    (record,) = records(LINE)
    found = record.correction
    assert isinstance(found, FittedCorrection)
    (tmp_path / "lab.toml").write_text(correction_block(found, name), encoding="utf-8")
    (read,) = load_settings(tmp_path).corrections
    declared = found.declared(name)
    assert read.instrument_id == name
    assert read.note == "18 reference checks, 2 March to 6 April 2026"
    assert (read.low, read.high) == (1.3, 9.8)
    # Rounding may move a corrected value by less than a tenth of its uncertainty; that itself is never rounded down.
    for value in (1.3, 9.8):
        seen = found.offset + found.slope * value
        assert (seen - read.offset) / read.slope == pytest.approx(value, abs=0.1 * declared.standard_uncertainty)
    assert declared.standard_uncertainty <= read.standard_uncertainty <= 1.01 * declared.standard_uncertainty
    assert declared.slope_u <= read.slope_u <= 1.01 * declared.slope_u


def test_the_block_of_an_offset_alone():
    (record,) = records(WEEKLY)
    assert block_for(record).splitlines() == [
        "[correction.R1]",
        "offset = 0.025",
        "slope = 1.0",
        f"standard_uncertainty = {load_u(record):.5f}",
        "low = 1.3",
        "high = 1.3",
        'note = "8 reference checks, 2 March to 20 April 2026"',
    ]


def load_u(record):
    """By hand: sd of 0.02 and 0.03 in turn, 7 degrees of freedom, its mean and one day's state; t(7) = 2.364624."""
    variance, step = 8 * 0.005**2 / 7, 0.01**2 / 12
    by_hand = (variance / 8 + step + variance - step) ** 0.5
    assert record.correction.u(1.3) == pytest.approx(by_hand)
    df = 7 * (by_hand**2 / (variance / 8 + variance - step)) ** 2
    assert record.correction.df == pytest.approx(df)
    return -(-record.correction.declared("R1").standard_uncertainty * 1e5 // 1) / 1e5


def test_bottles_that_count_as_exact_beside_dried_samples_that_do_not_are_named():
    (record,) = records(LINE)
    beside = replace(record, correction=replace(record.correction, references_exact=False))
    assert any(
        text.startswith("The references of 1.30, 5.00 and 9.80 % count as exact: declare reference_u under [checks]")
        for text in record_sentences(beside)
    )
    assert not any(
        "as exact" in text for text in said(LINE, settings=LabSettings(checks=CheckLimits(reference_u=0.01)))
    )
