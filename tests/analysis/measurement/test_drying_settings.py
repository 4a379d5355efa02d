"""What lab.toml declares for oven-dried samples."""

from __future__ import annotations

import pytest

from pipeline.lab import load_settings
from schemas.lab import DryingSettings
from schemas.problem import ProblemError


def settings_of(folder, text):
    (folder / "lab.toml").write_text(text, encoding="utf-8")
    return load_settings(folder).drying


def test_nothing_declared_means_half_a_percent_and_an_unknown_volatile_loss(tmp_path):
    assert settings_of(tmp_path, "") == DryingSettings(constant_mass_pct=0.5, volatile_loss_u_pct=None)


def test_declared_values_are_used(tmp_path):
    text = "[drying]\nconstant_mass_pct = 0.2\nvolatile_loss_u_pct = 1.5\n"
    assert settings_of(tmp_path, text) == DryingSettings(constant_mass_pct=0.2, volatile_loss_u_pct=1.5)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[drying]\nvolatile_loss_u_pct = -1\n", "line 2: [drying] volatile_loss_u_pct is -1"),
        ("[drying]\nconstant_mass_pct = 50\n", "must be between 0 and 10: percent of what is left in the dish"),
        ('[drying]\nvolatile_loss_u_pct = "1 %"\n', "should be a number without quotes"),
        ("[drying]\nvolatile_loss = 1\n", "did you mean volatile_loss_u_pct?"),
        ("volatile_loss_u_pct = 1\n", "move it under [drying]"),
    ],
)
def test_what_cannot_be_is_refused_with_its_line(tmp_path, text, words):
    with pytest.raises(ProblemError) as caught:
        settings_of(tmp_path, text)
    assert words in str(caught.value)
