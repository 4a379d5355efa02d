"""How many brews, and what could be seen, for a project folder: its own noise in, an answer out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl

from analysis.effects.factors import difference_unit
from analysis.planning.answers import Answer, recipes_answer
from analysis.planning.augment import brewed_rows
from analysis.planning.factors import SETTABLE, PlanFactor, check_factors, coded_settings
from analysis.planning.noise import Noise, check_asked, given_noise, lab_noise
from analysis.planning.power import ALPHA, POWER
from analysis.planning.setting import brewed_sentence, setting_answer
from analysis.planning.strata import Layout, codes_of
from analysis.words import listed
from pipeline.report import Part, Report, as_data, findings
from pipeline.run_sheet.asked import STEPS
from pipeline.run_sheet.flags import Range
from pipeline.run_sheet.varied import varied_settings
from schemas.problem import ProblemError
from schemas.study import Study

RESPONSE = "extraction_yield_pct"
MOST_SIMULATIONS = 20_000


@dataclass(frozen=True)
class PowerAsked:
    """What was typed; None where nothing was said."""

    difference: float | None = None
    setting: Range | None = None
    recipes: int = 2
    brews: int | None = None
    coffees: int = 1
    sessions: int = 1
    method: str | None = None
    grinder_id: str | None = None
    response: str | None = None
    spread: float | None = None
    power: float = POWER
    simulations: int = 400
    seed: int = 1


def power_report(facts: pl.DataFrame, study: Study | None, asked: PowerAsked) -> Report:
    """The answer in sentences, as rows and as an object; ProblemError names what is missing."""
    response = asked.response or (study.response if study else RESPONSE)
    difference = asked.difference or (study.difference_that_matters if study else None)
    method = asked.method or (study.method if study else None) or _only_method(facts, needed=asked.spread is None)
    _check(asked, response, difference)
    if asked.setting is None:
        noise = _noise(facts, asked, response, method, ())
        answer = recipes_answer(
            noise, response=response, difference=difference, recipes=asked.recipes, brews=asked.brews, power=asked.power
        )
        return _report(answer, noise, response, difference, asked)
    factor = _factor(asked.setting, study, method)
    facts = _one_grinder(facts, factor, method, asked.grinder_id)
    noise = _noise(facts, asked, response, method, (factor.name,))
    answer = setting_answer(
        factor,
        noise,
        response=response,
        difference=difference or 0.0,
        coffees=asked.coffees,
        sessions=asked.sessions,
        brews=asked.brews,
        power=asked.power,
        simulations=asked.simulations,
        rng=np.random.default_rng(asked.seed),
    )
    so_far = _so_far(facts, factor, noise, response, difference or 0.0, method, asked.power)
    return _report(answer, noise, response, difference, asked, so_far)


def _check(asked: PowerAsked, response: str, difference: float | None) -> None:
    """Refuse what cannot be asked, before anything is worked out."""
    check_asked(response, difference)
    if difference is None and (asked.brews is None or asked.setting is not None):
        raise ProblemError(
            f"Which difference matters? Add --difference D in {difference_unit(response)}, such as --difference 0.5, "
            "or say how many brews there may be with --brews N."
        )
    if not ALPHA < asked.power < 1:
        raise ProblemError(f"The chance of seeing it must lie between {ALPHA:g} and 1, such as 0.8.")
    if asked.setting is None and asked.recipes < 2:
        raise ProblemError(f"It takes two recipes or more to compare, not {asked.recipes}.")
    if asked.setting is not None and min(asked.coffees, asked.sessions) < 1:
        raise ProblemError("Coffees and sessions are counted from 1.")
    if asked.simulations > MOST_SIMULATIONS:
        raise ProblemError(f"{asked.simulations:,} simulations take too long; ask for {MOST_SIMULATIONS:,} or fewer.")


def _only_method(facts: pl.DataFrame, *, needed: bool) -> str:
    methods = sorted(facts["method"].unique().to_list())
    if len(methods) == 1:
        return str(methods[0])
    if not needed:
        return "other"
    there = f"; there are {listed(methods)}" if methods else ""
    raise ProblemError(f"Of which method? Add --method{there}. Or name the brew to brew spread with --spread SD.")


def _factor(typed: Range, study: Study | None, method: str) -> PlanFactor:
    declared = next((one for one in study.factors if one.name == typed.name), None) if study else None
    step = typed.step or (declared.step if declared else None) or SETTABLE.get(typed.name, 1.0)
    step = min(step, typed.high - typed.low) if typed.high > typed.low else step
    factor = PlanFactor(typed.name, typed.low, typed.high, step)
    check_factors([factor], method)
    return factor


def _one_grinder(facts: pl.DataFrame, factor: PlanFactor, method: str, grinder_id: str | None) -> pl.DataFrame:
    """Only the brews on one grinder where the question is about steps of its dial."""
    if factor.name != STEPS:
        return facts
    grinders = facts.filter(pl.col("method") == method)["grinder_id"].drop_nulls().unique().sort().to_list()
    if grinder_id is None and len(grinders) > 1:
        raise ProblemError(
            f"On which grinder? Add --grinder ID: dial steps of two grinders are different units; there are "
            f"{listed(grinders)}."
        )
    if grinder_id is not None and grinder_id not in grinders:
        raise ProblemError(f"Nothing of this method was brewed on grinder {grinder_id}; there is {listed(grinders)}.")
    return facts.filter(pl.col("grinder_id") == grinder_id) if grinder_id else facts


def _noise(facts: pl.DataFrame, asked: PowerAsked, response: str, method: str, slopes: tuple[str, ...]) -> Noise:
    """The spread somebody named, else the lab's own with all that was varied taken out."""
    if asked.spread is not None:
        return given_noise(asked.spread, response)
    return lab_noise(
        facts, response=response, method=method, settings=varied_settings(facts, method, slopes), slopes=slopes
    )


def _so_far(
    facts: pl.DataFrame, factor: PlanFactor, noise: Noise, response: str, difference: float, method: str, power: float
) -> str | None:
    """What the brews made could show, other settings held still; None where there are none."""
    names = [factor.name, *(name for name in varied_settings(facts, method, (factor.name,)) if name != factor.name)]
    mine = facts.filter(pl.col(response).is_not_null() & (pl.col("method") == method) & ~pl.col("is_void"))
    if mine.height < 3 or mine[factor.name].null_count() == mine.height:
        return None
    others = [PlanFactor(name, 0.0, 1.0, 1.0) for name in names[1:]]
    brewed = brewed_rows(mine, [factor, *others], method=method, coffees=mine["coffee_id"].unique().to_list())
    if brewed.height < 3:
        return None
    x = coded_settings(brewed.select(names).to_numpy().astype(np.float64), [factor, *others])
    x = x[:, [True, *(x[:, 1:].std(axis=0) > 0)]]
    layout = Layout(x, codes_of(brewed["coffee_id"].to_list()), codes_of(brewed["session"].to_list()))
    return brewed_sentence(factor, layout, noise, response=response, difference=difference, power=power)


def _report(
    answer: Answer, noise: Noise, response: str, difference: float | None, asked: PowerAsked, so_far: str | None = None
) -> Report:
    said = (*answer.sentences, *([so_far] if so_far else []))
    unit = difference_unit(response)
    simulated = answer.simulated
    share = None if simulated is None else (simulated.share, *simulated.interval(), simulated.n)
    rows = [
        ("brews needed", answer.needed, answer.needed_low, answer.needed_high, "brews", None),
        ("chance of seeing it", answer.chance, None, None, "share", answer.n),
        ("smallest difference seen", answer.smallest, None, None, unit, answer.n),
        ("chance by simulation", *(share[:3] if share else (None,) * 3), "share", share[3] if share else None),
    ]
    kept = [("power", response, *row, noise.said) for row in rows if row[1] is not None]
    data = {
        "response": response,
        "unit": unit,
        "difference": difference,
        "power": asked.power,
        "seed": asked.seed,
        "noise": noise,
        "brew_sd_interval": noise.interval(),
        "answer": answer,
        "simulated_share": share[0] if share else None,
        "simulated_interval": share[1:3] if share else None,
        "sentences": said,
    }
    return Report([Part("", said)], findings(kept), as_data(data))
