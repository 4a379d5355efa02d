from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
from typer.testing import CliRunner

from pipeline.cli.app import app
from pipeline.cupping.difference_report import FRAME, difference_report
from pipeline.lab import load_settings
from pipeline.report import Report
from pipeline.store.store import Store
from schemas.problem import ProblemError

BREWS = """brew_id,brewed_at,coffee_id,method,dose_g,water_g,beverage_g,tds_pct
P1,2026-05-01,kochi,pour_over,15,250,215,1.50
P2,2026-05-02,kochi,pour_over,15,250,217,1.25
P3,2026-05-03,kochi,pour_over,15,250,216,
"""
HEADER = (
    "test_id,kind,assessor,brew_id_a,brew_id_b,correct,chosen_brew_id,question,serving_order,session_id,replicate\n"
)


def triangles() -> str:
    """14 of 30 palates, each once; 9 of 12 answers by three palates."""
    once = "".join(f"odd,triangle,Ida{i},P1,P2,{'yes' if i < 14 else 'no'},,,,s,1\n" for i in range(30))
    few = "".join(f"few,duo_trio,Ida{i % 3},P1,P2,{'yes' if i < 9 else 'no'},,,,s,{i}\n" for i in range(12))
    return once + few


def paired() -> str:
    rows = []
    for i in range(20):
        one, three, order = ("P1" if i < 16 else "P2"), ("P3" if i < 11 else "P1"), ("AB" if i % 2 else "BA")
        rows.append(f"strong,paired,Ida{i},P1,P2,,{one},Which is stronger?,{order},s,1\n")
        rows.append(f"liked,paired,Ida{i},P1,P3,,{three},Which do you prefer?,{order},s,1\n")
    return "".join(rows)


@pytest.fixture
def tested(make_lab: Callable[[str], Any]) -> Any:
    lab = make_lab("tasting")
    lab.take("brews.csv", BREWS)
    mixed = "mixed,triangle,Ida1,P1,P2,yes,,,,s,1\nmixed,duo_trio,Ida2,P1,P2,yes,,,,s,1\n"
    lab.take("choices.csv", HEADER + triangles() + paired() + mixed)
    return lab


def report(lab: Any, **asked: Any) -> Report:
    store = Store(lab.dir)
    return difference_report(store, store.head(), load_settings(lab.dir), **asked)


def test_every_test_is_judged_and_one_that_cannot_be_is_listed(tested: Any) -> None:
    told = report(tested)

    assert [part.title for part in told.parts] == [
        "Difference tests",
        "odd: triangle test, P1 and P2",
        "few: duo-trio test, P1 and P2",
        "strong: paired test, P1 and P2",
        "liked: paired test, P1 and P3",
        "Not judged",
    ]
    assert told.frame.columns == list(FRAME)
    assert told.frame["test_id"].to_list() == ["odd", "few", "strong", "liked", "mixed"]
    assert "answers under one name" in told.frame["reason"][4]


def test_numbers_of_the_rows(tested: Any) -> None:
    rows = {row["test_id"]: row for row in report(tested, similarity=0.5).frame.iter_rows(named=True)}

    # R: binom.test(14, 30, 1/3, "greater") 0.08977; its interval 28.34 to 65.67 %, so 48.5 % at most can tell.
    assert rows["odd"]["p"] == pytest.approx(0.0897707, abs=1e-6)
    assert rows["odd"]["tell_high_pct"] == pytest.approx(48.51, abs=0.01)
    assert rows["odd"]["tell_low_pct"] == 0
    # 2**-20 times the binomial coefficients from 16 on: 6196 of 1048576.
    assert rows["strong"]["p"] == pytest.approx(6196 / 2**20)
    assert rows["strong"]["counted"] == "picked the stronger cup"
    assert rows["few"]["interval_of"] == "these palates"
    # A choice without a right answer is not asked for similarity.
    assert rows["liked"]["similar"] is None
    assert rows["liked"]["tell_pct"] is None
    # Holm of four: the smallest p times four.
    assert rows["strong"]["p_holm"] == pytest.approx(4 * 6196 / 2**20)


def test_nobody_is_named(tested: Any) -> None:
    told = report(tested, power=0.8)

    assert "Ida" not in json.dumps(told.data)
    assert "Ida" not in str([(part.sentences, part.rows) for part in told.parts])
    assert "Ida" not in told.frame.write_csv()


def test_palates_needed_are_told_for_the_kinds_on_record(tested: Any) -> None:
    part = report(tested, power=0.8).parts[-1]

    assert part.title == "How many palates?"
    # Counted by R: tests/reference/difference_tests.
    assert ["triangle", "30 % tell", "42", "46"] in [list(row) for row in part.rows]
    assert any("30 palates, one answer each, would show that 30 % of palates can tell" in one for one in part.sentences)


def test_a_test_asked_for_by_name_is_refused_with_its_reason(tested: Any) -> None:
    with pytest.raises(ProblemError, match="did you mean odd"):
        report(tested, test_id="od")
    with pytest.raises(ProblemError, match="answers under one name"):
        report(tested, test_id="mixed")
    with pytest.raises(ProblemError, match="no right answer"):
        report(tested, test_id="liked", similarity=0.3)
    with pytest.raises(ProblemError, match=r"20 % is written 0\.2"):
        report(tested, similarity=20)


def test_an_empty_project_folder_says_so_and_still_plans(make_lab: Callable[[str], Any]) -> None:
    lab = make_lab("empty")

    assert report(lab).parts == []
    assert "No difference test is on record" in report(lab).none
    with pytest.raises(ProblemError, match="No difference test is on record"):
        report(lab, test_id="odd")
    assert report(lab).frame.is_empty()
    assert [row[0] for row in report(lab, power=0.9).parts[0].rows] == ["triangle"] * 5


def test_the_command_shows_it_and_writes_it(tested: Any) -> None:
    run = CliRunner()
    shown = run.invoke(app, ["cupping", "difference", "--lab", str(tested.dir), "--test-id", "odd"])
    data = run.invoke(app, ["cupping", "difference", "--lab", str(tested.dir), "--format", "json"])

    assert shown.exit_code == 0, shown.output
    assert "14 of 30 palates picked the odd cup (10 expected by guessing): p 0.090" in shown.output.replace("\n", " ")
    assert [one["test_id"] for one in json.loads(data.stdout)["tests"]] == ["odd", "few", "strong", "liked"]
