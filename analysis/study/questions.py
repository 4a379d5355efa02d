"""Which terms of an effects table were planned, which were added, and what asking several at once does to p-values."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import polars as pl

from analysis.effects.factors import FACTORS
from analysis.multiple import benjamini_hochberg, holm
from analysis.words import count, listed
from schemas.study import Study

LEVEL = 0.05
NUMBERS = ("none", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


@dataclass(frozen=True)
class Questions:
    """The questions that an effects table answers, and how sure the answers are once their number is allowed for.

    `table`: a row per term in the table's order, intercepts left out, with `term`, `per` (two grinders have a row
    each), `planned`, `p_value`, `p_adjusted` (null where the p-value is) and `how` it was adjusted.
    """

    table: pl.DataFrame
    n_planned: int
    n_added: int
    sentences: tuple[str, ...]


def planned_terms(study: Study) -> tuple[str, ...]:
    """Names of the terms a study declares: factors, squares `a^2` of its curves, crosses `a:b`.

    >>> from schemas.study import StudyFactor
    >>> factors = (StudyFactor("water_temp_c"), StudyFactor("dose_g", curve=True))
    >>> planned_terms(Study("s", "?", "tds_pct", factors=factors, crosses=("dose_g:water_temp_c",)))
    ('water_temp_c', 'dose_g', 'dose_g^2', 'dose_g:water_temp_c')
    """
    return (*study.factor_names, *(f"{name}^2" for name in study.curves), *study.crosses)


def ask_questions(effects: pl.DataFrame, planned: Study | None) -> Questions:
    """Adjust the p-values of an effects table (EFFECT_COLUMNS): Holm over planned terms, else Benjamini-Hochberg.

    `planned` is the study as declared before its data; None makes every term an added one, as does another response.
    """
    terms = effects.filter(pl.col("step").is_not_null())
    asked = {_unordered(term) for term in planned_terms(planned)} if planned else set()
    if planned and effects.height and effects["response"][0] != planned.response:
        asked = set()
    is_planned = [_unordered(term) in asked for term in terms["term"]]
    table = terms.select("term", "per", planned=pl.Series(is_planned, dtype=pl.Boolean), p_value="p_value")
    table = table.with_columns(p_adjusted=pl.Series(_adjust(table), dtype=pl.Float64).fill_nan(None))
    n_planned, n_added = (table.filter(flag & pl.col("p_value").is_not_null()).height for flag in (PLANNED, ~PLANNED))
    table = table.with_columns(
        how=pl.when(PLANNED)
        .then(pl.lit(_how(n_planned, "Holm")))
        .otherwise(pl.lit(_how(n_added, "Benjamini-Hochberg")))
    )
    there = {_unordered(term) for term in terms["term"]}
    left_open = [term for term in planned_terms(planned) if _unordered(term) not in there] if asked and planned else []
    return Questions(table, n_planned, n_added, tuple(_sentences(table, left_open)))


PLANNED = pl.col("planned")


def _unordered(term: str) -> frozenset[str]:
    return frozenset(term.split(":"))


def _adjust(table: pl.DataFrame) -> pl.Series:
    p = table["p_value"].cast(pl.Float64).fill_null(math.nan).to_numpy()
    planned = table["planned"].to_numpy()
    adjusted = p.copy()
    adjusted[planned] = holm(p[planned])
    adjusted[~planned] = benjamini_hochberg(p[~planned])
    return pl.Series(adjusted)


def _how(n: int, name: str) -> str:
    return "not adjusted: a single question" if n < 2 else f"{name} over {n} questions"


def _sentences(table: pl.DataFrame, left_open: list[str]) -> Iterator[str]:
    planned, added = table.filter(PLANNED), table.filter(~PLANNED)
    if planned.height:
        yield f"{count(planned.height, 'planned question')}{_allowing(planned, 'Holm')}: {_answers(planned)}."
    if left_open:
        yield f"Planned and not in this table: {listed([term_words(term) for term in left_open])}."
    if added.height:
        asked = count(added.height, "question")
        said = f"{asked} not planned before the data{_allowing(added, 'Benjamini-Hochberg')}: {_answers(added)}."
        yield f"{said} What is clear there is an idea for the next brews to test."


def _allowing(table: pl.DataFrame, name: str) -> str:
    n = table["p_value"].count()
    if n < 2:
        return ""
    return f", after allowing for asking {NUMBERS[n] if n < len(NUMBERS) else n} ({name})"


def _answers(table: pl.DataFrame) -> str:
    """Which questions are answered at the 5 % level and which stay open, each with its adjusted p-value."""
    stands: list[str] = []
    still: list[str] = []
    for row in table.iter_rows(named=True):
        p = row["p_adjusted"]
        name = f"{term_words(row['term'])}{_on_grinder(row['per'])}"
        if p is None:
            still.append(f"{name} (no p-value)")
        else:
            (stands if p < LEVEL else still).append(f"{name} (p {p_words(p)})")
    parts = [f"clear at the 5 % level: {listed(stands)}"] if stands else []
    parts += [f"left open by these brews: {listed(still)}"] if still else []
    return "; ".join(parts)


def term_words(term: str) -> str:
    """A term as people say it.

    >>> term_words("grind_steps_finer^2"), term_words("dose_g:water_temp_c"), term_words("channeled")
    ('the curve of grind', 'dose together with water temperature', 'channeling')
    """
    if term.endswith("^2"):
        return f"the curve of {FACTORS[term.removesuffix('^2')].noun}"
    return " together with ".join(FACTORS[name].noun if name in FACTORS else name for name in term.split(":"))


def _on_grinder(per: str | None) -> str:
    _, on, grinder = (per or "").rpartition(" on ")
    return f"{on}{grinder}" if on else ""


def p_words(p: float) -> str:
    """A p-value to two figures.

    >>> p_words(0.0123), p_words(0.00002), p_words(1.0)
    ('0.012', 'under 0.001', '1')
    """
    return "under 0.001" if p < 0.001 else f"{p:.2g}"
