"""The committed coverage table of predictions: its first blocks measured again, and what it must show."""

from __future__ import annotations

from collections.abc import Callable

import polars as pl
import pytest

from analysis.prediction.cautions import ENOUGH_FOR_NEW
from tests.reference.prediction.coverage import BLOCK, CASES, HERE, RUNS, Case, measure

TABLE = pl.read_csv(HERE / "coverage.csv")
INTERVALS = ("yield, mean", "yield, one brew", "strength, mean", "strength, one brew")


@pytest.mark.slow
@pytest.mark.parametrize("case", ["6 coffees, grind slopes vary", "12 coffees alike"])
def test_the_first_block_is_measured_as_it_was(case: str) -> None:
    """An interval that ends within rounding of a truth could turn on another machine: one of the 25 may."""
    committed, found = TABLE.filter(case=case, block=0), measure(case, 0)

    assert found.select("coffee", "quantity", "n").equals(committed.select("coffee", "quantity", "n"))
    assert found["held"].to_list() == pytest.approx(committed["held"].to_list(), abs=1)
    assert found["chance"].to_list() == pytest.approx(committed["chance"].to_list(), abs=0.05)


def test_every_case_is_there_in_full() -> None:
    runs = TABLE.filter(coffee="known", quantity="landed").group_by("case").agg(pl.col("n").sum())

    assert dict(runs.iter_rows()) == dict.fromkeys(CASES, RUNS)
    assert TABLE["n"].unique().to_list() == [BLOCK]
    assert set(TABLE.filter(coffee="new")["case"]) == {name for name, case in CASES.items() if case.n_coffees >= 5}


def _held(coffee: str, quantity: str, of: Callable[[Case], bool]) -> list[float]:
    """Shares held of one quantity, of the cases that `of` picks."""
    names = [name for name, case in CASES.items() if of(case)]
    rows = TABLE.filter(pl.col("case").is_in(names), coffee=coffee, quantity=quantity)
    shares = rows.group_by("case").agg(share=pl.col("held").sum() / pl.col("n").sum())["share"].to_list()
    assert shares
    return shares


@pytest.mark.parametrize("quantity", [*INTERVALS, "chance of landing"])
def test_a_coffee_among_five_or_more_is_held_in_92_to_97_of_100(quantity: str) -> None:
    """1,000 campaigns: a standard error of 0.7 points. Where slopes vary it is 92 to 96, which a note says."""
    assert all(0.92 <= share <= 0.97 for share in _held("known", quantity, lambda case: case.n_coffees >= 5))
    assert all(
        0.92 <= share <= 0.965
        for share in _held("known", quantity, lambda case: case.n_coffees >= 5 and any(case.slope_sd))
    )


@pytest.mark.parametrize("quantity", ["yield, one brew", "strength, one brew"])
def test_one_brew_of_a_coffee_among_6_or_12_is_held_in_93_and_a_half_to_96_and_a_half(quantity: str) -> None:
    assert all(0.935 <= share <= 0.965 for share in _held("known", quantity, lambda case: case.n_coffees in (6, 12)))


@pytest.mark.parametrize("quantity", INTERVALS)
def test_ranges_for_a_new_coffee_are_held_in_93_to_97_and_a_half(quantity: str) -> None:
    assert all(0.93 <= share <= 0.975 for share in _held("new", quantity, lambda case: case.n_coffees >= 5))


def test_the_chance_of_a_new_coffee_is_held_as_seldom_as_the_note_says() -> None:
    few = _held("new", "chance of landing", lambda case: 5 <= case.n_coffees < ENOUGH_FOR_NEW)
    many = _held("new", "chance of landing", lambda case: case.n_coffees >= ENOUGH_FOR_NEW)

    assert all(0.90 <= share <= 0.94 for share in few)
    assert all(0.935 <= share <= 0.965 for share in many)


def test_coffees_too_few_for_slopes_of_their_own_are_held_as_seldom_as_the_note_says() -> None:
    for quantity, low, high in (
        ("yield, mean", 0.87, 0.93),
        ("strength, mean", 0.87, 0.935),
        ("chance of landing", 0.86, 0.90),
    ):
        shares = _held("known", quantity, lambda case: case.n_coffees < 5 and any(case.slope_sd))
        assert all(low <= share <= high for share in shares), quantity


@pytest.mark.parametrize(("coffee", "off"), [("known", 0.04), ("new", 0.05)])
def test_chances_told_are_near_to_how_often_brews_landed(coffee: str, off: float) -> None:
    told = (
        TABLE.filter(coffee=coffee, quantity="landed")
        .group_by("case")
        .agg(pl.col("held").sum() / pl.col("n").sum(), pl.col("chance").sum() / pl.col("n").sum())
    )

    assert told.height == len(CASES) - (4 if coffee == "new" else 0)
    assert all(abs(row["held"] - row["chance"]) <= off for row in told.iter_rows(named=True))
