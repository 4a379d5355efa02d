"""Grind on the dial: finer goes the right way from a frozen zero, and nothing is guessed."""

from __future__ import annotations

import tomllib

import polars as pl
import pytest

from analysis.dial import read_setting, smallest_part, write_setting
from analysis.planning.dialled import freeze_block, make_dial
from schemas.lab import GrindReference
from schemas.problem import ProblemError

NONE = pl.DataFrame(
    schema={"coffee_id": pl.String, "grinder_id": pl.String, "method": pl.String, "grind_zero": pl.Float64}
)
BREWED = pl.DataFrame(
    [("calmuth", "bench", "espresso", 8.25), ("calmuth", "bench", "espresso", 8.25)], schema=NONE.schema, orient="row"
)


def dial(*, finer_is: str | None = "lower", counts: str | None = None, setting: str = "7.5", facts: pl.DataFrame = NONE,
         coffees: tuple[str, ...] = ("ostrin",)):  # fmt: skip
    references = [GrindReference("ostrin", "bench", "espresso", setting)]
    return make_dial(
        "bench", finer_is=finer_is, dial=counts, coffees=coffees, method="espresso", references=references, facts=facts
    )


@pytest.mark.parametrize(("finer_is", "finer", "coarser"), [("lower", "6.5", "8"), ("higher", "8.5", "7")])
def test_finer_goes_the_way_the_dial_runs(finer_is: str, finer: str, coarser: str) -> None:
    found = dial(finer_is=finer_is)

    assert found.setting("ostrin", 1.0) == finer
    assert found.setting("ostrin", -0.5) == coarser


def test_a_compound_dial_is_written_as_it_counts() -> None:
    # Ten small marks a large one, five clicks a small one: a click is 1/50.
    assert smallest_part("10.5") == 0.02
    assert dial(counts="10.5", setting="2.1.0").setting("ostrin", 0.12) == "1.9.4"
    for clicks in range(200):
        assert read_setting(write_setting(clicks / 50, "10.5"), "10.5") == pytest.approx(clicks / 50)


def test_a_zero_from_brews_is_used_and_offered_to_be_frozen() -> None:
    found = dial(facts=BREWED, coffees=("ostrin", "calmuth"))

    assert found.from_brews == ("calmuth",)
    assert found.setting("calmuth", 1.0) == "7.25"
    (block,) = tomllib.loads(freeze_block(found, "espresso"))["grind_reference"]
    assert block == {"coffee_id": "calmuth", "grinder_id": "bench", "method": "espresso", "grind_setting": "8.25"}


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: dial(finer_is=None), "Which way is finer on grinder bench?"),
        (lambda: dial(setting="fine"), "'fine' is no setting of grinder bench, a dial of plain numbers"),
        (lambda: dial(setting="2.7.9", counts="10.5"), "a dial that counts 10.5"),
        (lambda: dial(coffees=("ostrin", "pirolo")), "Where is zero on grinder bench for pirolo?"),
        (lambda: dial().setting("ostrin", 8.0), "below the end of the dial"),
    ],
)
def test_what_is_not_known_of_a_dial_is_asked_for(make, said: str) -> None:
    with pytest.raises(ProblemError) as refused:
        make()

    assert said in str(refused.value)
