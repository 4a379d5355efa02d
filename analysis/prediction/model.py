"""One response as a function of a recipe: the mixed model of the effects, and its best linear unbiased prediction."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import stats

from analysis.effects.design import Design
from analysis.effects.model import fit_chosen
from analysis.effects.random_fit import SMALLEST_DF
from analysis.effects.request import EffectsRequest
from analysis.effects.rows import ChosenRows
from analysis.mixed.arrays import CONFIDENCE, Floats, NoFit
from analysis.mixed.fit import MixedFit
from analysis.mixed.model import RandomPart, fit_mixed_model
from analysis.prediction.place import Place
from schemas.problem import ProblemError

COFFEE = "coffee"


@dataclass(frozen=True)
class ResponseModel:
    """A fitted response of n brews: `y` (n,), `x` (n, p), and the random `parts` whose variance is above zero.

    `slopes` names the parts that are slopes by coffee, by column of `x`; the parts in `once` (sessions, operators)
    belong to a single brew and not to the coffee. `scope` is whom its intervals speak for, `notes` what was said of
    the order of brewing.
    """

    response: str
    y: Floats
    x: Floats
    parts: tuple[RandomPart, ...]
    slopes: dict[int, str]
    fit: MixedFit
    design: Design
    notes: tuple[str, ...] = ()

    @property
    def once(self) -> tuple[str, ...]:
        """Parts that every brew draws anew."""
        return tuple(part.name for part in self.parts if part.name != COFFEE and part.name not in self.slopes.values())

    def places(self, rows: Floats, level: int | None) -> Place:
        """The recipes with these rows (m, p of the design) as a place; columns beyond the design stay at zero."""
        return Place(np.pad(rows, ((0, 0), (0, self.x.shape[1] - rows.shape[1]))), level)


@dataclass(frozen=True)
class Linear:
    """Best linear unbiased predictions of m recipes, and what their errors are made of.

    `value` (m,). `weights` (n, m): the prediction is weights' y. `gaps` (levels, m) by part: how much of each level's
    true effect is left in the error. `fresh` (m,) by part: the weight of a level never seen, 0 where the coffee is
    known. `once`: parts that a single brew adds at weight 1.
    """

    value: Floats
    weights: Floats
    gaps: dict[str, Floats]
    fresh: dict[str, Floats]
    once: tuple[str, ...]


def fit_response(
    chosen: ChosenRows,
    request: EffectsRequest,
    *,
    whole_plot: tuple[str, ...] = (),
    blocks: tuple[str, ...] = (),
) -> ResponseModel:
    """The model that the effects of this response rest on; ProblemError where these brews allow none."""
    found = fit_chosen(chosen, request, whole_plot=whole_plot, blocks=blocks)
    y, x = found.y, found.x
    parts = tuple(part for part in found.parts if part.name in found.fit.components)
    fit = fit_mixed_model(y, x, parts)
    if isinstance(fit, NoFit):
        raise ProblemError(f"Nothing can be predicted: {fit.reason}.")
    parts = tuple(part for part in parts if part.name in fit.components)
    return ResponseModel(
        request.response, y, x, parts, dict(found.structure.slopes), fit, found.design, found.order.notes
    )


def predict(model: ResponseModel, place: Place) -> Linear:
    """Henderson's mixed-model equations at the fitted variances: prediction and its error, exactly.

    With W = [x, Z root(v) / s] and A = W'W + diag(0, I), the prediction of w'(beta, u) is w'A^-1 W'y and its error
    variance s^2 w'A^-1 w (Henderson 1975, Biometrics 31:423; Robinson 1991, Statistical Science 6:15).
    """
    p = model.x.shape[1]
    z, roots = _random_columns(model)
    width = np.sqrt(np.mean(model.x**2, axis=0))
    w = np.column_stack([model.x / width, z * roots])
    stacked = np.vstack([w, np.hstack([np.zeros((roots.size, p)), np.eye(roots.size)])])
    corner = np.asarray(np.linalg.qr(stacked, mode="r"))
    at = np.column_stack([place.x / width, _levels_at(model, place) * roots])
    half = np.linalg.solve(corner.T, at.T)
    weights = w @ np.linalg.solve(corner, half)
    gaps, start = {}, 0
    levels_at = _levels_at(model, place)
    for part in model.parts:
        stop = start + int(part.codes.max()) + 1
        gaps[part.name] = (levels_at[:, start:stop] - weights.T @ z[:, start:stop]).T
        start = stop
    fresh = {} if place.level is not None else {part.name: _slope_at(model, part, place) for part in _of_coffee(model)}
    return Linear(model.y @ weights, weights, gaps, fresh, model.once)


def _of_coffee(model: ResponseModel) -> list[RandomPart]:
    return [part for part in model.parts if part.name not in model.once]


def _random_columns(model: ResponseModel) -> tuple[Floats, Floats]:
    """Z (n, q) of all parts side by side, and root(v) / s of each column (q,)."""
    columns = [part.columns() for part in model.parts]
    z = np.hstack([np.zeros((model.y.size, 0)), *columns])
    roots = [
        np.full(column.shape[1], np.sqrt(model.fit.components[part.name]) / model.fit.sigma)
        for part, column in zip(model.parts, columns, strict=True)
    ]
    return z, np.concatenate([np.zeros(0), *roots])


def _levels_at(model: ResponseModel, place: Place) -> Floats:
    """The weight of every level at every recipe, (m, q): the known coffee's own, zero elsewhere."""
    blocks = []
    for part in model.parts:
        block = np.zeros((place.x.shape[0], int(part.codes.max()) + 1))
        if place.level is not None and part.name not in model.once:
            block[:, place.level] = _slope_at(model, part, place)
        blocks.append(block)
    return np.hstack([np.zeros((place.x.shape[0], 0)), *blocks])


def _slope_at(model: ResponseModel, part: RandomPart, place: Place) -> Floats:
    """What multiplies a coffee's level of this part at the recipes, (m,)."""
    column = next((k for k, name in model.slopes.items() if name == part.name), None)
    return np.ones(place.x.shape[0]) if column is None else place.x[:, column]


@dataclass(frozen=True)
class Spread:
    """Variance (m,) of an error and its degrees of freedom (m,)."""

    variance: Floats
    df: Floats

    def half_width(self) -> Floats:
        """Half the 95 % interval, (m,)."""
        return np.asarray(stats.t.ppf(0.5 + CONFIDENCE / 2, self.df) * np.sqrt(self.variance), dtype=np.float64)


def of_mean(model: ResponseModel, line: Linear, *, fresh: bool = True) -> Spread:
    """The error of the coffee's mean at the recipe; without `fresh`, of the mean over coffees like these."""
    return _spread(model, _shares(model, line, estimated=True, fresh=fresh, brew=False))


def of_brew(model: ResponseModel, line: Linear) -> Spread:
    """The error of one brew: the mean's, and what sessions, operators and brewing add."""
    return _spread(model, _shares(model, line, estimated=True, fresh=True, brew=True))


def around_mean(model: ResponseModel, line: Linear) -> Spread:
    """How one brew scatters about what is estimated: a new coffee's difference, sessions, operators and brewing."""
    return _spread(model, _shares(model, line, estimated=False, fresh=True, brew=True))


def _shares(model: ResponseModel, line: Linear, *, estimated: bool, fresh: bool, brew: bool) -> Floats:
    """What multiplies each variance in that of the error, (K, m): the residual's first, then the parts'."""
    m = line.value.size
    rows = [np.sum(line.weights**2, axis=0) * estimated + float(brew)]
    for part in model.parts:
        share = np.sum(line.gaps[part.name] ** 2, axis=0) * estimated
        if fresh and part.name in line.fresh:
            share = share + line.fresh[part.name] ** 2
        if brew and part.name in line.once:
            share = share + np.ones(m)
        rows.append(share)
    return np.array(rows)


def _spread(model: ResponseModel, shares: Floats) -> Spread:
    """Variance v = shares'theta with Satterthwaite's degrees of freedom 2 v^2 / var(v).

    The weights of a best prediction minimise v, so to first order v moves with the variances by the shares alone
    (the envelope of the weights), and var(v) = shares' var(theta) shares with the observed information of REML.
    """
    theta = np.array([model.fit.sigma**2, *(model.fit.components[part.name] for part in model.parts)])
    variance = theta @ shares
    known = np.sum(shares * (model.fit.variance_covariance @ shares), axis=0)
    return Spread(variance, np.maximum(2 * variance**2 / known, SMALLEST_DF))
