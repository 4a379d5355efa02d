"""Blind codes: three digits that mean nothing, and that one slip of the pen does not turn into another cup's code."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from schemas.problem import ProblemError

FULL_OF_MEANING = ("108", "168", "187", "247", "250", "318", "365", "420", "514", "520", "518", "786")
"""Numbers that some people read luck, crime, holiness or a calendar into; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Codes:
    """`codes` in the order of the cups; `alike`: how many are one slip away from another of the same draw.

    `used_before` counts codes that an earlier session had already.
    """

    codes: tuple[str, ...]
    alike: int
    used_before: int


def is_plain(code: str) -> bool:
    """Whether a code is three digits that people read nothing into.

    Three different digits (no 111, 101, 911), no leading zero (spreadsheets drop it, and people read a small number),
    no run up or down (123, 987), none of `FULL_OF_MEANING`. Random three-digit codes are the published practice (ISO
    6658, from memory); which to avoid is common practice, no source.

    >>> [code for code in ("042", "123", "321", "911", "420", "472") if is_plain(code)]
    ['472']
    """
    digits = [int(digit) for digit in code]
    if len(set(digits)) < 3 or digits[0] == 0 or code in FULL_OF_MEANING:
        return False
    steps = {digits[1] - digits[0], digits[2] - digits[1]}
    return steps not in ({1}, {-1})


PLAIN_CODES = tuple(code for code in map(str, range(100, 1000)) if is_plain(code))


def is_slip(one: str, other: str) -> bool:
    """Whether two codes differ in one digit only, or by two neighbouring digits changed over.

    >>> is_slip("472", "473"), is_slip("472", "742"), is_slip("472", "491")
    (True, True, False)
    """
    differ = [place for place in range(3) if one[place] != other[place]]
    if len(differ) < 2:
        return True
    first, second = differ[0], differ[-1]
    swapped = one[first] == other[second] and one[second] == other[first]
    return len(differ) == 2 and second == first + 1 and swapped


def draw_codes(n_cups: int, *, taken: Collection[str], rng: np.random.Generator) -> Codes:
    """Draw a code for each cup, all different.

    Codes of earlier sessions (`taken`) come only when no others are left, codes that are one slip away from another
    only when no further apart are left. ProblemError where there are more cups than codes.
    """
    if n_cups > len(PLAIN_CODES):
        raise ProblemError(
            f"{n_cups:,} cups are more than there are three-digit codes that mean nothing ({len(PLAIN_CODES)}). Plan "
            "fewer cups, or split them into plans of their own."
        )
    shuffled = [PLAIN_CODES[place] for place in rng.permutation(len(PLAIN_CODES))]
    fresh = [code for code in shuffled if code not in taken]
    used = [code for code in shuffled if code in taken]
    chosen: list[str] = []
    for pool in (fresh, used):
        chosen += _apart(pool, chosen, n_cups - len(chosen))
        left = [code for code in pool if code not in set(chosen)]
        chosen += left[: n_cups - len(chosen)]
    order = rng.permutation(n_cups)
    codes = tuple(chosen[place] for place in order)
    alike = sum(any(one != other and is_slip(one, other) for other in codes) for one in codes)
    return Codes(codes, alike, sum(code in taken for code in codes))


def _apart(pool: list[str], chosen: list[str], wanted: int) -> list[str]:
    """The first codes of the pool that are no slip of any chosen before."""
    found: list[str] = []
    for code in pool:
        if len(found) >= wanted:
            break
        if not any(is_slip(code, other) for other in (*chosen, *found)):
            found.append(code)
    return found
