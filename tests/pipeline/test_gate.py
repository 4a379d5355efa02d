from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from xml.etree import ElementTree

import polars as pl
import pytest

from pipeline.gate import (
    Check,
    GateReport,
    check_lab,
    enough_brews,
    fresh_enough,
    hashes_intact,
    little_set_aside,
    targets_met,
)
from pipeline.gate_junit import junit_xml
from pipeline.lab import new_lab
from pipeline.store.store import Store
from pipeline.store.verify import Finding, Verification
from schemas.dtypes import TIME
from schemas.lab import GateLimits

NOW = datetime(2026, 6, 1, 12, tzinfo=UTC)


def facts(*rows: tuple[datetime | None, bool | None, bool]) -> pl.DataFrame:
    schema = {"brewed_at": TIME, "in_target": pl.Boolean(), "is_void": pl.Boolean()}
    return pl.DataFrame(list(rows), schema=schema, orient="row")


DAY = timedelta(days=1)
FOUR = facts(
    (NOW - 3 * DAY, True, False), (NOW - 2 * DAY, False, False), (NOW - 2 * DAY, None, False), (NOW, True, True)
)


def test_void_brews_do_not_count() -> None:
    check = enough_brews(FOUR, GateLimits(min_brews=4))

    assert (check.result, check.measured, check.limit, check.unit) == ("fail", 3, 4, "brews")
    assert check.sentence == "3 brews (1 void left out); at least 4 asked for."
    assert enough_brews(FOUR, GateLimits(min_brews=3)).result == "pass"


def test_one_is_told_as_one() -> None:
    assert enough_brews(facts((NOW, None, False)), GateLimits()).sentence.startswith("1 brew; ")
    assert fresh_enough(FOUR, GateLimits(max_age_days=1), NOW).sentence.endswith("at most 1 day allowed.")
    one = pl.DataFrame({"source_file": ["a.csv"], "sheet": [""], "line": [2], "table": ["brews"], "row_json": ["{}"]})
    assert little_set_aside(one, GateLimits()).sentence.startswith("1 row is set aside; ")


def test_an_empty_folder_has_too_few_brews() -> None:
    assert enough_brews(facts(), GateLimits()).result == "fail"


def test_a_row_set_aside_for_two_reasons_counts_once() -> None:
    place = {"source_file": ["a.csv"] * 3, "sheet": [None] * 3, "line": [2, 2, 5], "table": ["brews"] * 3}
    place["row_json"] = ['{"brew_id": "x1"}', '{"brew_id": "x1"}', '{"brew_id": "x2"}']

    check = little_set_aside(pl.DataFrame(place), GateLimits(max_set_aside=1))

    assert (check.result, check.measured) == ("fail", 2)
    assert little_set_aside(pl.DataFrame(place), GateLimits(max_set_aside=2)).result == "pass"
    assert little_set_aside(pl.DataFrame(), GateLimits()).result == "pass"


def test_rows_of_two_files_with_one_name_count_apart() -> None:
    place = {"source_file": ["log.csv"] * 2, "sheet": [""] * 2, "line": [2, 2], "table": ["brews"] * 2}
    place["row_json"] = ['{"brew_id": "x1"}', '{"brew_id": "x2"}']

    assert little_set_aside(pl.DataFrame(place), GateLimits()).measured == 2


def test_the_newest_brew_that_counts_decides_how_fresh_the_data_are() -> None:
    check = fresh_enough(FOUR, GateLimits(max_age_days=1.5), NOW)

    assert (check.result, check.measured, check.unit) == ("fail", 2.0, "days")
    assert "2.0 days old; at most 1.5 days allowed" in check.sentence
    assert fresh_enough(FOUR, GateLimits(max_age_days=2), NOW).result == "pass"


def test_a_near_miss_is_told_with_enough_digits_to_see_which_side_it_is_on() -> None:
    late = fresh_enough(FOUR, GateLimits(max_age_days=2), NOW + timedelta(seconds=60))
    assert (late.result, "2.001 days old; at most 2 days" in late.sentence) == ("fail", True)
    two_of_three = facts((NOW, True, False), (NOW, True, False), (NOW, False, False))
    low = targets_met(two_of_three, GateLimits(min_in_target_share=0.6667))
    assert (low.result, "(66.667 %) meet their targets; 66.67 % asked" in low.sentence) == ("fail", True)


def test_no_brew_at_all_is_not_fresh() -> None:
    assert fresh_enough(facts(), GateLimits(max_age_days=9), NOW).result == "fail"


def test_only_brews_with_a_verdict_count_towards_the_target_share() -> None:
    check = targets_met(FOUR, GateLimits(min_in_target_share=0.6))

    assert (check.result, check.measured) == ("fail", 0.5)
    assert check.sentence == "1 of 2 judged brews (50.0 %) meet their targets; 60 % asked for."
    assert targets_met(FOUR, GateLimits(min_in_target_share=0.5)).result == "pass"


def test_a_share_that_nobody_can_judge_fails() -> None:
    unjudged = facts((NOW, None, False))

    assert targets_met(unjudged, GateLimits(min_in_target_share=0.5)).result == "fail"


def test_what_has_no_limit_is_not_asked() -> None:
    assert fresh_enough(FOUR, GateLimits(), NOW).result == "not asked"
    assert fresh_enough(FOUR, GateLimits(), NOW).sentence == "No limit is set (max_age_days in lab.toml)."
    assert targets_met(FOUR, GateLimits()).result == "not asked"


def test_damage_is_counted_and_the_first_file_named() -> None:
    found = Verification((Finding("original", "store/originals/ab", "gone"),), manifests=2, data_files=3, originals=1)

    check = hashes_intact(found)

    assert (check.result, check.measured) == ("fail", 1)
    assert "among 6 stored files; the first is store/originals/ab. Run: brewtrials verify" in check.sentence
    assert hashes_intact(Verification((), 2, 3, 1)).result == "pass"


def test_a_new_folder_fails_for_want_of_brews_only(tmp_path: Path) -> None:
    new_lab(tmp_path)

    report = check_lab(tmp_path, now=NOW)

    assert [(check.name, check.result) for check in report.checks] == [
        ("hashes_intact", "pass"),
        ("enough_brews", "fail"),
        ("little_set_aside", "pass"),
        ("fresh_enough", "not asked"),
        ("targets_met", "not asked"),
    ]
    assert not report.met
    assert json.loads(json.dumps(report.to_json()))["checks"][1]["limit"] == 1


def test_a_damaged_store_is_a_failed_check_not_a_crash(tmp_path: Path) -> None:
    new_lab(tmp_path)
    manifests = Store(tmp_path).manifests_dir
    manifests.mkdir(parents=True)
    (manifests / "00000001.json").write_text("{")

    report = check_lab(tmp_path, now=NOW)

    results = {check.name: check.result for check in report.checks}
    assert results == {
        "hashes_intact": "fail",
        "enough_brews": "fail",
        "little_set_aside": "fail",
        "fresh_enough": "not asked",
        "targets_met": "not asked",
    }


def test_junit_counts_and_escapes() -> None:
    report = GateReport(
        7,
        (
            Check("one", "pass", 1, 1, "brews", "fine"),
            Check("two", "fail", 3, 0, "rows", 'a < b & "c" \x00\x1b'),
            Check("three", "not asked", None, None, "days", "no limit"),
        ),
    )

    root = ElementTree.fromstring(junit_xml(report))

    suite = root[0]
    assert root.tag == "testsuites"
    assert {name: suite.attrib[name] for name in ("tests", "failures", "errors", "skipped")} == {
        "tests": "3",
        "failures": "1",
        "errors": "0",
        "skipped": "1",
    }
    assert [case.attrib["name"] for case in suite] == ["one", "two", "three"]
    failure = suite[1].find("failure")
    assert failure is not None
    assert failure.text == 'a < b & "c" ??'
    assert suite[2].find("skipped") is not None


@pytest.mark.parametrize("results", [("pass", "not asked"), ("fail", "pass")])
def test_the_gate_is_met_when_nothing_failed(results: tuple[str, str]) -> None:
    checks = tuple(Check("x", result, None, None, "", "") for result in results)  # type: ignore[arg-type]

    assert GateReport(1, checks).met is ("fail" not in results)
