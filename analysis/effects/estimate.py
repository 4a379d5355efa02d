"""From brew facts to the effects table, its sentences and what the residual checks need."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import polars as pl
from scipy import stats

from analysis.effects.bends import Bend, find_bends
from analysis.effects.design import Design
from analysis.effects.doubts import find_doubts
from analysis.effects.factors import GROUPS, difference_unit, plural, shared_weights
from analysis.effects.fit import Fit
from analysis.effects.model import fit_chosen
from analysis.effects.notes import make_notes
from analysis.effects.request import EffectsRequest, check_request
from analysis.effects.rows import ChosenRows, choose_rows
from analysis.effects.words import model_words, sentence
from schemas.columns import COLUMNS
from schemas.dtypes import frame_schema
from schemas.reports import EFFECT_COLUMNS

RESIDUAL_IDS = ("brew_id", "coffee_id", "method", "brewed_at")


@dataclass(frozen=True)
class EffectsResult:
    """One regression, told three ways.

    `table`: the EFFECT_COLUMNS, a row per term, factors first and intercepts last. `sentences`: one per row of the
    table. `residuals`: a row per brew with `brew_id`, `coffee_id`, `method`, `brewed_at`, then `fitted`, `residual`
    (in the response's unit), `standardised` and `leverage` (null for a mixed model). `left_out`: brews per reason.
    `sigma`: spread of single brews; `group_sd`: spread between groups (None without a group intercept).
    """

    request: EffectsRequest
    table: pl.DataFrame
    sentences: tuple[str, ...]
    residuals: pl.DataFrame
    notes: tuple[str, ...]
    model: str
    method: str
    dropped: str
    left_out: dict[str, int]
    n_brews: int
    n_coffees: int
    n_left_out: int
    sigma: float
    group_sd: float | None


def estimate_effects(facts: pl.DataFrame, request: EffectsRequest) -> EffectsResult:
    """Explain the response by its factors on `facts` (FACT_COLUMNS); ProblemError says why when that cannot be done."""
    check_request(request)
    chosen = choose_rows(facts, request)
    design, fit, groups = fit_chosen(chosen, request)
    words = model_words(
        fit, groups, request, group=GROUPS[request.group], method=chosen.method, several=bool(chosen.grinders)
    )
    bends = find_bends(chosen, request)
    table, sentences = _tell(chosen, request, design, fit, bends, model=words)
    notes = (
        *find_doubts(facts, request, chosen.brews, design, fit),
        *make_notes(chosen.brews, request, design, fit, groups),
        *(bend.note for bend in bends),
    )
    return EffectsResult(
        request=request,
        table=table.with_columns(effect_note=pl.lit(" ".join(notes) or None, pl.String())),
        sentences=sentences,
        residuals=_residuals(chosen.brews, fit),
        notes=notes,
        model=words,
        method=chosen.method,
        dropped=chosen.dropped,
        left_out=chosen.left_out,
        n_brews=chosen.brews.height,
        n_coffees=chosen.brews["coffee_id"].n_unique(),
        n_left_out=chosen.n_left_out,
        sigma=fit.sigma,
        group_sd=fit.group_sd,
    )


def _tell(
    chosen: ChosenRows, request: EffectsRequest, design: Design, fit: Fit, bends: Sequence[Bend], *, model: str
) -> tuple[pl.DataFrame, tuple[str, ...]]:
    """The effects table and its sentences, row by row."""
    rows, sentences = [], []
    balances = tuple(sorted(chosen.brews["balance_used"].drop_nulls().unique()))
    for k, term in enumerate(design.terms):
        row = _effect(fit, k, step=1.0 if term.step is None else term.step)
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
                bends=next((bend.way for bend in bends if bend.is_of(term)), ""),
                shared=shared_weights(request.response, term.name, balances) if len(term.factors) == 1 else (),
            )
        )
        named = {"response": request.response, "term": term.name, "unit": unit, "step": term.step, "per": term.per}
        counts = {"n_brews": brews.height, "n_coffees": coffees, "model": model, "dropped": chosen.dropped}
        rows.append(named | row | counts)
    schema = frame_schema([COLUMNS[name] for name in EFFECT_COLUMNS])
    return pl.DataFrame(rows, schema=schema), tuple(sentences)


def _effect(fit: Fit, k: int, *, step: float) -> dict[str, float]:
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
