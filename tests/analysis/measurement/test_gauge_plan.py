"""Plans of gauge studies: complete, random, blind, balanced; nobody meets the same brew twice in a row."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from analysis.measurement.gauge_plan import broken_rules, plan_gauge_study
from schemas.problem import ProblemError

BREWS = tuple(f"b-{k}" for k in range(1, 7))
READERS = ("Rosa", "Sam", "Tove")


def plan(seed=1, brews=BREWS, readers=READERS, **more):
    return plan_gauge_study(brews, readers, rng=np.random.default_rng(seed), **more)


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.parametrize(
    ("n_brews", "n_readers", "repeats"), [(10, 3, 3), (3, 3, 4), (2, 2, 3), (2, 3, 3), (3, 2, 5), (6, 1, 3)]
)
def test_every_reader_reads_every_brew_once_a_round_and_never_twice_in_a_row(seed, n_brews, n_readers, repeats):
    made = plan(seed, [f"b{k}" for k in range(n_brews)], [f"r{k}" for k in range(n_readers)], repeats=repeats)

    cells = Counter((line.round_no, line.read_by, line.brew_id) for line in made.readings)
    assert len(cells) == n_brews * n_readers * repeats
    assert set(cells.values()) == {1}
    for reader in made.readers:
        own = [line.brew_id for line in made.readings if line.read_by == reader]
        assert all(one != after for one, after in pairwise(own))
    rounds = [line.round_no for line in made.readings]
    assert rounds == sorted(rounds)
    assert [line.order for line in made.readings] == list(range(1, len(made.readings) + 1))


@pytest.mark.parametrize("seed", range(20))
def test_readers_take_turns_and_begin_rounds_equally_often(seed):
    made = plan(seed, repeats=3)

    starts = [next(line.read_by for line in made.readings if line.round_no == k) for k in (1, 2, 3)]
    assert sorted(starts) == sorted(READERS)
    for k in (1, 2, 3):
        order = [line.read_by for line in made.readings if line.round_no == k]
        assert all(set(order[at : at + 3]) == set(READERS) for at in range(0, len(order), 3))


def test_with_three_brews_or_more_no_vial_is_read_twice_in_a_row_by_anybody():
    for seed in range(20):
        assert all(one.brew_id != after.brew_id for one, after in pairwise(plan(seed).readings))


def test_vials_are_blind_and_hold_one_brew_of_one_round():
    made = plan(3)
    held = {line.vial: (line.round_no, line.brew_id) for line in made.readings}

    assert len(held) == len(BREWS) * 3
    assert all(100 <= vial <= 999 for vial in held)
    assert sorted(held) != list(held)
    by_vial = Counter(line.vial for line in made.readings)
    assert set(by_vial.values()) == {len(READERS)}
    for vial in held:
        assert [line.reading_no for line in made.readings if line.vial == vial] == [1, 2, 3]


def test_the_seed_decides_the_order():
    assert plan(5) == plan(5)
    assert plan(5).readings != plan(6).readings


def test_orders_are_spread_over_the_brews():
    """The first brew is any of six, about equally often: chi-square below its 0.999 quantile, 20.5 (5 df)."""
    first = Counter(plan(seed).readings[0].brew_id for seed in range(600))

    assert sum((first[brew] - 100) ** 2 / 100 for brew in BREWS) < 20.5


def test_a_round_longer_than_a_vial_may_stand_is_refused():
    assert plan(brews=BREWS, minutes_per_reading=2.5).round_min == 45
    with pytest.raises(ProblemError, match="A round of 18 readings takes 54 min, longer than the 45 min"):
        plan(brews=BREWS, minutes_per_reading=3)


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"brews": ("b-1", "b-1", "b-2")}, "b-1 stands there twice"),
        ({"readers": ("Rosa", " ")}, "2 names, some empty"),
        ({"readers": ()}, "Every reader of a gauge study needs a name"),
        ({"brews": ("b-1",), "readers": ("Rosa",)}, "two brews or two readers"),
        ({"repeats": 0}, "one round"),
        ({"repeats": 200}, "1200 vials need more than three figures"),
    ],
)
def test_what_cannot_be_planned_is_refused_plainly(more, says):
    with pytest.raises(ProblemError, match=says):
        plan(**more)


def test_a_plan_says_what_it_will_not_tell():
    assert plan().notes == ()
    assert "not say what another would read" in plan(readers=("Rosa",)).notes[0]
    assert "take three" in plan(readers=("Rosa", "Sam")).notes[0]
    assert "take six to ten" in plan(brews=BREWS[:3]).notes[0]
    assert "how much of the spread is the coffee" in plan(brews=BREWS[:1]).notes[0]
    assert "repeats cannot be told" in plan(repeats=1).notes[0]


def test_broken_rules_are_found():
    good = plan()
    lines = list(good.readings)
    own = [k for k, line in enumerate(lines) if line.read_by == "Sam"]
    lines[own[1]] = replace(lines[own[1]], brew_id=lines[own[0]].brew_id)
    spoiled = replace(good, readings=tuple(lines))

    assert broken_rules(good) == ()
    assert set(broken_rules(spoiled)) == {
        "every reader reads every brew once a round",
        "Sam never reads the same brew twice in a row",
        "a vial holds one brew of one round",
    }
    rosa_first = replace(good, readings=tuple(sorted(lines, key=lambda line: (line.round_no, line.read_by))))
    assert "readers begin a round equally often" in broken_rules(rosa_first)


def test_the_plan_as_a_frame_has_a_row_per_reading():
    made = plan(2)

    assert made.frame().columns == ["order", "round_no", "vial", "reading_no", "read_by", "brew_id"]
    assert made.frame()["vial"].to_list() == [line.vial for line in made.readings]
