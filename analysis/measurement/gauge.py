"""Gauge study: how much of the spread of readings is the refractometer and its readers, how much the coffee.

Brews x readers x repeats, crossed, all random. A full table is analysed by the analysis of variance, one with readings
missing by a mixed model (REML); no reading is dropped. The parts are named as in the manual for measurement systems
analysis (AIAG, 4th edition, 2010): repeatability; reproducibility = reader + interaction; gauge = both together.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, get_args

import polars as pl

from analysis.measurement.gauge_intervals import LEVEL
from analysis.measurement.gauge_mixed import MixedComponents, fit_crossed
from analysis.measurement.gauge_spreads import (
    NAME_OF,
    GaugeShare,
    Spread,
    at_least_the_step,
    gauge_share,
    spreads_of,
    with_shares,
)
from analysis.measurement.gauge_squares import AnovaRow, Term, anova, interaction_df, mean_squares
from analysis.measurement.gauge_table import GaugeTable, gauge_table
from analysis.words import listed, number
from schemas.problem import ProblemError

Interaction = Literal["auto", "with", "without"]
Fate = Literal["kept", "pooled", "not judged"]
POOL_ABOVE = 0.5
"""The declared pooling rule: at a p-value above this the interaction joins the repeats.

At 0.25 the interval of repeatability held the truth in 91.4 % of one case (tests/reference/gauge); at 0.5 in 94.6 %.
"""
CATEGORIES_FACTOR = 1.41
"""Square root of two as the manual rounds it: distinct categories = 1.41 brew-to-brew sd / gauge sd."""
LIMIT_FACTOR = 2.8
"""1.96 sqrt(2) as ISO 5725-6 rounds it: two readings differ by less than this many sd 95 times in 100."""
SIGMAS_ACROSS = 6
"""A tolerance is compared with six standard deviations of the gauge."""
PLAIN_NAMES = {
    "repeatability": "repeatability (same reader)",
    "reader": "reader",
    "interaction": "reader by brew",
    "reproducibility": "reproducibility (another reader)",
    "gauge": "gauge",
    "brew_to_brew": "brew to brew",
    "total": "total",
}


@dataclass(frozen=True, slots=True)
class GaugeStudy:
    """What a gauge study found; `spreads` by name, in the order repeatability ... total.

    `interaction` says what became of it: kept, pooled with the repeats, or not to be judged. `categories` is the
    number of distinct categories, None with one brew or a gauge without spread. `same_reader_limit_pct` and
    `other_reader_limit_pct`: two readings of one brew differ by less 95 times in 100, in % TDS (ISO 5725-6); the
    second is None with one reader.
    """

    n_brews: int
    n_readers: int
    n_readings: int
    balanced: bool
    interaction: Fate
    model: str
    anova: tuple[AnovaRow, ...]
    spreads: dict[str, Spread]
    gauge_share: GaugeShare | None
    categories: int | None
    tolerance_share_pct: float | None
    same_reader_limit_pct: float
    other_reader_limit_pct: float | None
    notes: tuple[str, ...]


def gauge_study(
    frame: pl.DataFrame,
    *,
    interaction: str = "auto",
    pool_above: float = POOL_ABOVE,
    display_step_pct: float | None = None,
    tolerance_pct: float | None = None,
    level: float = LEVEL,
) -> GaugeStudy:
    """The study of a frame with columns brew_id, operator (who read) and tds_pct (% TDS).

    `interaction`: "auto" pools it with the repeats where its p-value is above `pool_above`; "with" and "without" settle
    it beforehand. `display_step_pct` is the instrument's resolution: repeats cannot scatter less than step / sqrt(12).
    `tolerance_pct` is the width of a target band in % TDS. Raises ProblemError where the readings allow no study.
    """
    table = gauge_table(frame)
    kept, fate, why = _settle_interaction(table, check_interaction(interaction), pool_above)
    found = mean_squares(table, table.tds_pct, with_interaction=kept)
    if not found.squares.any() and not display_step_pct:
        raise ProblemError(
            f"All {table.tds_pct.size} readings show {table.tds_pct[0]:g} % TDS: the display hides whatever spread "
            "there is. Give the instrument's resolution in the instruments table, or read brews that differ."
        )
    mixed = None if table.balanced or found.squares[-1, 0] == 0 else fit_crossed(table, found.terms[:-1])
    spreads, raised, hidden = at_least_the_step(
        spreads_of(found, mixed, balanced=table.balanced, level=level), display_step_pct
    )
    spreads = with_shares(spreads)
    brew, gauge = spreads.get("brew_to_brew"), spreads["gauge"]
    return GaugeStudy(
        n_brews=len(table.brews),
        n_readers=len(table.readers),
        n_readings=table.tds_pct.size,
        balanced=table.balanced,
        interaction=fate,
        model=_model_words(table, found.terms, mixed),
        anova=anova(found, balanced=table.balanced),
        spreads=spreads,
        gauge_share=gauge_share(found, spreads, hidden=hidden, level=level),
        categories=math.floor(CATEGORIES_FACTOR * brew.sd / gauge.sd) if brew and gauge.sd > 0 else None,
        tolerance_share_pct=100 * SIGMAS_ACROSS * gauge.sd / tolerance_pct if tolerance_pct else None,
        same_reader_limit_pct=LIMIT_FACTOR * spreads["repeatability"].sd,
        other_reader_limit_pct=LIMIT_FACTOR * gauge.sd if "reproducibility" in spreads else None,
        notes=tuple(note for note in (table.missing_words(), why, *_zeros(spreads, mixed), raised) if note),
    )


def check_interaction(text: str) -> Interaction:
    """The choice a user's word stands for."""
    for known in get_args(Interaction):
        if text == known:
            return known  # type: ignore[no-any-return]
    raise ProblemError(f"interaction is one of {listed(get_args(Interaction), last='or')}, not {text!r}.")


def _settle_interaction(table: GaugeTable, asked: Interaction, pool_above: float) -> tuple[bool, Fate, str]:
    """Whether the model keeps the interaction, what that is called, and why."""
    of_interaction, of_repeats = interaction_df(table)
    crossed = min(len(table.brews), len(table.readers)) > 1
    if not crossed or of_interaction < 1 or of_repeats < 1:
        if asked == "with":
            raise ProblemError(
                "The interaction of reader and brew cannot be told from the repeats here: it takes two brews, two "
                "readers, and two readings of a brew by one reader. Leave it out, or read every brew again."
            )
        why = "one reading each, so what a reader does differently from brew to brew counts as repeatability"
        return False, "not judged", why if crossed and of_repeats < 1 else ""
    if asked != "auto":
        return asked == "with", "kept" if asked == "with" else "pooled", ""
    rows = {row.term: row for row in anova(mean_squares(table, table.tds_pct, with_interaction=True), balanced=False)}
    p = rows["interaction"].p_value
    if p is None or p <= pool_above:
        return True, "kept", ""
    why = f"the interaction of reader and brew is pooled with the repeats: p {number(p, 2)}, above {pool_above:g}"
    return False, "pooled", why


def _model_words(table: GaugeTable, terms: tuple[Term, ...], mixed: MixedComponents | None) -> str:
    """The model in words; names a singular fit."""
    names = {"brew": "brew", "reader": "reader", "interaction": "their interaction", "repeat": "repeats"}
    parts = listed([names[term] for term in terms])
    if mixed is None:
        how = "analysis of variance" if table.balanced else "analysis of variance with adjusted mean squares"
        return f"{how}: {parts}, all random"
    if not mixed.zero:
        return f"mixed model (REML): {parts}, all random"
    dropped = listed([names[term] for term in mixed.zero])
    return f"singular mixed model (REML): {parts}, all random; {dropped} came out as zero and was dropped"


def _zeros(spreads: dict[str, Spread], mixed: MixedComponents | None) -> list[str]:
    """What came out at or below zero and counts as zero."""
    notes = []
    for name in NAME_OF.values():
        part = spreads.get(name)
        if part and mixed is None and part.raw < 0:
            notes.append(f"the variance of {PLAIN_NAMES[name]} came out below zero and counts as zero")
        elif part and mixed is not None and part.variance == 0:
            notes.append(f"the variance of {PLAIN_NAMES[name]} came out as zero")
    return notes
