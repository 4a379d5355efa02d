"""The stationary point of a surface against Montgomery's central composite design, and against drawn coefficients."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import polars as pl
import pytest

from analysis.effects.estimate import estimate_effects
from analysis.effects.request import EffectsRequest
from analysis.effects.surface import Surface

Make = Callable[..., pl.DataFrame]
# Montgomery, Design and Analysis of Experiments, table 11.6, coded time and temperature, alpha 1.414 as printed.
MONTGOMERY = (
    (-1, -1, 76.5), (-1, 1, 77.0), (1, -1, 78.0), (1, 1, 79.5), (0, 0, 79.9), (0, 0, 80.3), (0, 0, 80.0), (0, 0, 79.7),
    (0, 0, 79.8), (1.414, 0, 78.4), (-1.414, 0, 75.6), (0, 1.414, 78.5), (0, -1.414, 77.0),
)  # fmt: skip
PAIR = ("brew_time_s", "water_temp_c")
REQUEST = EffectsRequest("extraction_yield_pct", PAIR, curves=PAIR, crosses=(":".join(PAIR),))


def surface_of(make_facts: Make, rows: list[tuple[float, float, float]]) -> Surface:
    time, temp, made = zip(*rows, strict=True)
    facts = make_facts(len(rows), brew_time_s=time, water_temp_c=temp, extraction_yield_pct=made)
    found = estimate_effects(facts, REQUEST).surface
    assert found is not None
    return found


def test_the_textbook_surface_has_its_printed_top(make_facts: Make) -> None:
    found = surface_of(make_facts, list(MONTGOMERY))
    # Computed with R for this alpha (the book prints 0.389, 0.306 and 80.21; its roots -0.9641 and -1.4141).
    assert found.kind == "top"
    assert found.place == pytest.approx((0.38923043, 0.30584659), abs=5e-8)
    assert found.value == pytest.approx(80.2123931, abs=5e-7)
    assert found.bends == pytest.approx((-1.4142867, -0.9634986), abs=5e-7)
    assert found.inside
    assert "top at brew time 0.39 s" in found.sentence


def test_in_natural_units_it_is_the_same_place(make_facts: Make) -> None:
    rows = [(85 + 5 * x1, 175 + 5 * x2, y) for x1, x2, y in MONTGOMERY]
    assert surface_of(make_facts, rows).place == pytest.approx((86.946, 176.529), abs=5e-4)


def test_the_interval_is_as_wide_as_drawn_coefficients_scatter(make_facts: Make) -> None:
    rng = np.random.default_rng(31)
    x1, x2 = (np.tile(one.ravel(), 8) for one in np.meshgrid(np.linspace(-1, 1, 5), np.linspace(-1, 1, 5)))
    places, widths = [], []
    for _ in range(200):
        made = 20 + 0.8 * x1 + 0.4 * x2 - 1.0 * x1**2 - 1.5 * x2**2 + 0.3 * x1 * x2 + rng.normal(0, 0.3, x1.size)
        found = surface_of(make_facts, list(zip(x1.tolist(), x2.tolist(), made.tolist(), strict=True)))
        places.append(found.place)
        widths.append(np.subtract(found.high, found.low) / (2 * 1.972))  # t of 194 degrees of freedom
    scatter = np.std(places, axis=0, ddof=1)
    assert np.mean(widths, axis=0) == pytest.approx(scatter, rel=0.15)  # a standard deviation from 200 draws: 5 %


def test_a_saddle_is_no_top(make_facts: Make) -> None:
    rng = np.random.default_rng(32)
    rows = [(a, b, 20 - a * a + b * b + rng.normal(0, 0.1)) for a in (-1, 0, 1) for b in (-1, 0, 1) for _ in range(4)]
    found = surface_of(make_facts, rows)
    assert found.kind == "saddle"
    assert "no top" in found.sentence
    assert "saddle" in found.sentence


def test_noise_settles_nothing(make_facts: Make) -> None:
    rng = np.random.default_rng(33)
    rows = [(a, b, 20 + rng.normal(0, 1)) for a in (-1, 0, 1) for b in (-1, 0, 1) for _ in range(3)]
    found = surface_of(make_facts, rows)
    assert found.kind == "not settled"
    assert found.low == found.high == ()


def test_one_curve_is_no_surface(make_trial: Make) -> None:
    request = EffectsRequest("extraction_yield_pct", ("grind_steps_finer", "water_temp_c"), curves=("water_temp_c",))
    assert estimate_effects(make_trial(seed=34), request).surface is None
