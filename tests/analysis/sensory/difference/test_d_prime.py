from __future__ import annotations

import math

import pytest

from analysis.sensory.difference.d_prime import d_prime, share_right
from analysis.sensory.difference.kinds import CHANCE, KINDS, Kind


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("distance", [0.5, 1, 2, 3.5])
def test_share_right_equals_the_definition_integrated_by_r(
    kind: Kind, distance: float, from_r: dict[tuple[str, str], float]
) -> None:
    assert share_right(distance, kind) == pytest.approx(from_r["share_right", f"{kind} {distance:g}"], abs=1e-7)


def test_share_right_at_one_is_the_published_one() -> None:
    # Ennis (1993) J. Sensory Studies 8:353, from memory.
    assert share_right(1, "triangle") == pytest.approx(0.418, abs=5e-4)
    assert share_right(1, "duo_trio") == pytest.approx(0.5825, abs=5e-5)
    assert share_right(1, "paired") == pytest.approx(0.760, abs=5e-4)


@pytest.mark.parametrize("kind", KINDS)
def test_distance_is_the_inverse_and_clipped_at_guessing(kind: Kind) -> None:
    for distance in (0.05, 0.7, 2.0, 6.0):
        assert d_prime(share_right(distance, kind), kind) == pytest.approx(distance, abs=1e-6)
    assert d_prime(CHANCE[kind] - 0.1, kind) == 0.0
    assert d_prime(CHANCE[kind], kind) == 0.0
    assert math.isinf(d_prime(1.0, kind))
