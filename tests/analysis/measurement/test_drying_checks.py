"""Strengths by drying as reference checks, and as readings of an oven to compare a refractometer with."""

from __future__ import annotations

from datetime import UTC, datetime

import polars as pl
import pytest

from analysis.measurement.agreement import compare_instruments
from analysis.measurement.calibration import read_checks
from analysis.measurement.drying import dried_strengths
from analysis.measurement.drying_checks import CHECKS, dried_dishes, reference_checks
from analysis.measurement.pairing import reference_as_readings
from schemas.contracts import TABLES
from schemas.dtypes import frame_schema
from schemas.lab import DryingSettings, LabSettings
from tests.analysis.measurement.made_up_dryings import AT, brews, dish, instruments, worksheet

READINGS = frame_schema(list(TABLES["readings"].columns.values()))
SETTINGS = LabSettings(drying=DryingSettings(volatile_loss_u_pct=1.0))
BREWED = datetime(2026, 3, 2, 9, tzinfo=UTC)


def read(brew_id, lens, tds_pct, **more):
    row = {"brew_id": brew_id, "instrument_id": lens, "sample_no": 1, "reading_no": 1, "tds_pct": tds_pct}
    return dict.fromkeys(READINGS) | row | {"reading_scale": "tds"} | more


def drying(n_brews=1, scale=None):
    rows = [
        dish(f"b{n}", k, 30.0, 35.0, y, y)
        for n in range(n_brews)
        for k, y in ((1, 30.060 + 0.002 * n), (2, 30.061 + 0.002 * n))
    ]
    known = brews(**{f"b{n}": "pour_over" for n in range(n_brews)})
    return dried_strengths(worksheet(*rows), instruments(*([scale] if scale else [])), known, settings=SETTINGS)


def brewed(n_brews=1):
    return pl.DataFrame({"brew_id": [f"b{n}" for n in range(n_brews)], "brewed_at": [BREWED] * n_brews})


def checks(*rows, **more):
    return reference_checks(drying(**more), pl.DataFrame(rows, schema=READINGS), brewed())


def test_a_check_holds_the_mean_as_read_and_the_reference_with_its_uncertainty():
    later = datetime(2026, 3, 2, 10, tzinfo=UTC)
    found = checks(
        read("b0", "lens-2", 1.24, read_at=BREWED), read("b0", "lens-2", 1.26, read_at=later), read("b0", "lens-1", 1.2)
    )
    assert dict(found.schema) == CHECKS
    assert found["instrument_id"].to_list() == ["lens-1", "lens-2"]
    row = found.row(1, named=True)
    # Dishes of 0.060 and 0.061 g in 5 g: 1.20 and 1.22 %.
    assert (row["reference_value"], row["observed_value"]) == pytest.approx((1.21, 1.25))
    assert (row["check_kind"], row["checked_at"], row["n_readings"], row["n_dishes"]) == ("reference", later, 2, 2)
    (dried,) = drying().brews
    assert row["reference_u"] == dried.u_pct > row["reference_shared_u"] == dried.shared_u_pct > 0.01


def test_its_time_is_that_of_the_brew_where_readings_have_none_else_of_the_drying():
    assert checks(read("b0", "lens-1", 1.2))["checked_at"].to_list() == [BREWED]
    none = pl.DataFrame({"brew_id": ["other"], "brewed_at": [BREWED]})
    found = reference_checks(drying(), pl.DataFrame([read("b0", "lens-1", 1.2)], schema=READINGS), none)
    assert found["checked_at"].to_list() == [AT]


@pytest.mark.parametrize(
    "other",
    [
        read("b0", "lens-1", 1.5, reading_scale="brix"),
        read("b0", "lens-1", 1.5, served_as="milk"),
        read("b0", None, 1.5),
        read("not dried", "lens-1", 1.5),
    ],
)
def test_readings_that_say_no_strength_of_this_brew_stay_out(other):
    assert checks(other).is_empty()
    assert checks(other, read("b0", "lens-1", 1.2))["observed_value"].to_list() == [1.2]


def test_without_a_stated_scale_the_check_has_no_uncertainty():
    silent = {"instrument_id": "fine", "resolution": 0.0001, "standard_uncertainty": None}
    found = checks(read("b0", "lens-1", 1.2), scale=silent)
    assert found.select("reference_u", "reference_shared_u", "reference_df").row(0) == (None, None, None)


def test_calibration_takes_the_checks_as_they_are():
    (lens,) = read_checks(
        checks(read("b0", "lens-1", 1.25)),
        pl.DataFrame({"instrument_id": ["lens-1"], "kind": ["refractometer"], "unit": ["%"], "resolution": [0.01]}),
    )
    (check,) = lens.of("reference")
    assert check.error == pytest.approx(0.04)
    assert check.reference_u == pytest.approx(drying().brews[0].u_pct)


def test_agreement_takes_the_dishes_as_readings_of_an_oven():
    dried = drying(n_brews=5)
    of_lens = pl.DataFrame(
        [
            {"brew_id": one.brew_id, "instrument_id": "lens-1", "sample_no": 1, "strength_pct": one.tds_pct + 0.03,
             "is_void": False}
            for one in dried.brews
        ]
    )  # fmt: skip
    readings = pl.concat([reference_as_readings(dried_dishes(dried)), of_lens.cast({"sample_no": pl.Int64})])
    known = pl.DataFrame({"instrument_id": ["lens-1"], "resolution": [0.01], "standard_uncertainty": [0.02]})
    agreement = compare_instruments(readings, known, "drying oven", "lens-1")
    assert agreement.bias.value == pytest.approx(0.03)
    assert (agreement.n_brews, agreement.n_readings_a) == (5, 10)
