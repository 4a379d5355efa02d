"""Single brews: those that fix a term alone, and those without which the headline is another."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl
from scipy import stats

from analysis.diagnostics.case import Case, basis, named, term_noun
from analysis.diagnostics.deletion import held_change, total_variance
from analysis.diagnostics.headline import Slope, Slopes, slopes_of
from analysis.diagnostics.influence import Influence, fixed_alone, influence
from analysis.diagnostics.least_squares import LEVERAGE_ONE, PlainFit
from analysis.diagnostics.seen import Seen
from analysis.diagnostics.slope_words import change_words, interval_words
from analysis.effects.factors import plural
from analysis.effects.fit import Floats, Ints, NoFit
from analysis.effects.structure import random_structure
from analysis.findings import Finding, Weight
from analysis.mixed.model import fit_mixed_model
from analysis.words import capital, listed, number

TOPIC = "brews that weigh much"
REFITTED = 5
"""Brews left out with a new fit of the whole model: those that move the headline most while the variances are held."""
MOVED = 1.0
"""Standard errors of the headline that one brew may move it (DFBETAS over 1: Neter et al. 1996, section 10.4)."""
MOST_PINNED = 20


@dataclass(frozen=True)
class OneBrew:
    """Findings, and a table with a row per brew, the most influential first.

    `table`: `brew_id`, `leverage`, `studentised` (externally), `cook`, `dffits`, `dfbetas` (of the headline in the
    plain fit), `moves` (change of the headline in its standard errors when the whole model is fitted without the
    brew; null where it was not).
    """

    seen: tuple[Seen, ...]
    table: pl.DataFrame


def find_one_brew(case: Case, fit: PlainFit | None, whole: Slopes) -> OneBrew:
    """Leverage and influence of every brew on the slopes, `whole` being the effects of all brews."""
    if fit is None:
        return OneBrew((), pl.DataFrame(schema=_SCHEMA))
    seen = _pinned(case, fit)
    found = influence(fit)
    on_headline = _on_headline(case, fit, found)
    likely = _held(case)
    order = np.argsort(-np.nan_to_num(np.abs(on_headline if likely is None else likely)), kind="stable")
    moves: dict[int, float] = {}
    if whole.by_term:
        first = next(iter(whole.by_term.values()))
        refits = {int(row): _without(case, int(row)) for row in order[:REFITTED]}
        moves = {row: _moved(first, refit) for row, refit in refits.items()}
        seen.append(_moved_most(case, first, refits, moves))
    seen += _far_out(case, fit, found, set(moves))
    return OneBrew(tuple(seen), _table(case, found, on_headline, moves, order))


def _held(case: Case) -> Floats | None:
    """Change of the headline without each brew, the variances of the mixed model held; None where there is none."""
    x = case.design.x
    if x.shape[0] <= x.shape[1] or basis(x).shape[1] < x.shape[1]:
        return None
    parts = random_structure(case.brews, case.request, case.design).parts
    fit = fit_mixed_model(case.y, x, parts)
    if isinstance(fit, NoFit):
        return None
    change = held_change(case.y, x, total_variance(case.n, fit.sigma, parts, fit.components))
    at = [k for k, term in enumerate(case.design.terms) if term.factors == (case.request.factors[0],)]
    return np.asarray(change[:, at[0]], dtype=np.float64) if at else None


def _on_headline(case: Case, fit: PlainFit, found: Influence) -> Floats:
    """DFBETAS of the first setting that the plain fit can tell, shape (n,)."""
    at = [i for i, k in enumerate(fit.kept) if case.terms[int(k)].factors == (case.request.factors[0],)]
    if not at:
        return np.full(case.n, np.nan)
    return np.asarray(found.dfbetas[:, at[0]], dtype=np.float64)


def _pinned(case: Case, fit: PlainFit) -> list[Seen]:
    """Brews of leverage 1 that fix a slope, and brews that are the only one of their group."""
    rows = np.flatnonzero(fit.leverage > LEVERAGE_ONE)
    fixed = {int(row): fixed_alone(case, fit, int(row)) for row in rows[:MOST_PINNED]}
    seen = []
    for places in dict.fromkeys(places for places in fixed.values() if places):
        brews = case.ids(np.array([row for row, of in fixed.items() if of == places], dtype=np.int64))
        nouns = listed(list(dict.fromkeys(term_noun(case.terms[k]) for k in places)))
        said = (
            f"{'brew' if len(brews) == 1 else 'each of the brews'} {named(brews)} alone fixes what is said of {nouns} "
            f"(leverage 1; {case.of}): it is met exactly whatever it reads, so no scatter stands against it."
        )
        do = f"Brew {brews[0]} again at least twice, or leave {nouns} out."
        blocks = tuple(dict.fromkeys(name for k in places for name in case.terms[k].factors))
        seen.append(Seen(Finding(TOPIC, "stands in the way", capital(said), do, brews), blocks))
    single = np.flatnonzero(np.bincount(case.codes)[case.codes] == 1)
    if single.size and case.n_groups > 1:
        brews = case.ids(single)
        one = single.size == 1
        said = (
            f"{plural('brew', single.size)} {'is' if one else 'are'} the only one of {'its' if one else 'their'} "
            f"{case.word} ({named(brews)}): within its {case.word} it is compared with nothing."
        )
        do = f"Brew {'that' if one else 'each such'} {case.word} at a second setting."
        seen.append(Seen(Finding(TOPIC, "worth knowing", said, do, brews)))
    return seen


def _without(case: Case, row: int) -> Slopes:
    return slopes_of(case.brews[[k for k in range(case.n) if k != row]], case.request)


def _moved(whole: Slope, refit: Slopes) -> float:
    """Change of the headline in its standard errors; infinite where there is no headline without the brew."""
    other = refit.by_term.get((whole.name, whole.per))
    return float("inf") if other is None else (other.estimate - whole.estimate) / whole.std_error


def _moved_most(case: Case, whole: Slope, refits: dict[int, Slopes], moves: dict[int, float]) -> Seen:
    rows = [row for row in sorted(moves, key=lambda row: -abs(moves[row])) if _tells(whole, refits[row], moves[row])]
    if not rows:
        row = max(moves, key=lambda row: abs(moves[row]))
        said = (
            f"No single brew moves the headline by more than {number(abs(moves[row]), 1)} of its standard errors; "
            f"{case.ids(np.array([row]))[0]} moves it most: {_instead(case, whole, refits[row])}"
        )
        return Seen(Finding(TOPIC, "fine", said, "Nothing to do.", case.ids(np.array([row]))))
    ids = case.ids(np.array(rows))
    told = [f"without {brew} {_instead(case, whole, refits[row])}" for brew, row in zip(ids, rows, strict=True)]
    each = "; ".join(one.removesuffix(".") for one in told)
    said = f"The headline leans on {plural('brew', len(rows))}: {each}. All: {interval_words(case, whole)}."
    turns = any(_turned(whole, refits[row]) for row in rows)
    weight: Weight = "stands in the way" if turns else "worth knowing"
    do = (
        f"Check the record of {named(ids)} first, then brew {'that setting' if len(rows) == 1 else 'those settings'} "
        "again; leave no brew out for its result."
    )
    return Seen(Finding(TOPIC, weight, said, do, ids), (whole.name,) if turns else ())


def _tells(whole: Slope, refit: Slopes, move: float) -> bool:
    """Whether a brew is worth naming: what is said of the headline differs with and without it.

    It moves the headline by a standard error or out of the interval of the other brews (a wild brew widens its own
    interval), or a settled direction comes or goes with it.
    """
    other = refit.by_term.get((whole.name, whole.per))
    if other is None or abs(move) >= MOVED or _turned(whole, refit):
        return True
    return not other.low <= whole.estimate <= other.high or other.settled != whole.settled


def _turned(whole: Slope, refit: Slopes) -> bool:
    """Whether the headline goes the other way, or cannot be worked out, without the brew."""
    other = refit.by_term.get((whole.name, whole.per))
    return other is None or ((whole.settled or other.settled) and other.estimate * whole.estimate < 0)


def _instead(case: Case, whole: Slope, refit: Slopes) -> str:
    other = refit.by_term.get((whole.name, whole.per))
    if other is None:
        return f"no effect could be shown ({refit.refusal})" if refit.refusal else "this effect could not be shown."
    return f"{change_words(case, whole)} would be {interval_words(case, other, head=False)}."


def _far_out(case: Case, fit: PlainFit, found: Influence, refitted: set[int]) -> list[Seen]:
    """Brews that move the fit as a whole, though hardly the headline: Cook's distance over the median of F."""
    n, p = fit.x.shape
    limit = float(stats.f.ppf(0.5, p, n - p))
    rows: Ints = np.flatnonzero(np.nan_to_num(found.cook) > limit)
    rows = rows[np.argsort(-found.cook[rows], kind="stable")]
    if rows.size == 0:
        return []
    ids = case.ids(rows)
    said = (
        f"{plural('brew', rows.size)} {'moves' if rows.size == 1 else 'move'} the fit as a whole (Cook's distance over "
        f"{number(limit, 2)}, the median of F): {named(ids)} ({case.of})."
    )
    return [Seen(Finding(TOPIC, "worth knowing", said, "Check these records, then brew those settings again.", ids))]


_SCHEMA = {
    "brew_id": pl.String,
    "leverage": pl.Float64,
    "studentised": pl.Float64,
    "cook": pl.Float64,
    "dffits": pl.Float64,
    "dfbetas": pl.Float64,
    "moves": pl.Float64,
}


def _table(case: Case, found: Influence, on_headline: Floats, moves: dict[int, float], order: Ints) -> pl.DataFrame:
    every = np.arange(case.n)
    columns: dict[str, object] = {
        "brew_id": case.ids(every),
        "leverage": found.leverage,
        "studentised": found.external,
        "cook": found.cook,
        "dffits": found.dffits,
        "dfbetas": on_headline,
        "moves": [moves.get(row, float("nan")) for row in range(case.n)],
    }
    table: pl.DataFrame = pl.DataFrame(columns, schema=_SCHEMA)[order.tolist()].fill_nan(None)
    return table
