"""Known faults are found, clean assessors left alone, at stated rates: invented panels, seeds fixed beforehand.

Measured on other seeds, 400 clean panels a shape: 0 to 4 % flagged; 200 with one fault among eight: reversed 94 %,
products not told apart 76 %, compressed 96 %, shifted 98 %, noisy 98 % found; among five: 90, 70, 54, 64, 80 %.
"""

from __future__ import annotations

import numpy as np
import pytest

from analysis.sensory.panel.flags import raise_flags
from analysis.sensory.panel.request import PanelRequest
from analysis.sensory.panel.tidy import panel_rows

FAULTY = 3


def _flags(frame):
    return raise_flags(list(panel_rows(frame, PanelRequest()).scores.values()))


@pytest.mark.slow
@pytest.mark.parametrize(
    ("shape", "seed"),
    [({}, 101), ({"assessors": 12, "attributes": 2}, 102), ({"product_sd": 0.0}, 103), ({"product_sd": 0.7}, 104)],
)
def test_at_most_one_clean_panel_in_twenty_is_flagged(invent, shape, seed):
    rng = np.random.default_rng(seed)
    panels = 150
    flagged = sum(any(_flags(invent(rng, **shape)).of.values()) for _ in range(panels))
    # 5 % of 150 is 7.5; 14 or more would come up 1 time in 60 at exactly 5 % (binomial).
    assert flagged <= 13


@pytest.mark.slow
@pytest.mark.parametrize(
    ("fault", "least", "seed"),
    [
        ("reversed", 0.80, 201),
        ("no_discrimination", 0.70, 202),
        ("compressed", 0.90, 203),
        ("shifted", 0.90, 204),
        ("noisy", 0.85, 205),
    ],
)
def test_a_fault_among_eight_assessors_is_found(invent, fault, least, seed):
    rng = np.random.default_rng(seed)
    panels, found, others = 60, 0, 0
    for _ in range(panels):
        flags = _flags(invent(rng, faults={FAULTY: fault}))
        found += any(flag.kind == fault for flag in flags.of[FAULTY])
        others += any(own for code, own in flags.of.items() if code != FAULTY)
    assert found >= least * panels
    assert others <= 0.1 * panels


def test_upside_down_says_so_by_its_slope_and_changes_no_score(invent):
    frame = invent(np.random.default_rng(5), faults={FAULTY: "reversed"})
    before = frame.clone()
    flags = _flags(frame)
    (flag,) = flags.of[FAULTY]
    assert flag.kind == "reversed"
    assert flag.value < -0.5
    assert frame.equals(before)


def test_few_assessors_cannot_stand_apart(invent):
    frame = invent(np.random.default_rng(6), assessors=4, faults={FAULTY: "shifted"})
    assert not any(_flags(frame).of.values())
    two = _flags(invent(np.random.default_rng(6), assessors=2))
    assert not any(two.of.values())
