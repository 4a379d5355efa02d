"""Commands that give numbers (facts, query, effects) on a small project folder, as a user types them."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

import polars as pl
import pytest
from small_log import LOG, NOW

from pipeline.cli.app import run


def test_an_empty_project_folder_says_what_to_do(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "my lab"
    run(["new", str(folder)])
    capsys.readouterr()

    assert run(["facts", "--lab", str(folder)]) == 0
    assert f"No brews yet. Next, hand in a log: brewtrials ingest YOUR-LOG.xlsx --lab '{folder}'" in (
        capsys.readouterr().err
    )


def test_facts_without_brews_point_to_what_was_set_aside(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(["new", str(tmp_path / "lab")])
    (tmp_path / "brews.csv").write_text("\n".join(LOG.splitlines()[:2]).replace(",15,250,", ",l5,250,"))
    run(["ingest", str(tmp_path / "brews.csv"), "--lab", str(tmp_path / "lab"), *NOW])
    capsys.readouterr()

    assert run(["facts", "--lab", str(tmp_path / "lab")]) == 0
    assert capsys.readouterr().err == (
        f"No brews yet. See what was set aside: brewtrials set-aside --lab {tmp_path / 'lab'}\n"
    )


def test_facts_in_every_format(lab: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["facts", "--lab", str(lab)]) == 0
    table = capsys.readouterr()
    assert any(line.startswith("brew_id ") for line in table.out.splitlines()[:3])
    assert re.search(r"^b-01 +ostrin +pour_over +20\.33 ", table.out, re.MULTILINE)
    assert "columns. Add --out FILE.csv" in table.err

    assert run(["facts", "--lab", str(lab), "--format", "csv"]) == 0
    rows = list(csv.DictReader(capsys.readouterr().out.splitlines()))
    assert len(rows) == 9
    # 221 g at 1.38 % from 15 g, percolation: 221 * 1.38 / 15 = 20.332 %
    assert float(rows[0]["extraction_yield_pct"]) == pytest.approx(20.332)
    assert rows[0]["brewed_at"] == "2026-05-01T08:00:00+00:00"
    assert rows[8]["coffee_id"] == "'=cmd"

    assert run(["facts", "--lab", str(lab), "--format", "json", "--out", "-"]) == 0
    assert len(json.loads(capsys.readouterr().out)) == 9

    out = lab.parent / "facts.parquet"
    assert run(["facts", "--lab", str(lab), "--out", str(out)]) == 0
    assert pl.read_parquet(out).height == 9


def test_as_of_shows_how_things_stood(lab: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for number, finer in ((1, None), (2, 2.0)):
        assert run(["facts", "--lab", str(lab), "--as-of", str(number), "--format", "json"]) == 0
        records = {record["brew_id"]: record for record in json.loads(capsys.readouterr().out)}
        # Only the second ingest said which way the dial runs; the median dial of the eight ostrin brews is 22.
        assert records["b-02"]["grind_steps_finer"] == finer
    assert run(["facts", "--lab", str(lab), "--as-of", "9"]) == 1
    assert "There is no ingest 9: the last one is 2." in capsys.readouterr().err


def test_before_the_first_ingest_there_was_nothing(lab: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["facts", "--lab", str(lab), "--as-of", "0"]) == 0
    assert capsys.readouterr().err == "There was nothing before ingest 1.\n"


def test_an_ingest_that_brought_no_brews_yet_is_not_told_to_hand_in_a_log(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run(["new", str(tmp_path / "lab")])
    (tmp_path / "grinders.csv").write_text("grinder_id,finer_is\nbench,lower\n")
    (tmp_path / "brews.csv").write_text(LOG)
    for name in ("grinders.csv", "brews.csv"):
        run(["ingest", str(tmp_path / name), "--lab", str(tmp_path / "lab"), *NOW])
    capsys.readouterr()

    assert run(["facts", "--lab", str(tmp_path / "lab"), "--as-of", "1"]) == 0
    assert capsys.readouterr().err == "There were no brews after ingest 1.\n"


def test_effects_without_a_recorded_factor_gives_the_command_that_works(
    lab: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # The log has no channeling, so this question has no complete brew.
    factors = ["--factors", "grind_steps_finer,water_temp_c,beverage_ratio,channeled"]
    asked = [*factors, "--method", "pour_over", "--step", "water_temp_c=2", "--cross", "water_temp_c:channeled"]
    assert run(["effects", "--lab", str(lab), *asked]) == 1
    said = capsys.readouterr().err
    again = said.splitlines()[-1].removeprefix("With what there is: brewtrials ")
    assert again == (
        "effects --factors grind_steps_finer,water_temp_c,beverage_ratio --method pour_over --step water_temp_c=2 "
        f"--lab {lab}"
    )
    assert run(again.split()) == 0


def test_effects_in_words_and_as_a_table(lab: Path, capsys: pytest.CaptureFixture[str]) -> None:
    asked = ["effects", "--lab", str(lab), "--factors", "grind_steps_finer, water_temp_c", "--step", "water_temp_c=3"]

    assert run(asked) == 0
    said = capsys.readouterr().out
    assert "95 % interval" in said
    assert "0 of 9 brews left out" in said

    assert run([*asked, "--format", "json"]) == 0
    rows = {row["term"]: row for row in json.loads(capsys.readouterr().out)}
    assert rows["water_temp_c"]["step"] == 3
    assert rows["grind_steps_finer"]["estimate"] > 0
    assert list(rows["intercept"])[-1] == "effect_note"


STUDY = """\
[[study]]
study_id = "heat"
question = "What does hotter water do?"
response = "extraction_yield_pct"
method = "pour_over"
blocks = ["session_id"]

[[study.factor]]
name = "grind_steps_finer"

[[study.factor]]
name = "water_temp_c"
step = 3
"""


def test_effects_as_one_object_for_programs(lab: Path, capsys: pytest.CaptureFixture[str]) -> None:
    asked = ["effects", "--lab", str(lab), "--factors", "grind_steps_finer,water_temp_c", "--curve", "water_temp_c"]

    assert run([*asked, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert [row["term"] for row in found["table"]] == [
        "grind_steps_finer",
        "water_temp_c",
        "water_temp_c^2",
        "intercept",
    ]
    assert len(found["sentences"]) == 4
    assert found["scope"] == "for these coffees"
    assert (found["n_brews"], found["n_coffees"]) == (9, 2)
    assert found["components"]["brew to brew"] > 0
    assert [top["factor"] for top in found["tops"]] == ["water_temp_c"]
    assert {"slopes_by_coffee", "coffee_sentences", "alike", "joint_tests", "cluster_check", "notes"} <= set(found)
    assert "study" not in found

    assert run([*asked, "--json", "--out", str(lab.parent / "effects.json")]) == 0
    assert json.loads((lab.parent / "effects.json").read_text()) == found
    assert run([*asked, "--json", "--format", "csv"]) == 2


def test_effects_of_a_study_ask_what_it_declares_and_say_what_was_added(
    lab: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (lab / "study.toml").write_text(STUDY)

    assert run(["effects", "--lab", str(lab), "--study", "heat"]) == 0
    said = capsys.readouterr().out
    assert re.search(r"^water_temp_c +points +3 C ", said, re.MULTILINE)
    assert "No brew carries study_id heat: all brews of pour over stand in for it (9 brews)." in said
    assert "2 questions not planned before the data" in said  # the file came after the brews

    assert run(["effects", "--lab", str(lab), "--study", "heat", "--factors", "water_temp_c", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["request"]["factors"] == ["water_temp_c"]
    assert found["study"]["study_id"] == "heat"
    assert found["study"]["declared"] == "not recorded"
    (question,) = found["study"]["questions"]
    assert question["p_adjusted"] == question["p_value"]  # a single question needs no adjusting

    assert run(["effects", "--lab", str(lab), "--study", "cold"]) == 1
    assert 'study.toml declares no study "cold"' in capsys.readouterr().err


def test_a_study_without_brews_says_so(lab: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (lab / "study.toml").write_text(STUDY.replace("pour_over", "moka"))

    assert run(["effects", "--lab", str(lab), "--study", "heat"]) == 1
    assert "The study heat has no brews to ask yet." in capsys.readouterr().err


def test_methods_side_by_side(lab: Path, capsys: pytest.CaptureFixture[str]) -> None:
    asked = ["effects", "--lab", str(lab), "--factors", "water_temp_c", "--pool-methods"]

    assert run([*asked, "--step", "water_temp_c=3"]) == 0
    assert "3 C hotter in pour over: " in capsys.readouterr().out
    assert run([*asked, "--method", "pour_over"]) == 1
    assert "Methods cannot be pooled when only pour_over is asked for" in capsys.readouterr().err


def test_a_query_reads_and_only_reads(lab: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ask = "select method, count(*) as brews from brew_facts group by method"
    assert run(["query", ask, "--lab", str(lab), "--format", "csv"]) == 0
    assert capsys.readouterr().out == "method,brews\npour_over,9\n"

    assert run(["query", "select count(distinct line) as n from set_aside", "--lab", str(lab), "--format", "csv"]) == 0
    assert capsys.readouterr().out == "n\n1\n"

    assert run(["query", "select count(*) from range(100000000000)", "--lab", str(lab), "--timeout", "0.3"]) == 1
    assert "The query was stopped after 0.3 s." in capsys.readouterr().err
    large = "select count(*) from (select range as n from range(30000000) order by hash(range))"
    assert run(["query", large, "--lab", str(lab), "--memory", "0.1"]) == 1
    assert "needs more memory than it may use" in capsys.readouterr().err

    assert run(["query", "drop table brews", "--lab", str(lab)]) == 1
    assert "is only read" in capsys.readouterr().err
