"""The residual checks together: each with what it means at the bar and what to do, their p-values shared by Holm."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl

from analysis.diagnostics.box_cox import box_cox
from analysis.diagnostics.case import Case, basis, named, term_noun
from analysis.diagnostics.influence import influence
from analysis.diagnostics.least_squares import LEVERAGE_ONE, PlainFit
from analysis.diagnostics.order_checks import confounded, order_checks
from analysis.diagnostics.residual_shape import furthest, shape
from analysis.diagnostics.residual_spread import slanted_spread, unlike_spread
from analysis.diagnostics.residual_words import Check
from analysis.diagnostics.seen import Seen
from analysis.diagnostics.sittings import Sittings
from analysis.effects.divisions import codes_of
from analysis.effects.factors import GROUPS, difference_unit, many
from analysis.effects.fit import Floats
from analysis.findings import Finding
from analysis.multiple import holm
from analysis.words import capital, count, number

TOPIC = "what the settings leave unexplained"
SURE = 0.05
"""For the whole family of checks: Holm (1979) keeps the chance of one false alarm among them under it."""
FEWEST_DF = 5
"""With fewer degrees of freedom than this residuals are mostly fixed by the fit, so nothing is read from them."""
FEW_DF = 20
"""With fewer than this only gross departures show, and that is said."""
FAR = 3


@dataclass(frozen=True)
class ResidualChecks:
    """Findings, and a table with a row per check: `check`, `statistic`, `p_value`, `p_shared` (Holm), `detail`."""

    seen: tuple[Seen, ...]
    table: pl.DataFrame


def find_residual_checks(
    case: Case, fit: PlainFit | None, sittings: Sittings | None, *, rng: np.random.Generator
) -> ResidualChecks:
    """Shape, spread and order of what the plain fit leaves over; `rng` shuffles the order within sessions."""
    tied = confounded(case, sittings)
    if fit is None or fit.df < FEWEST_DF:
        return ResidualChecks((*tied, _too_few(case, fit)), _table([], []))
    studentised = fit.studentised()
    free = fit.leverage < LEVERAGE_ONE
    found = [
        _shape(case, studentised, free),
        _furthest(case, fit),
        _slant(case, studentised, free),
        *(_unlike(case, studentised, free, column) for column in dict.fromkeys((case.request.group, "operator"))),
        *order_checks(case, fit, sittings, rng=rng),
    ]
    checks = [check for check in found if check is not None]
    shared = [float(p) for p in holm([check.p_value for check in checks])]
    seen = [
        Seen(Finding(TOPIC, "worth knowing", f"{check.said} ({_p(p, len(checks))}).", check.do, check.brew_ids))
        for check, p in zip(checks, shared, strict=True)
        if p < SURE
    ]
    if checks and not seen:
        seen = [_nothing(case, fit, checks, shared)]
    return ResidualChecks((*tied, *seen), _table(checks, shared))


def _too_few(case: Case, fit: PlainFit | None) -> Seen:
    df = max(0, case.n - case.full.shape[1]) if fit is None else fit.df
    if fit is None and df >= FEWEST_DF:
        said = f"Coffees and settings give every reading back without scatter ({case.of}): there are no residuals."
        return Seen(Finding(TOPIC, "worth knowing", said, "Check whether these readings were measured or worked out."))
    said = f"With {count(df, 'degree')} of freedom left ({case.of}) the residuals tell nothing."
    return Seen(Finding(TOPIC, "worth knowing", said, "Brew more."))


def _p(p: float, n_checks: int) -> str:
    shown = "under 0.001" if p < 0.001 else number(p, 3)
    return f"p {shown} by Holm over {count(n_checks, 'check')}" if n_checks > 1 else f"p {shown}"


def _nothing(case: Case, fit: PlainFit, checks: list[Check], shared: list[float]) -> Seen:
    smallest = _p(min(shared), len(checks))
    said = f"Nothing stands out in {count(len(checks), 'residual check')} ({case.of}; smallest {smallest})"
    few = f"; with {fit.df} degrees of freedom only gross departures would show" if fit.df < FEW_DF else ""
    return Seen(Finding(TOPIC, "fine", f"{said}{few}.", "Nothing to do."))


def _shape(case: Case, studentised: Floats, free: np.ndarray) -> Check | None:
    found = shape(studentised[free])
    if found is None:
        return None
    rows = np.argsort(-np.abs(studentised), kind="stable")[:FAR]
    ids = case.ids(rows)
    side = (
        "stragglers on the low side, as channeled brews that nobody marked would leave"
        if found.skewness < -0.5
        else "stragglers on the high side, as a reading taken hot or a dose typed too low would leave"
        if found.skewness > 0.5
        else "more wild brews on both sides than scatter alone makes"
    )
    n = int(free.sum())
    caution = ""
    if n < 20:
        caution = f"; {n} residuals show only the grossest"
    elif n > 200:
        caution = f"; with {n} residuals a departure too small to matter shows too"
    return Check(
        "shape (Shapiro-Wilk)",
        found.statistic,
        found.p_value,
        f"Residuals have {side}; furthest out: {named(ids)}{caution}",
        f"Check the records of {named(ids)}: channeling, a reading or a dose mistyped. Leave none out for its result.",
        ids,
        f"skewness {number(found.skewness, 2)}",
    )


def _furthest(case: Case, fit: PlainFit) -> Check | None:
    external = influence(fit).external
    found = furthest(external, fit.df)
    if found is None:
        return None
    ids = case.ids(np.array([found.row]))
    size = fit.residual[found.row] / (1 - fit.leverage[found.row])
    unit = difference_unit(case.request.response)
    side = "below" if size < 0 else "above"
    return Check(
        "one brew far out (externally studentised, Bonferroni)",
        found.statistic,
        found.p_value,
        f"Brew {ids[0]} lies {number(abs(float(size)), 1)} {unit} {side} what the other brews say of its settings",
        f"Look at brew {ids[0]} again: channeling, the reading, the dose. It counts until there is a reason on record.",
        ids,
        f"brew {ids[0]}; of {found.n_compared}",
    )


def _slant(case: Case, studentised: Floats, free: np.ndarray) -> Check | None:
    linear = [k for k, term in enumerate(case.terms) if len(term.factors) == 1]
    found = slanted_spread(studentised[free], case.slopes[free][:, linear])
    if found is None:
        return None
    noun = term_noun(case.terms[linear[found.most]])
    way, sure = ("more", "less") if found.rises else ("less", "more")
    return Check(
        "spread along the settings (Breusch-Pagan, Koenker's form)",
        found.statistic,
        found.p_value,
        f"Brews scatter {way} the higher {noun} is: there the same recipe is {sure} sure to repeat",
        "Trust intervals that allow for it (the cluster-robust ones), and repeat brews where the scatter is wide."
        + _evener(case),
        (),
        f"df {found.df}",
    )


def _evener(case: Case) -> str:
    """The power of the response at which brews would scatter more evenly; empty where its own scale may be as good."""
    found = box_cox(case.y, basis(np.column_stack([case.levels, case.slopes])))
    if found is None or found.low <= 1 <= found.high:
        return ""
    ends = f"{number(found.low, 1)} to {number(found.high, 1)}"
    return f" They would scatter more evenly in the power {number(found.power, 1)} of it (95 % interval {ends})."


def _unlike(case: Case, studentised: Floats, free: np.ndarray, column: str) -> Check | None:
    values = case.brews[column]
    if values.null_count() == values.len():
        return None
    known = values.is_not_null().to_numpy() & free
    if int(known.sum()) < 2:
        return None
    named_rows = values.filter(pl.Series(known))
    codes = codes_of(named_rows)
    found = unlike_spread(studentised[known], codes)
    if found is None:
        return None
    levels = named_rows.unique().sort().to_list()
    word = GROUPS[column]
    times = found.most_sd / found.least_sd if found.least_sd > 0 else float("inf")
    most, least = str(levels[found.most]), str(levels[found.least])
    wide = f"{number(times, 1)} times as widely" if np.isfinite(times) else "widely, and others not at all,"
    trade = (
        "hands that differ: dose, tamp or pour is less even there"
        if column == "operator"
        else f"some {many(word)} are harder to repeat"
    )
    rows = np.flatnonzero(known)[codes == found.most]
    return Check(
        f"spread by {word} (Brown-Forsythe)",
        found.statistic,
        found.p_value,
        f"{capital(word)} {most} scatters {wide} as {least}: {trade}",
        f"Look at how {most} is brewed, and repeat it more often than the others.",
        case.ids(rows),
        f"df {found.df_num} and {found.df_den}; {found.n_levels} {many(word)}",
    )


def _table(checks: list[Check], shared: list[float]) -> pl.DataFrame:
    rows = [
        {
            "check": check.name,
            "statistic": check.statistic,
            "p_value": check.p_value,
            "p_shared": p,
            "detail": check.detail,
        }
        for check, p in zip(checks, shared, strict=True)
    ]
    return pl.DataFrame(
        rows,
        schema={
            "check": pl.String,
            "statistic": pl.Float64,
            "p_value": pl.Float64,
            "p_shared": pl.Float64,
            "detail": pl.String,
        },
    )
