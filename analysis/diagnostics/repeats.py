"""Repeats in words: how many there are, what they say of the model's shape, and which settings to repeat."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import polars as pl

from analysis.diagnostics.case import Case, named
from analysis.diagnostics.replication import ALIKE, LackOfFit, alike, lack_of_fit, pure_df
from analysis.diagnostics.seen import Seen
from analysis.diagnostics.setting_words import at_settings
from analysis.diagnostics.sittings import Sittings
from analysis.effects.factors import difference_unit
from analysis.effects.fit import Ints
from analysis.findings import Finding
from analysis.words import capital, count, number, p_range

TOPIC = "repeats and the shape of the model"
ENOUGH_DF = 4
"""Fewer degrees of freedom than this hardly show a misfit (an F of 1 and 2 must pass 18.5)."""
SURE = 0.05
"""One test stands here, so it is read at the usual level; the residual checks share theirs (Holm)."""
WANTED = 3


@dataclass(frozen=True)
class Repeats:
    """Findings, the test (None where there is none), and a table with a row per set of alike brews.

    `table`: `group`, `settings` in words, `n_brews`, `mean`, `sd` (null for a single brew), `brew_ids`.
    """

    seen: tuple[Seen, ...]
    test: LackOfFit | None
    table: pl.DataFrame


def find_repeats(case: Case, sittings: Sittings | None, tolerance: Mapping[str, float] | None = None) -> Repeats:
    """Brews alike within `tolerance` (by factor, in its unit; else `ALIKE`), and the lack of fit they show."""
    clusters = alike(case, ALIKE if tolerance is None else {**ALIKE, **tolerance})
    df = pure_df(case.full, clusters)
    test = lack_of_fit(case.y, case.full, clusters)
    if df == 0:
        seen = [_none(case)]
    elif test is None:
        seen = [_no_shape(case, clusters)]
    else:
        seen = [_tested(case, clusters, test)]
    seen += _one_sitting(case, clusters, sittings) if df else []
    return Repeats(tuple(seen), test, _table(case, clusters))


def _none(case: Case) -> Seen:
    centre, edge = _to_repeat(case)
    said = (
        f"No two of {case.of} are alike in coffee and settings: scatter from brew to brew cannot be told from a shape "
        "the model misses, such as a curve taken for a line."
    )
    do = f"Repeat {at_settings(case, centre)} {WANTED} more times"
    do += f", and {at_settings(case, edge)} once or twice." if edge != centre else "."
    rows = np.unique([centre, edge])
    return Seen(Finding(TOPIC, "worth knowing", said, do, case.ids(rows)))


def _no_shape(case: Case, clusters: Ints) -> Seen:
    rows = _repeated(clusters)
    said = (
        f"{capital(count(rows.size, 'brew'))} are repeats ({case.of}), but either they read exactly alike or there is "
        "no setting beyond those the model already meets: its shape cannot be tested."
    )
    do = "Check that repeats were read anew; brew a setting between those there are."
    return Seen(Finding(TOPIC, "worth knowing", said, do, case.ids(rows)))


def _tested(case: Case, clusters: Ints, test: LackOfFit) -> Seen:
    unit = difference_unit(case.request.response)
    rows = _repeated(clusters)
    scatter = (
        f"repeats scatter by {number(test.pure_sd, 2)} {unit} ({count(test.df_pure, 'degree')} of freedom, {case.of})"
    )
    figures = f"F {number(test.statistic, 2)} on {test.df_misfit} and {test.df_pure}, {p_range(test.p_value)}"
    if test.p_value < SURE:
        said = f"The settings miss the model by more than repeats scatter ({figures}); {scatter}."
        centre = _worst(case, clusters)
        do = (
            "Ask for a curve (grind often has a top) or a cross, and look first at the brews named here: theirs is the "
            "setting furthest from the model."
        )
        return Seen(Finding(TOPIC, "stands in the way", said, do, case.ids(centre)))
    if test.df_pure < ENOUGH_DF:
        few = f"{capital(scatter)}: too few to show a misfit unless it is gross ({figures})."
        centre_row, _ = _to_repeat(case)
        more = f"Repeat {at_settings(case, centre_row)} {count(ENOUGH_DF - test.df_pure, 'more time')}."
        return Seen(Finding(TOPIC, "worth knowing", few, more, case.ids(rows)))
    said = f"{capital(scatter)}, and no misfit of the model shows beyond that ({figures})."
    return Seen(Finding(TOPIC, "fine", said, "Nothing to do."))


def _one_sitting(case: Case, clusters: Ints, sittings: Sittings | None) -> list[Seen]:
    """Repeats that were all brewed in one go miss what differs from sitting to sitting."""
    if sittings is None or sittings.count < 2:
        return []
    sets = [np.flatnonzero(clusters == code) for code in np.unique(clusters[_repeated(clusters)])]
    if any(np.unique(sittings.codes[rows]).size > 1 for rows in sets):
        return []
    rows = np.concatenate(sets)
    word = sittings.word
    said = (
        f"Every setting that was repeated was repeated within one {word} ({named(case.ids(rows))}): what differs from "
        f"{word} to {word} is not in that scatter."
    )
    do = f"Brew one setting again in each {word}, first or last."
    return [Seen(Finding(TOPIC, "worth knowing", said, do, case.ids(rows)))]


def _repeated(clusters: Ints) -> Ints:
    sizes = np.bincount(clusters)
    return np.asarray(np.flatnonzero(sizes[clusters] > 1), dtype=np.int64)


def _to_repeat(case: Case) -> tuple[int, int]:
    """The brew nearest the middle of all settings, and the one furthest from it, each factor in its own spread."""
    size = np.sqrt(np.sum(case.slopes**2, axis=0))
    linear = [k for k, term in enumerate(case.terms) if len(term.factors) == 1 and size[k] > 0]
    away = np.sum((case.slopes[:, linear] / size[linear]) ** 2, axis=1)
    return int(np.argmin(away)), int(np.argmax(away))


def _worst(case: Case, clusters: Ints) -> Ints:
    """The brews of the cluster whose mean residual weighs most."""
    residual = case.y - case.y.mean()
    rest = residual - case.full @ np.linalg.lstsq(case.full, residual, rcond=None)[0]
    total, sizes = np.bincount(clusters, weights=rest), np.bincount(clusters)
    return np.asarray(np.flatnonzero(clusters == int(np.argmax(total**2 / sizes))), dtype=np.int64)


def _table(case: Case, clusters: Ints) -> pl.DataFrame:
    rows = []
    for code in range(int(clusters.max()) + 1):
        members = np.flatnonzero(clusters == code)
        values = case.y[members]
        rows.append(
            {
                "group": str(case.brews[case.request.group][int(members[0])]),
                "settings": at_settings(case, int(members[0])),
                "n_brews": members.size,
                "mean": float(values.mean()),
                "sd": float(values.std(ddof=1)) if members.size > 1 else None,
                "brew_ids": ", ".join(case.ids(members)),
            }
        )
    return pl.DataFrame(
        rows,
        schema={
            "group": pl.String,
            "settings": pl.String,
            "n_brews": pl.Int64,
            "mean": pl.Float64,
            "sd": pl.Float64,
            "brew_ids": pl.String,
        },
    ).sort("n_brews", descending=True, maintain_order=True)
