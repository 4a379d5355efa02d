"""From brew facts to the effects table, its sentences and what the residual checks need."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
import polars as pl
from scipy import stats

from analysis.effects.bends import Bend, find_bends
from analysis.effects.cluster_check import cluster_check, disagreements
from analysis.effects.doubts import find_doubts
from analysis.effects.factors import GROUPS, difference_unit, plural, shared_weights
from analysis.effects.fit import Fit
from analysis.effects.joint import joint_tests
from analysis.effects.model import Fitted, fit_chosen
from analysis.effects.notes import make_notes
from analysis.effects.request import EffectsRequest, check_request
from analysis.effects.result import EffectsResult
from analysis.effects.rows import ChosenRows, choose_rows
from analysis.effects.slopes import coffee_sentences, slopes_by_coffee
from analysis.effects.structure import ENOUGH_COFFEES
from analysis.effects.surface import find_surface
from analysis.effects.top import find_tops
from analysis.effects.words import model_words, sentence
from analysis.outcomes.noise_bias import NoiseBias
from analysis.outcomes.of_effects import Measuring, slope_biases
from schemas.columns import COLUMNS
from schemas.dtypes import frame_schema
from schemas.reports import EFFECT_COLUMNS

__all__ = ["EffectsResult", "estimate_effects"]
BREW = "brew to brew"
RESIDUAL_IDS = ("brew_id", "coffee_id", "method", "brewed_at")


def estimate_effects(
    facts: pl.DataFrame,
    request: EffectsRequest,
    *,
    whole_plot: tuple[str, ...] = (),
    blocks: tuple[str, ...] = (),
    measuring: Measuring | None = None,
) -> EffectsResult:
    """Explain the response by its factors on `facts` (FACT_COLUMNS); ProblemError says why when that cannot be done.

    `whole_plot` names columns that stay put between neighbouring brews, `blocks` more columns whose levels may differ.
    With `measuring`, what errors of weighing and reading the factors do to their slopes is worked out and said.
    """
    check_request(request)
    chosen = choose_rows(facts, request)
    fitted = fit_chosen(chosen, request, whole_plot=whole_plot, blocks=blocks)
    design, fit, brews = fitted.design, fitted.fit, chosen.brews
    words = model_words(
        fit, fitted.groups, request, group=GROUPS[request.group], method=chosen.method, several=bool(chosen.grinders)
    )
    bends = find_bends(chosen, request)
    biases = {} if measuring is None else _biases(brews, request, fitted, measuring)
    table, sentences = _tell(chosen, request, fitted, bends, biases, model=words)
    slopes, alike = slopes_by_coffee(brews, fitted)
    check = cluster_check(brews, fitted)
    notes = (
        *find_doubts(facts, request, brews, design, fit),
        *make_notes(brews, request, fitted, alike),
        *disagreements(check, fitted, request.response),
        *(bend.note for bend in bends),
    )
    few = brews["coffee_id"].n_unique() < ENOUGH_COFFEES
    return EffectsResult(
        request=request,
        table=table.with_columns(effect_note=pl.lit(" ".join(notes) or None, pl.String())),
        sentences=sentences,
        residuals=_residuals(brews, fit),
        notes=notes,
        model=words,
        method=chosen.method,
        dropped=chosen.dropped,
        left_out=chosen.left_out,
        n_brews=brews.height,
        n_coffees=brews["coffee_id"].n_unique(),
        n_left_out=chosen.n_left_out,
        sigma=fit.sigma,
        group_sd=fit.group_sd,
        scope=fitted.structure.scope,
        components={name: math.sqrt(variance) for name, variance in fit.components.items()} | {BREW: fit.sigma},
        dropped_components=fit.dropped,
        slopes_by_coffee=slopes,
        coffee_sentences=coffee_sentences(_stated(slopes, biases), request) if few else (),
        alike=alike,
        joint_tests=joint_tests(design, fit),
        cluster_check=check,
        tops=find_tops(brews, design, fit, fitted.structure.term_scopes),
        surface=find_surface(brews, design, fit, request.response),
        order=fitted.order,
    )


def _tell(
    chosen: ChosenRows,
    request: EffectsRequest,
    fitted: Fitted,
    bends: Sequence[Bend],
    biases: Mapping[str, NoiseBias],
    *,
    model: str,
) -> tuple[pl.DataFrame, tuple[str, ...]]:
    """The effects table and its sentences, row by row."""
    rows, sentences = [], []
    balances = tuple(sorted(chosen.brews["balance_used"].drop_nulls().unique()))
    for k, term in enumerate(fitted.design.terms):
        row = effect_of(fitted.fit, k, step=1.0 if term.step is None else term.step)
        brews = chosen.brews.filter(term.rows)
        coffees = brews["coffee_id"].n_unique()
        unit = difference_unit(request.response) if term.factors else COLUMNS[request.response].unit
        sentences.append(
            sentence(
                term,
                request,
                estimate=row["estimate"],
                low=row["low"],
                high=row["high"],
                unit=unit,
                n_brews=brews.height,
                of=plural("coffee", coffees),
                scope=fitted.structure.term_scopes[k],
                bends=next((bend.way for bend in bends if bend.is_of(term)), ""),
                shared=shared_weights(request.response, term.name, balances) if len(term.factors) == 1 else (),
                measuring=None if term.place or len(term.factors) != 1 else biases.get(term.name),
            )
        )
        named = {"response": request.response, "term": term.name, "unit": unit, "step": term.step, "per": term.per}
        counts = {"n_brews": brews.height, "n_coffees": coffees, "model": model, "dropped": chosen.dropped}
        rows.append(named | row | counts)
    schema = frame_schema([COLUMNS[name] for name in EFFECT_COLUMNS])
    return pl.DataFrame(rows, schema=schema), tuple(sentences)


def _stated(slopes: pl.DataFrame, biases: Mapping[str, NoiseBias]) -> pl.DataFrame:
    """The slopes by coffee without those of a factor whose common slope is withheld: the same errors made them."""
    return slopes.filter(~pl.col("term").is_in([name for name, bias in biases.items() if bias.withheld]))


def _biases(brews: pl.DataFrame, request: EffectsRequest, fitted: Fitted, measuring: Measuring) -> dict[str, NoiseBias]:
    estimates = np.asarray(fitted.fit.estimate[: len(fitted.design.terms)])
    return slope_biases(brews, request.response, fitted.design, estimates, fitted.groups.codes, measuring=measuring)


def effect_of(fit: Fit, k: int, *, step: float) -> dict[str, float]:
    """Estimate of coefficient `k` for one step, with its 95 % interval and two-sided p-value from t."""
    estimate, std_error, df = float(fit.estimate[k]) * step, float(fit.std_error[k]) * step, float(fit.df[k])
    reach = fit.half_width(k) * step
    return {
        "estimate": estimate,
        "std_error": std_error,
        "df": df,
        "low": estimate - reach,
        "high": estimate + reach,
        "p_value": float(2 * stats.t.sf(abs(estimate / std_error), df)),
    }


def _residuals(brews: pl.DataFrame, fit: Fit) -> pl.DataFrame:
    return brews.select(RESIDUAL_IDS).with_columns(
        pl.Series("fitted", fit.fitted),
        pl.Series("residual", fit.residual),
        pl.Series("standardised", fit.standardised),
        pl.Series("leverage", [None] * brews.height if fit.leverage is None else fit.leverage, dtype=pl.Float64),
    )
