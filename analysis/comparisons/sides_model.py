"""The model of a comparison: a mean per side, coffees as blocks, sessions and operators at random."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl

from analysis.comparisons.request import BETWEEN_COFFEES, CompareRequest
from analysis.comparisons.rows import ComparedRows
from analysis.effects.divisions import codes_of, same_division
from analysis.effects.factors import many
from analysis.mixed.arrays import Floats, NoFit
from analysis.mixed.fit import MixedFit
from analysis.mixed.model import RandomPart, fit_mixed_model
from analysis.words import capital, count, listed
from schemas.problem import ProblemError

BLOCK = "coffee_id"
AT_RANDOM = {"session_id": "session", "operator": "operator"}
ENOUGH_COFFEES = 5
FEWEST_LEVELS = 3
RANK_TOLERANCE = 1e-9


@dataclass(frozen=True)
class SidesModel:
    """A fitted comparison of k sides: `contrast(i, j)` (p,) is side i less side j at the same coffees.

    `like_these` tells whether the sides' differences were let vary by coffee, so that intervals speak for coffees
    like these and not only for those brewed; `words` names the model.
    """

    fit: MixedFit
    n_sides: int
    like_these: bool
    words: str

    def contrast(self, first: int, second: int) -> Floats:
        """One less the other, as weights of the fixed terms."""
        weights = np.zeros(self.fit.estimate.size)
        weights[first], weights[second] = 1.0, -1.0
        return weights


def fit_sides(rows: ComparedRows, request: CompareRequest) -> SidesModel:
    """Fit the means of the sides; ProblemError where the brews cannot tell them from what they were brewed with."""
    brews = rows.brews
    y = brews[request.response].cast(pl.Float64).to_numpy()
    x = _design(rows, request)
    parts, words, like_these = _random(rows, request, x)
    if y.size <= x.shape[1] + 1:
        raise ProblemError(
            f"{count(y.size, 'brew')} are too few for {count(len(rows.sides), request.word)} beside "
            f"{count(x.shape[1] - len(rows.sides), 'other term')}: brew each side again."
        )
    fit = fit_mixed_model(y, x, parts)
    if isinstance(fit, NoFit):
        raise ProblemError(f"Nothing can be compared: {fit.reason}.")
    if fit.sigma <= RANK_TOLERANCE * max(float(np.abs(y).max()), 1.0):
        raise ProblemError(
            f"Brews of one {request.word} repeat each other exactly, so nothing is left to judge a difference by."
        )
    dropped = f"; no spread seen between {listed([many(name) for name in fit.dropped])}" if fit.dropped else ""
    return SidesModel(fit, len(rows.sides), like_these, words + dropped)


def _design(rows: ComparedRows, request: CompareRequest) -> Floats:
    """Sides, then blocks and held factors less their means; refuses sides that were never brewed on one coffee."""
    brews, k = rows.brews, len(rows.sides)
    sides = np.eye(k)[rows.codes]
    held = [brews[name].cast(pl.Float64).to_numpy() for name in request.adjust]
    flat = [name for name, values in zip(request.adjust, held, strict=True) if np.ptp(values) == 0]
    if flat:
        raise ProblemError(
            f"{listed(flat)} is the same in all of these brews, so there is nothing to hold. Leave it out."
        )
    columns = [*_blocks(brews, request), *held]
    x = np.column_stack([sides, *(values - values.mean() for values in columns)])
    scaled = x / np.sqrt(np.sum(x * x, axis=0))
    if np.linalg.svd(scaled, compute_uv=False).min() > RANK_TOLERANCE:
        return x
    without = np.column_stack([sides, *(values - values.mean() for values in held)]) if held else sides
    if np.linalg.matrix_rank(without) < without.shape[1]:
        raise ProblemError(
            f"{listed(request.adjust)} moved together with the {request.word}, so it cannot be held while "
            f"{many(request.word)} are compared. Leave it out."
        )
    raise ProblemError(_apart(rows, request))


def _blocks(brews: pl.DataFrame, request: CompareRequest) -> list[Floats]:
    """A column per coffee but the first; none where coffees or their lots are what is compared."""
    if request.by in (BLOCK, "lot_id", *BETWEEN_COFFEES) or brews[BLOCK].n_unique() == 1:
        return []
    names = brews[BLOCK].unique().sort()[1:]
    return [(brews[BLOCK] == name).cast(pl.Float64).to_numpy() for name in names]


def _apart(rows: ComparedRows, request: CompareRequest) -> str:
    """Which sides share no coffee with the first ones, in words."""
    of = {name: set(rows.brews.filter(pl.col(request.by) == name)[BLOCK].unique().to_list()) for name in rows.sides}
    reached, coffees = {rows.sides[0]}, set(of[rows.sides[0]])
    while grown := {name for name in rows.sides if name not in reached and of[name] & coffees}:
        reached |= grown
        coffees |= set().union(*(of[name] for name in grown))
    far = [name for name in rows.sides if name not in reached]
    return (
        f"{request.word} {listed(far)} and {listed(sorted(reached))} were never brewed on the same coffee, so what "
        f"differs between {many(request.word)} cannot be told from what differs between coffees. Brew one coffee on "
        "both, or compare within --coffee."
    )


def _random(rows: ComparedRows, request: CompareRequest, x: Floats) -> tuple[list[RandomPart], str, bool]:
    """Random parts, the model in words, and whether the sides may differ by coffee."""
    brews = rows.brews
    between = request.by in BETWEEN_COFFEES
    parts = _coffees_at_random(rows, request) if between else []
    seen = [rows.codes, codes_of(brews[BLOCK])]
    for column, word in AT_RANDOM.items():
        if column == request.by or brews[column].null_count() or brews[column].n_unique() < FEWEST_LEVELS:
            continue
        codes = codes_of(brews[column])
        if codes.max() + 1 == codes.size or any(same_division(codes, other) for other in seen):
            continue
        seen.append(codes)
        parts.append(RandomPart(word, codes, np.ones(codes.size)))
    blocked = x.shape[1] > len(rows.sides) + len(request.adjust)
    crossed = blocked and brews[BLOCK].n_unique() >= ENOUGH_COFFEES and _crossed(brews, request)
    if crossed:
        cells = codes_of(brews.select(pl.concat_str(request.by, BLOCK, separator="\x1f")).to_series())
        parts.append(RandomPart(f"{request.word} by coffee", cells, np.ones(cells.size)))
    named = ["one level per coffee"] if blocked else []
    named += [f"{part.name} at random" for part in parts]
    how = "mixed model (REML), Satterthwaite degrees of freedom" if parts else "least squares, t(n - p)"
    return parts, "; ".join([how, *named]), crossed or between


def _coffees_at_random(rows: ComparedRows, request: CompareRequest) -> list[RandomPart]:
    """A level per coffee, since coffees are what is compared; ProblemError with too few to know how they differ."""
    coffees = rows.brews[BLOCK].n_unique()
    if coffees < ENOUGH_COFFEES:
        raise ProblemError(
            f"{capital(many(request.word))} differ between coffees, and these brews are of "
            f"{count(coffees, 'coffee')}: too few to tell a {request.word} from the coffees that have it. Brew "
            f"{ENOUGH_COFFEES} or more, two of each {request.word} at least."
        )
    codes = codes_of(rows.brews[BLOCK])
    return [RandomPart("coffee", codes, np.ones(codes.size))]


def _crossed(brews: pl.DataFrame, request: CompareRequest) -> bool:
    """Whether cells of side and coffee repeat, and at least half of the coffees were brewed on two sides."""
    cells = brews.group_by(BLOCK, request.by).len()
    both = cells.group_by(BLOCK).len().filter(pl.col("len") > 1).height
    repeats = bool((cells["len"] > 1).any())
    return repeats and bool(2 * both >= brews[BLOCK].n_unique() and both >= ENOUGH_COFFEES)
