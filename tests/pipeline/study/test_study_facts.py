"""A frozen grind reference goes through the facts' own formula, in place of the lab's."""

from __future__ import annotations

import pytest

from pipeline.facts import brew_facts
from pipeline.lab import load_settings
from pipeline.store.store import Store
from pipeline.study.facts import study_rows
from schemas.lab import GrindReference
from schemas.study import Study, StudyFactor

LOG = "brew_id,brewed_at,study_id,coffee_id,method,grinder_id,grind_setting,dose_g,beverage_g,tds_pct\n" + "".join(
    f"{coffee[0]}-{dial},2026-05-01,map,{coffee},espresso,bench,{dial},18,36,9\n"
    for coffee in ("ostrin", "pirolo")
    for dial in (20, 22, 24)
)
LAB_REFERENCE = (
    '\n[[grind_reference]]\ncoffee_id = "ostrin"\ngrinder_id = "bench"\nmethod = "espresso"\ngrind_setting = "24"\n'
)


def study(*references: GrindReference) -> Study:
    return Study(
        "map",
        "?",
        "extraction_yield_pct",
        method="espresso",
        factors=(StudyFactor("grind_steps_finer"),),
        grind_reference=references,
    )


@pytest.fixture
def store(lab) -> Store:
    lab.take("brews.csv", LOG)
    lab.take("grinders.csv", "grinder_id,finer_is,step_um\nbench,lower,10\n")
    file = lab.dir / "lab.toml"
    file.write_text(file.read_text() + LAB_REFERENCE)
    return Store(lab.dir)


def rows(store: Store, asked: Study):
    return study_rows(store, store.head(), load_settings(store.lab_dir), asked)


def steps(frame, coffee: str) -> list[float]:
    return frame.filter(frame["coffee_id"] == coffee).sort("grind_dial")["grind_steps_finer"].to_list()


def test_the_study_s_reference_stands_before_the_lab_s(store: Store) -> None:
    found = rows(store, study(GrindReference("ostrin", "bench", "espresso", "20")))

    # By hand, dial lower = finer: zero at 20, so dials 20, 22, 24 are 0, -2, -4 steps finer, 10 um each.
    assert steps(found.brews, "ostrin") == [0.0, -2.0, -4.0]
    assert found.brews.filter(found.brews["brew_id"] == "o-24")["grind_um_finer"].item() == -40.0


def test_outside_the_study_the_lab_s_reference_still_holds(store: Store) -> None:
    facts = brew_facts(store, store.head(), load_settings(store.lab_dir))

    assert steps(facts, "ostrin") == [4.0, 2.0, 0.0]


def test_a_zero_that_is_a_median_is_said_to_move(store: Store) -> None:
    found = rows(store, study())

    assert steps(found.brews, "ostrin") == [4.0, 2.0, 0.0]
    assert [note for note in found.notes if "Grind zero" in note] == [
        "Grind zero is not frozen for pirolo on bench: it is the middle setting of the brews and moves as they come "
        "in. A [[study.grind_reference]] freezes it."
    ]


def test_a_reference_that_the_dial_does_not_have_is_said(store: Store) -> None:
    found = rows(store, study(GrindReference("pirolo", "bench", "espresso", "coarse")))

    assert (
        'The grind reference "coarse" for pirolo on bench cannot be read on that dial; the middle setting is zero '
        "instead."
    ) in found.notes
