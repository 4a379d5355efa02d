"""Classical designs in coded levels, from the library `pydoe`; it is imported only when a plan is made (0.7 s)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np

from analysis.mixed.arrays import Floats, Ints
from analysis.words import count
from schemas.problem import ProblemError

Surface = Literal["composite", "box-behnken"]
CENTRES = 3
"""Runs at the centre of a response surface: three give two degrees of freedom for pure error."""
MOST_RUNS = 500


def full_factorial(levels: Sequence[int]) -> Floats:
    """Every combination of evenly coded levels -1 to +1: shape (product of `levels`, k)."""
    import pydoe

    if min(levels) < 2:
        raise ProblemError("A factorial needs two levels or more of every setting.")
    n_runs = int(np.prod([float(n) for n in levels]))
    if n_runs > MOST_RUNS:
        raise ProblemError(
            f"Every combination of these settings makes {n_runs:,} brews. Plan a fraction (fractional), or let --runs "
            "brews be chosen (optimal)."
        )
    counted: Floats = pydoe.fullfact(list(levels))
    return np.asarray(-1 + 2 * counted / (np.array(levels) - 1), dtype=np.float64)


def fractional_factorial(k: int, *, n_runs: int | None = None) -> Floats:
    """The two-level fraction of highest resolution in `n_runs` brews (a power of two), coded, shape (n_runs, k).

    Without `n_runs`: the smallest fraction that keeps single effects clear of each other and of products of two
    (resolution IV), which is what most plans want.
    """
    import pydoe

    if k < 3:
        raise ProblemError(f"A fraction needs three settings or more; with {k}, brew every combination (full).")
    if n_runs is None:
        return np.asarray(pydoe.fracfact_by_res(k, 4), dtype=np.float64)
    power = round(float(np.log2(n_runs))) if n_runs > 0 else 0
    if n_runs < 4 or 2**power != n_runs:
        raise ProblemError(f"A two-level fraction has 4, 8, 16, 32, ... brews, not {n_runs}.")
    if power >= k:
        return np.asarray(pydoe.ff2n(k), dtype=np.float64)
    for resolution in range(k, 2, -1):
        design = np.asarray(pydoe.fracfact_by_res(k, resolution), dtype=np.float64)
        if design.shape[0] <= n_runs:
            return design if design.shape[0] == n_runs else _of_generator(k, power, resolution)
    raise ProblemError(f"{count(k, 'setting')} do not fit into {n_runs} brews; it takes {_least_runs(k)}.")


def _of_generator(k: int, power: int, resolution: int) -> Floats:
    """A fraction of exactly 2**power runs: pydoe's cheapest one of this resolution is smaller than asked for."""
    import pydoe

    generator, _, _ = pydoe.fracfact_opt(k, k - power)
    design = np.asarray(pydoe.fracfact(generator), dtype=np.float64)
    if defining_resolution(design) < resolution:
        raise ProblemError(f"No fraction of {2**power} brews for {k} settings was found; leave out --runs.")
    return design


def _least_runs(k: int) -> int:
    return int(2 ** np.ceil(np.log2(k + 1)))


def defining_words(coded: Floats) -> tuple[tuple[int, ...], ...]:
    """Products of columns that never change, as tuples of column numbers, shortest first (none: a full factorial)."""
    k = coded.shape[1]
    words = []
    for mask in range(1, 2**k):
        columns = tuple(j for j in range(k) if mask >> j & 1)
        if np.all(np.prod(coded[:, columns], axis=1) == np.prod(coded[0, columns])):
            words.append(columns)
    return tuple(sorted(words, key=lambda word: (len(word), word)))


def defining_resolution(coded: Floats) -> int:
    """Length of the shortest defining word; one more than the number of columns where there is none."""
    words = defining_words(coded)
    return len(words[0]) if words else coded.shape[1] + 1


def central_composite(k: int, *, n_centre: int = CENTRES) -> Floats:
    """Corners, stars at the rotatable distance (2^k)^(1/4) and the centre; coded with corners at -1 and +1."""
    import pydoe

    if k < 2:
        raise ProblemError("A response surface needs two settings or more; for one, plan three or more levels (full).")
    return np.asarray(pydoe.ccdesign(k, center=(0, n_centre), alpha="r", face="ccc"), dtype=np.float64)


def box_behnken(k: int, *, n_centre: int = CENTRES) -> Floats:
    """Middles of the edges and the centre, three levels of every setting, no corner; coded -1, 0, +1."""
    import pydoe

    if k < 3:
        raise ProblemError("A Box-Behnken design needs three settings or more; for two, take composite.")
    return np.asarray(pydoe.bbdesign(k, center=n_centre), dtype=np.float64)


def response_surface(k: int, kind: Surface | None = None, *, n_centre: int = CENTRES) -> Floats:
    """A design for a curved surface whose outermost levels are -1 and +1, so that the range is never left.

    Without `kind`: Box-Behnken for three or four settings (three levels each, no corner where all is extreme at
    once), else central composite with its stars drawn in.
    """
    chosen = kind or ("box-behnken" if k in (3, 4) else "composite")
    if chosen == "box-behnken":
        return box_behnken(k, n_centre=n_centre)
    composite = central_composite(k, n_centre=n_centre)
    return np.asarray(composite / np.abs(composite).max(), dtype=np.float64)


def latin_square(n: int, *, rng: np.random.Generator) -> Ints:
    """Letters 0..n-1, each once in every row and column, (n, n): rows, columns and letters in random order."""
    import pydoe

    if n < 3:
        raise ProblemError(f"A Latin square needs three levels or more, not {n}; with two, brew every combination.")
    square = np.asarray(pydoe.latin_square(n), dtype=np.int64)
    letters = rng.permutation(n)
    return np.asarray(letters[square[rng.permutation(n)][:, rng.permutation(n)]], dtype=np.int64)
