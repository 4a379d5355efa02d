from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from pipeline.lab import load_settings, new_lab, require_lab
from pipeline.lab_starter import COLUMNS_TOML, LAB_TOML
from pipeline.parse.mapping import Mapping, Section, read_mapping
from schemas.lab import CheckLimits, Correction, GateLimits, GrindReference, LabSettings
from schemas.problem import ProblemError


def lab_with(folder: Path, text: str) -> Path:
    (folder / "lab.toml").write_text(text, encoding="utf-8")
    return folder


def complaint(folder: Path, text: str) -> str:
    with pytest.raises(ProblemError) as caught:
        load_settings(lab_with(folder, text))
    return str(caught.value)


def test_a_new_folder_declares_nothing_that_was_not_said(tmp_path: Path) -> None:
    made = new_lab(tmp_path / "my lab")

    assert made.made == ("lab.toml", "columns.toml")
    assert load_settings(made.folder) == LabSettings()


def test_a_lab_file_found_there_is_kept_and_used(tmp_path: Path) -> None:
    lab_with(tmp_path, 'name = "Bench"\n')

    made = new_lab(tmp_path)

    assert made.kept == ("lab.toml",)
    assert load_settings(tmp_path).name == "Bench"


def test_a_bad_lab_file_found_there_is_refused_at_once(tmp_path: Path) -> None:
    lab_with(tmp_path, "altitude = 3\n")

    with pytest.raises(ProblemError, match="did you mean altitude_m"):
        new_lab(tmp_path)


def test_a_file_in_the_way_is_not_overwritten(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("mine")

    with pytest.raises(ProblemError, match="No project folder could be made"):
        new_lab(tmp_path / "taken")
    assert (tmp_path / "taken").read_text() == "mine"


def test_a_folder_that_is_no_lab_names_the_command(tmp_path: Path) -> None:
    with pytest.raises(ProblemError, match=r"has no lab.toml. Make one with: brewtrials new "):
        require_lab(tmp_path)
    with pytest.raises(ProblemError, match=r"does not exist. Make one with: brewtrials new '.*my lab'"):
        require_lab(tmp_path / "my lab")


def test_a_project_folder_of_nearly_that_name_is_offered(tmp_path: Path) -> None:
    new_lab(tmp_path / "my-lab")

    with pytest.raises(ProblemError) as caught:
        require_lab(tmp_path / "my-lba")

    said = str(caught.value).splitlines()
    assert said[0].endswith(f"my-lba does not exist. Make one with: brewtrials new {tmp_path / 'my-lba'}")
    assert said[1:] == [f"Did you mean {tmp_path / 'my-lab'}?"]


def test_a_folder_of_nearly_that_name_that_is_no_lab_is_not_offered(tmp_path: Path) -> None:
    (tmp_path / "my-lab").mkdir()

    with pytest.raises(ProblemError) as caught:
        require_lab(tmp_path / "my-lba")
    assert "Did you mean" not in str(caught.value)


def test_a_file_in_place_of_the_project_folder_names_the_folder(tmp_path: Path) -> None:
    new_lab(tmp_path)

    with pytest.raises(ProblemError, match=rf"lab.toml is a file\. Name the project folder: {tmp_path}\."):
        require_lab(tmp_path / "lab.toml")


@pytest.mark.parametrize(
    "text",
    [
        None,
        "",
        "decimal_mark = ','\n",
        '[columns]\n"Kaffee" = "coffee_id"\n',
        "[constants]\nsite = 'bench'\n\n[columns]\n",
        "[ constants ]  # always\n[words.method]\n# method = 'x'\n",
    ],
)
def test_the_method_is_declared_in_any_columns_file(tmp_path: Path, text: str | None) -> None:
    if text is not None:
        (tmp_path / "columns.toml").write_text(text, encoding="utf-8")
    before = tomllib.loads(text or "")

    new_lab(tmp_path, method="pour_over")

    after = tomllib.loads((tmp_path / "columns.toml").read_text(encoding="utf-8"))
    assert after["constants"] == before.get("constants", {}) | {"method": "pour_over"}
    if text is not None:
        assert {name: after[name] for name in before if name != "constants"} == {
            name: value for name, value in before.items() if name != "constants"
        }


def test_a_method_that_is_declared_already_is_not_written_over(tmp_path: Path) -> None:
    new_lab(tmp_path, method="espresso")
    new_lab(tmp_path, method="espresso")

    with pytest.raises(ProblemError, match=r'columns.toml already says method = "espresso"'):
        new_lab(tmp_path, method="moka")


def test_every_commented_entry_of_the_starter_works_once_uncommented(tmp_path: Path) -> None:
    entry = re.compile(r"^# (\[|[a-z_][\w-]* = )", re.MULTILINE)
    text = entry.sub(r"\1", LAB_TOML)

    settings = load_settings(lab_with(tmp_path, text))

    weighed_and_read = {"dose_g": 0.05, "beverage_g": 0.1, "water_g": 0.5, "tds_pct": 0.02, "moisture_pct": 0.3}
    assert settings.default_u == weighed_and_read | {"water_temp_c": 0.5, "pressure_bar": 0.2, "brew_time_s": 1}
    assert settings.corrections == (
        Correction(
            "refractometer-1", 0.02, 1.0, 0.01, "against the oven, spring check", 0.002, centre=4.2, low=1.2, high=9.8
        ),
    )
    assert settings.checks == CheckLimits(zero_tolerance=0.02, reference_tolerance=0.03, reference_u=0.01)
    assert settings.instrument_checks == {"scale-1": CheckLimits(reference_tolerance=0.1)}
    assert settings.brix_factor == 0.85
    assert settings.grind_references == (GrindReference("coffee-1", "grinder-1", "espresso", "2.5"),)
    assert settings.gate == GateLimits(1, 0, 7.0, 0.9)
    assert settings.labels == {"coffee-1": "House blend"}
    assert settings.constants == {"method": "espresso", "site": "bench"}


def test_the_starter_leaves_every_uncertainty_commented_out() -> None:
    assert tomllib.loads(LAB_TOML)["uncertainty"] == {}
    for name in ("dose_g", "beverage_g", "water_g", "tds_pct"):
        assert f"# {name} = " in LAB_TOML


def test_the_columns_starter_declares_nothing(tmp_path: Path) -> None:
    new_lab(tmp_path)

    assert read_mapping(tmp_path) == Mapping(general=Section(words={"method": {}}))


def test_every_commented_entry_of_the_columns_starter_works_once_uncommented(tmp_path: Path) -> None:
    entry = re.compile(r'^# (\[|"|[a-z_]+ = )', re.MULTILINE)
    (tmp_path / "columns.toml").write_text(entry.sub(r"\1", COLUMNS_TOML), encoding="utf-8")

    mapping = read_mapping(tmp_path)

    assert (mapping.general.decimal_mark, mapping.general.date_order) == (",", "day_first")
    assert mapping.general.columns["Temp"].unit == "F"
    assert mapping.general.constants == {"method": "espresso"}
    assert mapping.general.words == {"method": {"V cone": "pour_over"}}
    assert mapping.general.combine["coffee_id"].headers == ("Farm", "Lot")
    assert mapping.section_for("panel-3.csv", "").table == "tastings"
    assert mapping.section_for("log.xlsx", "Shots May").table == "brews"


def test_reads_what_a_lab_declares(tmp_path: Path) -> None:
    settings = load_settings(
        lab_with(
            tmp_path,
            """
            name = "Hill bench"
            altitude_m = 1250
            timezone = "America/Bogota"
            [intake]
            unknown_parents = "set_aside"
            [correction."ref 1"]
            slope = 1.02
            [[grind_reference]]
            coffee_id = "007"
            grinder_id = "g"
            method = "pour_over"
            grind_setting = 24
            [constants]
            discarded = false
            dose_g = 18
            """,
        )
    )

    assert (settings.altitude_m, settings.timezone, settings.unknown_parents) == (1250, "America/Bogota", "set_aside")
    assert settings.corrections == (Correction("ref 1", slope=1.02),)
    assert settings.grind_references == (GrindReference("007", "g", "pour_over", "24"),)
    assert settings.constants == {"discarded": "false", "dose_g": "18"}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            "[gate]\nmin_brews = 3\n\n[gate] # again\nmax_age_days = 3",
            "lab.toml line 4 has [gate] a second time (first in line 1). Keep one of the two, and put the entries",
        ),
        ("[gate]\nmin_brews = 3\nmin_brews = 4", "lab.toml line 3 sets something that is set already: min_brews = 4"),
        ("altitude_m = 12,5", "lab.toml line 1 cannot be understood: altitude_m = 12,5. Write each entry as name ="),
        ("[constants]\naltitude = 3", "did you mean altitude_m? If so, move it to the top, above the first [section]."),
        ("\ntimezon = 'UTC'", "lab.toml line 2: timezon is not a setting; did you mean timezone?"),
        ("[gate]\n\nmin_brew = 3", "line 3: [gate] min_brew is not a setting; did you mean min_brews?"),
        ("[gates]\nmin_brews = 3", "line 1: gates is not a setting; did you mean gate?"),
        ("timezone = 'Europe/Viena'", 'is "Europe/Viena", which is no time zone; did you mean Europe/Vienna?'),
        ("timezone = '../etc'", "which is no time zone"),
        ("timezone = 2", "line 1: timezone should be text in quotes"),
        ("altitude_m = '300'", 'altitude_m should be a number without quotes, not "300"'),
        ("altitude_m = inf", "altitude_m should be a number"),
        ("altitude_m = true", "altitude_m should be a number"),
        ("altitude_m = 30000", "altitude_m is 30000; it must be between -500 and 9000"),
        ("[uncertainty]\ntds_pct = -0.02", "line 2: [uncertainty] tds_pct is -0.02; it must be at least 0"),
        ("[uncertainty]\ndose = 0.1", "did you mean dose_g?"),
        ("[intake]\nunknown_parents = 'stubs'", "Did you mean stub?"),
        ("[correction]\nslope = 1", "[correction] slope should be a section"),
        ("[correction.r1]\nslope = 0", "line 2: [correction.r1] slope is 0; it must be more than 0"),
        (
            "[correction.r1]\nslope_u = -0.1\ncentre = 3",
            "line 2: [correction.r1] slope_u is -0.1; it must be at least 0",
        ),
        ("[correction.r1]\nslope = 1.02\nslope_u = 0.1", "line 3: [correction.r1] slope_u needs centre beside it"),
        ("[correction.r1]\nlow = 1", "line 2: [correction.r1] low needs high beside it"),
        ("[correction.r1]\nlow = 2\nhigh = 1", "line 2: [correction.r1] low is 2, above high 1"),
        ("[checks]\nzero_tolerance = -0.02", "line 2: [checks] zero_tolerance is -0.02; it must be at least 0"),
        ("[checks.scale-1]\nreference = 0.1", "line 2: [checks.scale-1] reference is not a setting; did you mean"),
        ("zero_tolerance = 0.02", "line 1: zero_tolerance does not belong here; move it under [checks]"),
        ("[readings]\nbrix_factor = 85", "brix_factor is 85; it must be between 0.1 and 2, such as 0.85"),
        ("[gate]\nmin_in_target_share = 90", "between 0 and 1: a share, such as 0.9"),
        ("[gate]\nmin_brews = 1.5", "should be a whole number, zero or more, not 1.5"),
        ("[grind_reference]\ncoffee_id = 'a'", "double brackets"),
        ("[constants]\nmetod = 'espresso'", "did you mean method?"),
        ("[constants]\nmethod = ['espresso']", "should be one value"),
        ("[gate]\ntimezone = 'UTC'", "line 2: [gate] timezone does not belong here; move it to the top"),
        ("[intake]\nmin_brews = 2", "[intake] min_brews does not belong here; move it under [gate]"),
        ("intake = 3", "line 1: intake should be a section"),
        ("name = Bench", "lab.toml line 1 cannot be understood: name = Bench. Write each entry as name = value"),
    ],
)
def test_a_wrong_entry_is_named_with_its_line(tmp_path: Path, text: str, said: str) -> None:
    assert said in complaint(tmp_path, text)


def test_the_second_of_two_blocks_is_named_by_its_own_line(tmp_path: Path) -> None:
    block = "[[grind_reference]]\ncoffee_id = 'a'\ngrinder_id = 'g'\nmethod = '{}'\ngrind_setting = 1\n"

    said = complaint(tmp_path, block.format("espresso") + block.format("expresso"))

    assert "line 9: [grind_reference 2] method" in said
    assert "Did you mean espresso?" in said


def test_a_block_that_lacks_entries_says_which(tmp_path: Path) -> None:
    assert "lacks grinder_id, method." in complaint(
        tmp_path, "[[grind_reference]]\ncoffee_id = 'a'\ngrind_setting = 1\n"
    )


def test_a_byte_order_mark_and_windows_line_ends_are_forgiven(tmp_path: Path) -> None:
    (tmp_path / "lab.toml").write_bytes(b'\xef\xbb\xbfname = "B\xc3\xa4nk"\r\n[gate]\r\nmin_brews = 4\r\n')

    settings = load_settings(tmp_path)

    assert (settings.name, settings.gate.min_brews) == ("Bänk", 4)


def test_a_file_that_is_not_utf8_says_what_to_do(tmp_path: Path) -> None:
    (tmp_path / "lab.toml").write_bytes(b'name = "B\xe4nk"\n')

    with pytest.raises(ProblemError, match="Save it again as UTF-8"):
        load_settings(tmp_path)
