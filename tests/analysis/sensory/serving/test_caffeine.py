"""Caffeine by hand, and the guidance at its boundaries."""

from __future__ import annotations

import pytest

from analysis.sensory.serving.caffeine import CaffeineDose, caffeine_dose


def test_the_dose_of_the_heaviest_palate_is_the_sum_of_its_cups() -> None:
    # 18 g to 36 ml is 0.5 g/ml: 10 ml at 14 mg/g hold 70 mg. Ten ml of 1 to 18 hold 10 / 18 * 14 = 7.78 mg.
    light, heavy = [[1 / 18] * 3, [1 / 18] * 3], [[0.5, 0.5], [0.5]]

    dose = caffeine_dose([light, heavy], ml_per_cup=10, mg_per_g=14)

    assert dose.at_once_mg == pytest.approx(140)
    assert dose.all_mg == pytest.approx(210)
    assert dose.cups == 3


@pytest.mark.parametrize(
    ("at_once", "all_mg", "within"),
    [(200.0, 400.0, (True, True)), (200.1, 400.0, (False, True)), (150.0, 400.1, (True, False))],
)
def test_exactly_200_mg_at_once_and_400_mg_a_day_are_within_the_guidance(
    at_once: float, all_mg: float, within: tuple[bool, bool]
) -> None:
    # EFSA NDA Panel 2015: "up to" 200 mg and 400 mg.
    dose = CaffeineDose(at_once, all_mg, 10, 10.0, 14.0)

    assert (dose.within_at_once, dose.within_a_day) == within


def test_too_much_at_once_says_how_little_to_take() -> None:
    dose = caffeine_dose([[[0.5] * 8]], ml_per_cup=10, mg_per_g=12.5)  # 500 mg: 4 ml a cup would be 200
    said = " ".join(dose.sentences(n_sessions=1, ratio_note="as weighed"))

    assert "about 500 mg" in said
    assert "take under 4.0 ml of each cup" in said
    assert "ask a physician" in said
    over_days = CaffeineDose(150.0, 450.0, 10, 10.0, 14.0).sentences(n_sessions=3, ratio_note="as weighed")
    assert "spread them over days" in over_days[-1]
