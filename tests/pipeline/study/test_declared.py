"""Studies recorded at ingest, and told apart by the order in which declaration and brews came in."""

from __future__ import annotations

import pytest

from pipeline.store.store import Store
from pipeline.store.sweep import sweep
from pipeline.store.verify import verify
from pipeline.study.declared import Declaration, declared
from pipeline.study.read import choose_study, read_studies
from pipeline.study.record import record_studies, recorded
from pipeline.study.words import declaration_words
from schemas.problem import ProblemError

HEADER = "brew_id,brewed_at,study_id,coffee_id,method,dose_g,beverage_g,tds_pct\n"
STUDY = """\
[[study]]
study_id = "map"
question = "What does the dose do?"
response = "extraction_yield_pct"
method = "espresso"

[[study.factor]]
name = "dose_g"
step = 0.5
"""
ADDED = """\
curve = true

[[study.factor]]
name = "water_temp_c"

[[study.exclusion]]
brew_id = "b-2"
reason = "spilt"
"""


def log(*numbers: int, study: str = "map") -> str:
    return HEADER + "".join(f"b-{n},2026-05-0{n},{study},ostrin,espresso,18,36,9.{n}\n" for n in numbers)


def declare(lab, text: str) -> None:
    (lab.dir / "study.toml").write_text(text, encoding="utf-8")


def now_declared(lab, as_of: int | None = None) -> Declaration:
    store = Store(lab.dir)
    return declared(store, store.as_of(as_of), choose_study(read_studies(lab.dir), None))


def said(lab) -> str:
    return " ".join(declaration_words(now_declared(lab)))


def test_a_study_there_before_its_brews_was_declared_before_them(lab) -> None:
    declare(lab, STUDY)
    first = lab.take("one.csv", log(1, 2))
    lab.take("two.csv", log(3))

    found = now_declared(lab)

    assert first.studies == ("map",)
    assert (found.state, found.first_seen_manifest, found.current_seen) == ("before the data", 1, 1)
    assert (found.n_brews_before, found.n_brews_with, found.n_brews_after) == (0, 2, 3)
    assert found.planned is not None
    assert found.changed_since == ()
    assert "its 3 brews came in then or later; 2 of them in that same one." in said(lab)


def test_a_study_recorded_by_itself_stands_clear_of_its_brews(lab) -> None:
    declare(lab, STUDY)

    assert record_studies(lab.dir) == ("map",)
    assert record_studies(lab.dir) == ()
    assert now_declared(lab).state == "no data yet"
    assert "no brew of it is in the log yet" in said(lab)

    lab.take("one.csv", log(1))
    assert now_declared(lab).n_brews_with == 0
    assert now_declared(lab).n_brews_after == 1


def test_a_study_with_all_its_brews_in_one_ingest_says_so(lab) -> None:
    declare(lab, STUDY)
    lab.take("one.csv", log(1, 2))

    assert "recorded at ingest 1, the one that brought its 2 brews." in said(lab)


def test_a_study_written_after_its_brews_is_no_plan(lab) -> None:
    lab.take("one.csv", log(1, 2))
    declare(lab, STUDY)
    assert now_declared(lab).state == "not recorded"
    assert "2 brews of it are in the log already" in said(lab)

    lab.ingest(lab.drop / "one.csv")

    found = now_declared(lab)
    assert (found.state, found.first_seen_manifest, found.planned) == ("after the data", 2, None)
    assert (found.n_brews_before, found.n_brews_after) == (2, 0)
    assert "when 2 of 2 brews were in the log" in said(lab)


def test_a_study_written_between_its_brews_is_no_plan_unless_those_before_are_excluded(lab) -> None:
    lab.take("one.csv", log(2))
    declare(lab, STUDY)
    lab.take("two.csv", log(3, 4))
    assert now_declared(lab).state == "partly before the data"
    assert now_declared(lab).planned is None
    assert "when 1 of 3 brews were in the log" in said(lab)

    declare(lab, STUDY + '[[study.exclusion]]\nbrew_id = "b-2"\nreason = "pilot"\n')

    found = now_declared(lab)
    assert (found.state, found.n_brews_after) == ("before the data", 2)
    assert found.changed_since == ("exclusion of b-2 added (pilot)",)


def test_what_was_added_after_the_brews_is_told_and_is_not_planned(lab) -> None:
    declare(lab, STUDY)
    lab.take("one.csv", log(1, 2))
    declare(lab, STUDY + ADDED)

    unrecorded = now_declared(lab)
    report = lab.take("two.csv", log(3))
    found = now_declared(lab)

    added = ("curve of dose_g added", "factor added: water_temp_c", "exclusion of b-2 added (spilt)")
    assert unrecorded.current_seen is None
    assert "not recorded yet" in " ".join(declaration_words(unrecorded))
    assert report.studies == ("map",)
    assert (found.state, found.first_seen_manifest, found.current_seen) == ("before the data", 1, 2)
    assert set(found.changed_since) == set(unrecorded.changed_since) == set(added)
    assert found.planned is not None
    assert found.planned.factor_names == ("dose_g",)
    assert "Changed since, against what was planned before the data: " in said(lab)


def test_an_edit_before_the_first_brew_is_part_of_the_plan(lab) -> None:
    declare(lab, STUDY)
    record_studies(lab.dir)
    declare(lab, STUDY + "curve = true\n")
    lab.take("one.csv", log(1))

    found = now_declared(lab)

    assert found.planned is not None
    assert found.planned.curves == ("dose_g",)
    assert found.changed_since == ()
    assert recorded(Store(lab.dir), Store(lab.dir).head())["first_seen"].to_list() == [1, 2]


def test_a_revised_brew_keeps_the_ingest_of_its_first_version(lab) -> None:
    lab.take("one.csv", log(1))
    declare(lab, STUDY)
    lab.take("two.csv", log(1).replace("18,36", "18,37"))

    assert now_declared(lab).n_brews_before == 1


def test_without_the_study_id_the_brews_of_its_method_count(lab) -> None:
    lab.take("one.csv", log(1, 2, study=""))
    declare(lab, STUDY)
    lab.take("two.csv", log(3, study=""))

    assert (now_declared(lab).n_brews_before, now_declared(lab).n_brews_after) == (2, 1)


def test_the_state_as_of_an_earlier_ingest(lab) -> None:
    declare(lab, STUDY)
    lab.take("one.csv", log(1))
    lab.take("two.csv", log(2))

    assert now_declared(lab, as_of=1).n_brews_after == 1
    assert now_declared(lab, as_of=0).state == "not recorded"


def test_handing_the_same_in_again_changes_nothing_nor_does_a_comment(lab) -> None:
    declare(lab, STUDY)
    lab.take("one.csv", log(1))
    before = {path: path.read_bytes() for path in (lab.dir / "store").rglob("*") if path.is_file()}
    declare(lab, "# a thought\n" + STUDY)

    again = lab.ingest(lab.drop / "one.csv")

    assert (again.committed, again.studies) == (False, ())
    assert {path: path.read_bytes() for path in (lab.dir / "store").rglob("*") if path.is_file()} == before


def test_a_changed_study_alone_is_worth_a_commit_and_leaves_the_others(lab) -> None:
    declare(lab, STUDY)
    lab.take("one.csv", log(1))
    declare(lab, STUDY + STUDY.replace('"map"', '"other"'))

    again = lab.ingest(lab.drop / "one.csv")

    assert (again.committed, again.studies, again.manifest_number) == (True, ("other",), 2)
    kept = recorded(Store(lab.dir), Store(lab.dir).head())
    assert kept.select("study_id", "first_seen").rows() == [("map", 1), ("other", 2)]


def test_the_file_is_kept_byte_for_byte_and_verify_and_sweep_know_it(lab) -> None:
    declare(lab, STUDY)
    lab.take("one.csv", log(1))
    store = Store(lab.dir)
    original = recorded(store, store.head())["original"].item()

    assert store.original_path(original).read_text() == STUDY
    assert verify(store).intact
    assert verify(store).originals == 2
    assert sweep(store, dry_run=False) == []

    store.original_path(original).write_text("changed")
    assert [one.kind for one in verify(store).findings] == ["original"]
    with pytest.raises(ProblemError, match=r"kept at ingest 1, is missing or damaged\. Run `brewtrials verify`"):
        now_declared(lab)


def test_a_store_without_the_list_still_reads(lab) -> None:
    lab.take("one.csv", log(1))
    store = Store(lab.dir)

    assert "studies" not in store.head().lists
    assert recorded(store, store.head()).is_empty()
    declare(lab, STUDY)
    assert now_declared(lab).state == "not recorded"


def test_a_study_file_that_cannot_be_read_stops_the_ingest_before_anything_is_stored(lab) -> None:
    declare(lab, STUDY.replace("response", "respons"))

    with pytest.raises(ProblemError, match=r"study\.toml line 4.*did you mean response"):
        lab.take("one.csv", log(1))
    assert not (lab.dir / "store").exists()
