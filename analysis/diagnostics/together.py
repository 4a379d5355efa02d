"""Settings that moved together, in words: which effects cannot be told apart, and where to brew to part them."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np
import polars as pl
from scipy import stats

from analysis.diagnostics.case import Case, moving, term_noun
from analysis.diagnostics.collinearity import conditions, correlation, inflation
from analysis.diagnostics.corners import Remedy, find_remedy
from analysis.diagnostics.least_squares import PlainFit
from analysis.diagnostics.seen import Seen
from analysis.diagnostics.setting_words import is_result, setting_words
from analysis.effects.factors import FACTORS, many, plural
from analysis.effects.fit import Floats
from analysis.findings import Finding, Weight
from analysis.words import capital, count, listed, number

TOPIC = "settings that moved together"
TIED = 0.9
"""Two settings beyond this correlation are hardly told apart: it alone inflates the variance 5 times."""
LEANING = 0.7
"""Worth knowing from here: where correlated predictors begin to distort (Dormann et al. 2013, Ecography 36:27)."""
INFLATED = 10.0
"""Variance inflation that is called serious by common rule (Marquardt 1970, Technometrics 12:591)."""
INDEX = 30.0
"""Condition index of a moderate to strong dependency (Belsley, Kuh & Welsch 1980, section 3.2)."""
SHARE = 0.5
"""A term takes part in a dependency when this share of its variance hangs on it (same source)."""
SHOWN = 1e4


@dataclass(frozen=True)
class Together:
    """What moved with what.

    `table`: a row per term with `term`, `vif` (variance inflation within groups), `wider` (times the interval);
    `pairs`: a row per pair with `first`, `second`, `r`, `n_brews`; `conditions`: a row per condition `index` within
    groups, ascending, with a column per term for its variance share.
    """

    seen: tuple[Seen, ...]
    table: pl.DataFrame
    pairs: pl.DataFrame
    conditions: pl.DataFrame


@dataclass(frozen=True, slots=True)
class _Pair:
    first: int
    second: int
    r: float
    n_brews: int


def find_together(case: Case, fit: PlainFit | None) -> Together:
    """Correlations and variance inflation of the slopes within the groups, and what to say of them."""
    still = [k for k in range(len(case.terms)) if k not in set(moving(case.within, case.slopes))]
    live = [k for k in range(len(case.terms)) if k not in set(still)]
    seen = [_stood_still(case, k) for k in still if np.ptp(case.slopes[:, k]) > 0]
    pairs = [pair for pair in (_pair(case, j, k) for j, k in combinations(live, 2)) if pair]
    vif = inflation(case.within[:, live]) if live else np.zeros(0)
    tied = [pair for pair in pairs if abs(pair.r) >= LEANING and _linear(case, pair)]
    seen += [_said(case, pair, vif[live.index(pair.first)], vif[live.index(pair.second)], fit) for pair in tied]
    seen += _beyond_pairs(case, live, vif, {k for pair in tied for k in (pair.first, pair.second)}, fit)
    if not seen and len(live) > 1:
        seen = [_apart(case, pairs, vif)]
    return Together(
        tuple(seen),
        _table(case, live, vif),
        _pair_table(case, pairs),
        _condition_table(case, live),
    )


def _pair(case: Case, j: int, k: int) -> _Pair | None:
    """The correlation over the brews that both terms speak about; None where there are too few."""
    rows = case.terms[j].rows & case.terms[k].rows
    if np.sum(rows) < 3:
        return None
    first, second = (column - column.mean() for column in (case.within[rows, j], case.within[rows, k]))
    return _Pair(j, k, correlation(first, second), int(np.sum(rows)))


def _linear(case: Case, pair: _Pair) -> bool:
    return all(len(case.terms[k].factors) == 1 for k in (pair.first, pair.second))


def _stood_still(case: Case, k: int) -> Seen:
    term = case.terms[k]
    noun, word = term_noun(term), case.word
    said = (
        f"{noun} differs only between the {many(word)}, never within one ({case.of}): its effect cannot be told from "
        f"any other difference between the {many(word)}."
    )
    do = f"Brew at least one {word}, better each, at two settings of {noun}, or leave it out."
    return Seen(Finding(TOPIC, "stands in the way", capital(said), do), term.factors)


def _said(case: Case, pair: _Pair, vif_first: float, vif_second: float, fit: PlainFit | None) -> Seen:
    terms = case.terms[pair.first], case.terms[pair.second]
    first, second = (term_noun(term) for term in terms)
    worst = max(vif_first, vif_second)
    head = f"{first} and {second} moved together, {_r(pair.r)}, {count(pair.n_brews, 'brew')} of "
    head += f"{plural(case.word, case.n_groups)}"
    told = _told_apart(fit, (pair.first, pair.second))
    weight: Weight = "worth knowing"
    if abs(pair.r) < TIED and worst < INFLATED:
        said = f"{head}: their effects are harder to tell apart, the intervals {_wider(worst)}."
    elif told:
        said = f"{head}: enough brews tell their effects apart all the same, at the price of intervals {_wider(worst)}."
    else:
        weight = "stands in the way"
        said = f"{head}: their effects cannot be told apart here{_price(worst)}."
    rows = terms[0].rows & terms[1].rows
    values = [case.brews[term.name].cast(pl.Float64).to_numpy()[rows] for term in terms]
    results = [FACTORS[term.name].noun for term in terms if is_result(case, term.name)]
    do = (
        f"{capital(listed(results))} cannot be brewed on purpose: leave it out to see all that the settings do."
        if results
        else _brew_there((terms[0].name, terms[1].name), find_remedy(values[0], values[1]))
    )
    blocks = tuple(term.name for term in terms) if weight == "stands in the way" else ()
    return Seen(Finding(TOPIC, weight, capital(said), do), blocks)


def _beyond_pairs(case: Case, live: list[int], vif: Floats, told: set[int], fit: PlainFit | None) -> list[Seen]:
    """A dependency among three or more, or of a curve or cross, which no pair of settings shows."""
    high = [k for k, value in zip(live, vif, strict=True) if value >= INFLATED and k not in told]
    if not high:
        return []
    found = conditions(case.within[:, live])
    share = found.shares[-1]
    part = {k for k, of in zip(live, share, strict=True) if of > SHARE} if found.indices[-1] >= INDEX else set()
    who = sorted(part | set(high))
    nouns = list(dict.fromkeys(term_noun(case.terms[k]) for k in who))
    worst = max(vif[live.index(k)] for k in high)
    settled = _told_apart(fit, tuple(high))
    joined = listed(nouns) if len(nouns) > 1 else f"{nouns[0]} and the other settings"
    said = f"{joined} hang together ({case.of}, no two of them alone): " + (
        f"the brews tell them apart all the same, with intervals {_wider(worst)}."
        if settled
        else f"their effects cannot be told apart here{_price(worst)}."
    )
    do = (
        "Leave one of them out, or brew where one changes and the others stay as they are: one brew at each end of "
        f"{listed(list(dict.fromkeys(FACTORS[name].noun for k in who for name in case.terms[k].factors)))} in turn."
    )
    factors = tuple(dict.fromkeys(name for k in high for name in case.terms[k].factors))
    weight: Weight = "worth knowing" if settled else "stands in the way"
    return [Seen(Finding(TOPIC, weight, capital(said), do), () if settled else factors)]


def _apart(case: Case, pairs: list[_Pair], vif: Floats) -> Seen:
    most = max(pairs, key=lambda pair: abs(pair.r), default=None)
    closest = f"; the closest two, {_nouns(case, most)}, at {_r(most.r)}" if most else ""
    said = f"The settings moved apart{closest} ({case.of}): the intervals are {_wider(float(vif.max()))} for it."
    return Seen(Finding(TOPIC, "fine", said, "Nothing to do."))


def _nouns(case: Case, pair: _Pair) -> str:
    return f"{term_noun(case.terms[pair.first])} and {term_noun(case.terms[pair.second])}"


def _told_apart(fit: PlainFit | None, places: tuple[int, ...]) -> bool:
    """Whether the interval of each of these slopes, inflated as it is, leaves zero out."""
    if fit is None:
        return False
    at = {int(k): i for i, k in enumerate(fit.kept)}
    if any(k not in at for k in places):
        return False
    reach = float(stats.t.ppf(0.975, fit.df))
    return all(abs(fit.estimate[at[k]]) > reach * fit.std_error[at[k]] for k in places)


def _r(r: float) -> str:
    shown = round(r, 2)
    exact = abs(r) > 1 - 1e-9
    return f"r = {shown:.2f}" if abs(shown) < 1 or exact else f"r {'over 0.99' if r > 0 else 'under -0.99'}"


def _wider(vif: float) -> str:
    times = float(np.sqrt(vif))
    return "no wider" if times < 1.05 else f"{number(times, 1)} times as wide as they need be"


def _price(vif: float) -> str:
    if vif > SHOWN:
        return ", however many more such brews are made"
    return f", their intervals {number(float(np.sqrt(vif)), 1)} times as wide as settings moved apart would give"


def _brew_there(names: tuple[str, str], remedy: Remedy) -> str:
    places = [
        f"{setting_words(names[0], corner.first)} with {setting_words(names[1], corner.second)} "
        f"({_seen_there(corner.n_brews)})"
        for corner in remedy.corners
    ]
    each = " each" if len(places) > 1 else ""
    n = (
        f"about {plural('brew', remedy.brews_each)}{each} would part them"
        if remedy.brews_each
        else ("more than a dozen brews are needed there, so plan a new set with the two settings crossed")
    )
    return f"Brew {listed(places)}: {n}."


def _seen_there(n_brews: int) -> str:
    return f"only {plural('brew', n_brews)} so far" if n_brews else "no brew so far"


def _table(case: Case, live: list[int], vif: Floats) -> pl.DataFrame:
    values = dict(zip(live, (float(v) for v in vif), strict=True))
    return pl.DataFrame(
        [
            {"term": term_noun(term), "vif": values.get(k), "wider": float(np.sqrt(values[k])) if k in values else None}
            for k, term in enumerate(case.terms)
        ],
        schema={"term": pl.String, "vif": pl.Float64, "wider": pl.Float64},
    )


def _pair_table(case: Case, pairs: list[_Pair]) -> pl.DataFrame:
    return pl.DataFrame(
        [
            {
                "first": term_noun(case.terms[pair.first]),
                "second": term_noun(case.terms[pair.second]),
                "r": pair.r,
                "n_brews": pair.n_brews,
            }
            for pair in pairs
        ],
        schema={"first": pl.String, "second": pl.String, "r": pl.Float64, "n_brews": pl.Int64},
    )


def _condition_table(case: Case, live: list[int]) -> pl.DataFrame:
    if not live:
        return pl.DataFrame(schema={"index": pl.Float64})
    found = conditions(case.within[:, live])
    shares = {term_noun(case.terms[k]): found.shares[:, at] for at, k in enumerate(live)}
    return pl.DataFrame({"index": found.indices} | shares)
