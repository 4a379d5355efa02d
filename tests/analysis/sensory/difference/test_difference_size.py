from __future__ import annotations

import numpy as np
import pytest

from analysis.sensory.difference.kinds import Kind
from analysis.sensory.difference.size import (
    chance_to_pass,
    chance_to_show,
    palates_to_pass,
    palates_to_prefer,
    palates_to_show,
)
from schemas.problem import ProblemError

FromR = dict[tuple[str, str], float]
N = np.arange(1, 801)
CASES = [(kind, tell, power) for kind in ("triangle", "duo_trio") for tell in (0.5, 0.3, 0.2) for power in (0.8, 0.9)]
# ISO 4120:2004 table A.3, level 0.05, from memory: share who tell, then n for power 80, 90, 95 %.
TABLE = {0.5: (16, 20, 23), 0.3: (40, 53, 66), 0.1: (325, 447, 572)}


@pytest.mark.parametrize(("kind", "tell", "power"), CASES)
def test_sizes_equal_r_count_by_count(kind: Kind, tell: float, power: float, from_r: FromR) -> None:
    name = f"{kind} {tell:g} {power:g}"

    assert palates_to_show(kind, tellers=tell, power=power) == from_r["show_on", name]
    assert palates_to_pass(kind, margin=tell, power=power) == from_r["pass_on", name]
    assert N[np.argmax(chance_to_show(N, kind, tellers=tell) >= power)] == from_r["show_first", name]
    assert N[np.argmax(chance_to_pass(N, kind, margin=tell) >= power)] == from_r["pass_first", name]


@pytest.mark.parametrize("tell", TABLE)
def test_first_size_that_reaches_the_power_is_that_of_the_standard(tell: float) -> None:
    chance = chance_to_show(N, "triangle", tellers=tell)

    assert tuple(N[np.argmax(chance >= power)] for power in (0.8, 0.9, 0.95)) == TABLE[tell]


@pytest.mark.parametrize("share", [0.8, 0.65])
def test_sizes_of_a_preference_equal_r(share: float, from_r: FromR) -> None:
    assert palates_to_prefer(share=share) == from_r["prefer_on", f"{share:g} 0.8"]
    assert palates_to_prefer(share=1 - share) == palates_to_prefer(share=share)


def test_power_never_dips_again_from_the_size_on() -> None:
    n = palates_to_show("triangle", tellers=0.3)
    chance = chance_to_show(np.arange(n - 1, 10 * n), "triangle", tellers=0.3)

    assert chance[0] < 0.8
    assert (chance[1:] >= 0.8).all()


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"tellers": 0.0}, "is not between 0 and 1"),
        ({"tellers": 30}, "20 % is written 0.2"),
        ({"tellers": 0.3, "power": 1.0}, "The chance of showing it"),
        ({"tellers": 0.3, "level": 0.9}, "is no level"),
        ({"tellers": 0.001}, "More than 100,000 palates"),
    ],
)
def test_what_cannot_be_planned_is_refused(asked: dict[str, float], said: str) -> None:
    with pytest.raises(ProblemError, match=said):
        palates_to_show("triangle", **asked)
    with pytest.raises(ProblemError, match="even split"):
        palates_to_prefer(share=0.5)
