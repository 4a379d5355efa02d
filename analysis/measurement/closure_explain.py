"""Which single weight, or which two swapped ones, would explain why a brew does not add up."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from analysis.measurement.closure_masses import IN_OR_OUT, Masses
from analysis.measurement.closure_usual import UsualBrew

How = Literal["tenfold", "digits swapped", "swapped", "too heavy", "too light"]
TENFOLD = (0.1, 10.0)
SWAPS = (("water_g", "beverage_g"), ("dose_g", "beverage_g"), ("dose_g", "spent_wet_g"))
LEAST_LEFT_G_PER_G = 0.3
LEAST_YIELD_POINTS = 3.0
"""Least half widths within which left liquid and yields count as usual; chosen by us, no source."""
Test = Callable[[Masses], bool]


@dataclass(frozen=True, slots=True)
class Explanation:
    """One weight that would set a brew right: what stands there, what would have to, both in g.

    `how` tells what kind of slip that is; `other` is the weight it was swapped with.
    """

    column: str
    recorded_g: float
    would_be_g: float
    how: How
    other: str = ""


def closing(masses: Masses, middle: float, limit: float, usual: UsualBrew) -> tuple[Explanation, ...]:
    """Weights that bring the residual to the share `middle` of the water; the likeliest first.

    Slips with a pattern need to come within `limit` of it. Each leaves as much liquid behind, and as high a yield, as
    is usual of the method.
    """

    def closes(other: Masses) -> bool:
        return other.residual_g is not None and abs(other.residual_g - middle * other.water_g) <= limit * other.water_g

    residual_g = masses.residual_g or 0.0
    off_g = residual_g - middle * masses.water_g
    solved = {
        column: recorded - sign * off_g
        for column, sign in IN_OR_OUT.items()
        for recorded in [masses.weight(column)]
        if recorded is not None
    }
    solved["water_g"] = (masses.water_g - residual_g) / (1 - middle)
    return _explanations(masses, solved, closes, usual)


def refilling(masses: Masses, middle: float, limit: float, usual: UsualBrew) -> tuple[Explanation, ...]:
    """Weights that bring the water kept per g of dose to `middle`, slips with a pattern within `limit`.

    Each leaves as high a yield as is usual of the method; the likeliest first.
    """

    def refills(other: Masses) -> bool:
        return other.retained is not None and abs(other.retained - middle) <= limit

    retained, water_share = masses.retained or 0.0, 1 - (masses.strength or 0.0)
    off_g = (retained - middle) * masses.dose_g
    solved = {"beverage_g": masses.beverage_g + off_g / water_share, "water_g": masses.water_g - off_g}
    if middle > 0 and retained > 0:
        solved["dose_g"] = retained * masses.dose_g / middle
    return _explanations(masses, solved, refills, usual)


def _explanations(
    masses: Masses, solved: Mapping[str, float], settles: Test, usual: UsualBrew
) -> tuple[Explanation, ...]:
    found = [
        *_moved_points(masses, solved, settles, usual),
        *_swapped_digits(masses, solved, settles, usual),
        *_swaps(masses, settles, usual),
    ]
    patterned = {one.column for one in found}
    for column, would_be in solved.items():
        other, recorded = masses.replaced({column: would_be}), masses.weight(column)
        if recorded is not None and column not in patterned and other is not None and _is_usual(other, usual):
            found.append(Explanation(column, recorded, would_be, "too heavy" if recorded > would_be else "too light"))
    return tuple(found)


def _moved_points(
    masses: Masses, columns: Mapping[str, float], settles: Test, usual: UsualBrew
) -> Iterator[Explanation]:
    for column in columns:
        recorded = masses.weight(column)
        if recorded is None:
            continue
        for times in TENFOLD:
            other = masses.replaced({column: recorded * times})
            if other is not None and settles(other) and _is_usual(other, usual):
                yield Explanation(column, recorded, recorded * times, "tenfold")


def _swapped_digits(
    masses: Masses, columns: Mapping[str, float], settles: Test, usual: UsualBrew
) -> Iterator[Explanation]:
    for column in columns:
        recorded = masses.weight(column)
        for would_be in () if recorded is None else neighbours_exchanged(recorded):
            other = masses.replaced({column: would_be})
            if recorded is not None and other is not None and settles(other) and _is_usual(other, usual):
                yield Explanation(column, recorded, would_be, "digits swapped")


def neighbours_exchanged(mass_g: float) -> tuple[float, ...]:
    """The mass with two unlike neighbouring digits exchanged, each way there is; written to 0.01 g at most.

    >>> neighbours_exchanged(45.0), neighbours_exchanged(36.4)
    ((54.0, 40.5), (63.4, 34.6))
    """
    whole, _, rest = f"{mass_g:.2f}".rstrip("0").partition(".")
    text = whole + (rest or "0")
    found = []
    for place in range(len(text) - 1):
        if text[place] != text[place + 1]:
            swapped = text[:place] + text[place + 1] + text[place] + text[place + 2 :]
            found.append(float(f"{swapped[: len(whole)]}.{swapped[len(whole) :]}"))
    return tuple(found)


def _swaps(masses: Masses, settles: Test, usual: UsualBrew) -> Iterator[Explanation]:
    for first, second in SWAPS:
        one, two = masses.weight(first), masses.weight(second)
        if one is None or two is None:
            continue
        other = masses.replaced({first: two, second: one})
        if other is not None and settles(other) and _is_usual(other, usual):
            yield Explanation(first, one, two, "swapped", second)


def _is_usual(masses: Masses, usual: UsualBrew) -> bool:
    """Whether a brew leaves as much liquid behind and yields as much as its method's brews do."""
    return usual.left.holds(masses.left, at_least=LEAST_LEFT_G_PER_G) and usual.yield_pct.holds(
        masses.yield_pct, at_least=LEAST_YIELD_POINTS
    )
