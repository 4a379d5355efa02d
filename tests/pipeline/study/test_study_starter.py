from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from pipeline.lab import new_lab
from pipeline.study.read import read_studies
from pipeline.study.starter import STUDY_TOML, start_study
from schemas.problem import ProblemError


def filled_in(text: str) -> str:
    """The text with every commented entry and heading switched on; prose stays as it is."""
    return re.sub(r"^# (?=\[\[|\w+ = )", "", text, flags=re.MULTILINE)


def test_nothing_in_a_fresh_file_is_switched_on(tmp_path: Path) -> None:
    new_lab(tmp_path)

    path = start_study(tmp_path)

    assert path == tmp_path / "study.toml"
    assert tomllib.loads(path.read_text()) == {}
    assert read_studies(tmp_path) == ()


def test_every_entry_shown_means_something(tmp_path: Path) -> None:
    (tmp_path / "study.toml").write_text(filled_in(STUDY_TOML))

    (study,) = read_studies(tmp_path)

    assert study.study_id == "espresso-map"
    assert study.factor_names == ("grind_steps_finer", "water_temp_c")
    assert study.curves == ("grind_steps_finer",)
    assert len(study.impossible[0].conditions) == 2
    assert study.exclusions[0].reason == "wrong basket"


def test_a_file_that_is_there_is_left_as_it_is(tmp_path: Path) -> None:
    new_lab(tmp_path)
    (tmp_path / "study.toml").write_text("# mine\n")

    with pytest.raises(ProblemError, match="is there already and was left as it is"):
        start_study(tmp_path)
    assert (tmp_path / "study.toml").read_text() == "# mine\n"


def test_a_folder_that_is_no_project_folder_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ProblemError, match=r"lab\.toml"):
        start_study(tmp_path)
