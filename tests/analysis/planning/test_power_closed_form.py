"""Power and sample size against Cohen, the e-Handbook and R."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import pytest

from analysis.planning.power import (
    brews_for_anova,
    brews_for_means,
    chance_of_t,
    power_of_anova,
    power_of_means,
    smallest_seen,
    spread_of_extremes,
)
from schemas.problem import ProblemError

REFERENCE = Path(__file__).parents[2] / "reference" / "designs" / "power.csv"


@pytest.mark.parametrize(("d", "n"), [(0.2, 393.4057), (0.5, 63.76561), (0.8, 25.52457)])
def test_brews_of_two_recipes_as_cohen_has_them(d: float, n: float) -> None:
    # check-values.md 3.7 (R pwr and statsmodels; Cohen's table prints 393, 64, 26).
    assert brews_for_means(d, 1.0) == pytest.approx(n, abs=5e-5)


def test_powers_as_cohen_has_them() -> None:
    # check-values.md 3.7.
    assert power_of_means(64, 0.5, 1.0) == pytest.approx(0.8014596, abs=5e-8)
    assert power_of_means(30, 0.5, 1.0) == pytest.approx(0.4778965, abs=5e-8)


@pytest.mark.parametrize(
    ("k", "sizes"),
    [(3, (322.157, 52.3966, 21.1036)), (4, (273.5429, 44.5993, 18.0426)), (5, (239.6564, 39.1534, 15.8971))],
)
def test_brews_of_several_recipes_as_cohen_has_them(k: int, sizes: tuple[float, ...]) -> None:
    # check-values.md 3.7, f = 0.1, 0.25, 0.4.
    assert [brews_for_anova(k, f) for f in (0.1, 0.25, 0.4)] == pytest.approx(sizes, abs=6e-4)


def test_the_e_handbook_s_sample_size() -> None:
    # NIST/SEMATECH e-Handbook 7.2.2.2 (check-values.md 3.3): one-sided 5 %, power 90 %, difference = sigma: 11.
    assert math.ceil(brews_for_means(1.0, 1.0, compared="pairs", power=0.9, sides="one-sided")) == 11


def test_everything_agrees_with_r() -> None:
    with REFERENCE.open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 29
    for row in rows:
        n, delta, power = float(row["n"]), float(row["delta"]), float(row["power"])
        if row["test"] == "two recipes":
            assert power_of_means(n, delta, 1.0) == pytest.approx(power, rel=1e-6)
        elif row["test"] == "pairs":
            found = brews_for_means(delta, 1.0, compared="pairs", power=power, sides="one-sided")
            assert found == pytest.approx(n, rel=1e-6)
        else:
            assert power_of_anova(n, int(row["k"]), delta) == pytest.approx(power, rel=1e-6)


@pytest.mark.parametrize(("df", "power"), [(3, 0.8), (12, 0.5), (60, 0.95)])
def test_the_smallest_difference_seen_is_seen_with_just_that_chance(df: float, power: float) -> None:
    assert chance_of_t(smallest_seen(0.3, df, power=power), 0.3, df) == pytest.approx(power, abs=1e-9)


def test_without_a_difference_the_chance_is_that_of_a_false_alarm() -> None:
    assert chance_of_t(0.0, 0.3, 10) == pytest.approx(0.05, abs=1e-12)
    assert chance_of_t(0.0, 0.3, 10, sides="one-sided") == pytest.approx(0.05, abs=1e-12)


def test_without_freedom_nothing_is_seen() -> None:
    assert chance_of_t(5.0, 0.1, 0) == 0.0
    assert smallest_seen(0.1, 0) == math.inf


def test_the_extremes_of_several_recipes_are_the_least_the_f_test_sees() -> None:
    # Two of k means at -d/2 and +d/2, the others at 0: their standard deviation (divisor k) over sigma.
    means = [-0.3, 0.3, 0.0, 0.0]
    assert spread_of_extremes(4, 0.6, 0.5) == pytest.approx(math.sqrt(sum(m * m for m in means) / 4) / 0.5)
    assert spread_of_extremes(2, 0.6, 0.5) == pytest.approx(0.3 / 0.5)


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: brews_for_means(0.0, 1.0), "other than 0"),
        (lambda: brews_for_means(math.nan, 1.0), "other than 0"),
        (lambda: brews_for_means(1.0, 0.0), "above 0"),
        (lambda: brews_for_means(1.0, 1.0, power=1.0), "between 0.05 and 1"),
        (lambda: brews_for_means(1e-5, 1.0), "more than a million"),
        (lambda: brews_for_anova(1, 0.2), "two recipes or more"),
    ],
)
def test_what_cannot_be_answered_is_refused_plainly(make, said: str) -> None:
    with pytest.raises(ProblemError) as refused:
        make()

    assert said in str(refused.value)
