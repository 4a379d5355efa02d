"""The boundary mixture against its own law, and what small samples do to it."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from analysis.mixed.compare import ComponentTest, component_test
from analysis.mixed.model import RandomPart

LEVELS, EACH, TIMES = 40, 4, 400


@pytest.fixture(scope="module")
def null_tests() -> list[ComponentTest]:
    """Tests of a component that is not there, 40 levels of 4 rows."""
    rng = np.random.default_rng(2024)
    part = RandomPart("session", np.repeat(np.arange(LEVELS), EACH), np.ones(LEVELS * EACH))
    rows = [rng.normal(size=LEVELS * EACH) for _ in range(TIMES)]
    return [component_test(y, np.ones((y.size, 1)), [part], name="session") for y in rows]


def test_zero_as_often_as_the_f_distribution_says(null_tests):
    """The variance is zero where MSB < MSW, so with the chance of F(39, 120) below 1; three binomial errors."""
    chance = stats.f.cdf(1, LEVELS - 1, LEVELS * (EACH - 1))
    zeros = [test for test in null_tests if test.sd == 0]

    assert len(zeros) / TIMES == pytest.approx(chance, abs=3 * np.sqrt(chance * (1 - chance) / TIMES))
    assert all(test.p_value == 1 and test.statistic == pytest.approx(0, abs=1e-8) for test in zeros)


def test_five_in_a_hundred_are_called_real(null_tests):
    rate = np.mean([test.p_value < 0.05 for test in null_tests])

    assert rate == pytest.approx(0.05, abs=3 * np.sqrt(0.05 * 0.95 / TIMES))


@pytest.mark.parametrize(("name", "real"), [("grind_by_coffee", False), ("session", True)])
def test_p_is_half_of_chi_squared(crossed, name, real):
    """Self and Liang (1987), case 5: 1/2 chi2(0) + 1/2 chi2(1); 2.7055 is the 5 % point, as in Stram and Lee (1994)."""
    found = component_test(*crossed("brews_all"), name=name)

    assert found.p_value == pytest.approx(1 - stats.norm.cdf(np.sqrt(found.statistic)), rel=1e-6)
    assert (found.p_value < 0.05) == (found.statistic > 2.7055) == real
