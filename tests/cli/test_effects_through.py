from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from small_log import NOW

from pipeline.cli.app import run


@pytest.fixture
def shots(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    """Forty shots of one coffee: hotter water runs faster (1 s a degree), and each second adds strength."""
    rng = np.random.default_rng(7)
    rows = ["brew_id,brewed_at,coffee_id,method,dose_g,beverage_g,tds_pct,water_temp_c,brew_time_s"]
    for k in range(40):
        temp = 90 + k % 5
        time = 28 - (temp - 92) + rng.normal(0, 2)
        tds = 9 + 0.05 * (temp - 92) + 0.05 * (time - 28) + rng.normal(0, 0.05)
        beverage = 36 + rng.normal(0, 0.5)
        when = f"2026-05-01T{8 + k // 6:02d}:{k % 6}0"
        rows.append(f"b-{k},{when},c-1,espresso,18,{beverage:.1f},{tds:.2f},{temp},{time:.1f}")
    folder, log = tmp_path / "shots", tmp_path / "brews.csv"
    log.write_text("\n".join(rows) + "\n", encoding="utf-8")
    assert run(["new", str(folder)]) == 0
    assert run(["ingest", str(log), "--lab", str(folder), *NOW]) == 0
    capsys.readouterr()
    return folder


def test_results_of_the_settings_are_offered_as_ways_and_not_as_factors(
    shots: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    command = ["effects", "--lab", str(shots), "--factors", "water_temp_c", "--through", "brew_time_s"]
    assert run([*command, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    (row,) = found["through"]["rows"]
    assert [one["term"] for one in found["table"]] == ["water_temp_c", "intercept"]
    assert row["direct"] > row["total"]  # the way through the time goes the other way, as the shots were made
    assert row["through_high"] < 0
    assert found["through"]["n_brews"] == 40

    assert run(command) == 0
    said = capsys.readouterr().out
    assert "Through brew time (40 brews of 1 coffee with all of these known):" in said
    assert "caus" not in said


def test_a_setting_is_no_result(shots: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["effects", "--lab", str(shots), "--factors", "water_temp_c", "--through", "dose_g"]) == 1
    assert "is not a result of the settings" in capsys.readouterr().err


def test_without_factors_the_usual_settings_of_the_method_are_asked_about(
    shots: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["effects", "--lab", str(shots)]) == 1
    assert "--factors water_temp_c,beverage_ratio" in capsys.readouterr().err
