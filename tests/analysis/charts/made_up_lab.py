"""An invented lab's facts, flags, set-aside rows and effects, for tests of charts and pages."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

import numpy as np
import polars as pl

from analysis.charts.effects_input import MethodEffects
from analysis.next_brews.result import NextBrews, NextRow
from schemas.columns import COLUMNS
from schemas.dtypes import DTYPE_OF_KIND
from schemas.methods import BALANCE_OF_METHOD
from schemas.reports import EFFECT_COLUMNS, FACT_COLUMNS, FLAG_COLUMNS, SET_ASIDE_COLUMNS

RECIPES = {
    # method: dose g, water g per g dose, retained g per g dose, expected yield %, temperature C
    "espresso": (18.0, 3.1, 1.1, 19.5, 93.0),
    "pour_over": (16.0, 16.0, 2.0, 20.5, 94.0),
    "batch_brew": (60.0, 16.5, 2.1, 20.0, 93.0),
    "immersion": (15.0, 15.0, 2.2, 21.5, 95.0),
    "moka": (17.0, 8.0, 1.6, 18.5, 99.0),
}
COFFEES = ("Quiet Hill", "Tin Roof", "Long Meadow", "Half Moon", "Two Wells", "Grey Heron", "Salt Road", "Old Orchard")
OPERATORS = ("Ines", "Jonas", "Mirek", "Tala")
FACT_TYPES = {name: DTYPE_OF_KIND[COLUMNS[name].kind] for name in FACT_COLUMNS}


@dataclass(frozen=True)
class FakeEffects:
    """Stands in for an effects result."""

    table: pl.DataFrame
    sentences: tuple[str, ...]
    residuals: pl.DataFrame
    notes: tuple[str, ...] = ()
    sigma: float = 0.5


def made_up_facts(
    *,
    n_brews: int = 300,
    coffees: tuple[str, ...] = COFFEES[:6],
    methods: tuple[str, ...] = tuple(RECIPES),
    channeled_share: float = 0.15,
    with_yields: bool = True,
    seed: int = 20260403,
) -> pl.DataFrame:
    """`brew_facts` of an invented lab, in order of time."""
    rng = np.random.default_rng(seed)
    weights = 1 / np.arange(1, len(methods) + 1)
    start = datetime(2026, 3, 2, 8, tzinfo=UTC)
    rows = []
    for k in range(n_brews):
        method = str(rng.choice(methods, p=weights / weights.sum()))
        rows.append(_brew(k, method, coffees, channeled_share, with_yields, start, rng, n_brews))
    return pl.DataFrame(rows, schema=FACT_TYPES)


def _brew(k, method, coffees, channeled_share, with_yields, start, rng, n_brews):
    dose, ratio, kept, expected, temp = RECIPES[method]
    which = int(rng.integers(len(coffees)))
    at = start + timedelta(minutes=int(k * 46 * 1440 / max(n_brews, 46)) + int(rng.integers(30)))
    dose_g = round(dose + rng.normal(0, 0.1), 1)
    water_ratio = ratio + rng.normal(0, 0.06 * ratio)
    water_g = round(dose_g * water_ratio, 1)
    looked = method in ("espresso", "pour_over", "moka") and rng.random() > 0.08
    channeled = bool(rng.random() < channeled_share) if looked else None
    steps = float(rng.integers(-3, 4))
    y = expected + 0.35 * (which - 2) + 0.4 * steps + (-2.2 if channeled else 0.0) + rng.normal(0, 0.5)
    beverage_g = round(water_g - kept * dose_g, 1)
    share = y / 100
    balance = BALANCE_OF_METHOD[method]
    tds = 100 * share * dose_g / beverage_g
    if balance == "immersion":
        tds = 100 * share / (water_g / dose_g + share)
    has_yield = with_yields and rng.random() > 0.03
    n = int(rng.integers(2, 4)) if has_yield else 0
    row = dict.fromkeys(FACT_COLUMNS)
    row |= {
        "brew_id": f"b-{k + 1:04d}",
        "recipe_id": f"{method}-house",
        "brewed_at": at,
        "operator": OPERATORS[int(rng.integers(4))],
        "coffee_id": f"C{which + 1:02d}",
        "coffee_name": coffees[which],
        "method": method,
        "grinder_id": "G1" if method == "espresso" else "G2",
        "grind_setting": f"{12 - steps / 2:g}",
        "dose_g": dose_g,
        "water_g": water_g,
        "beverage_g": beverage_g,
        "water_temp_c": round(temp + rng.normal(0, 1.5), 1),
        "brew_time_s": round(float(rng.normal(28, 3)), 0) if method == "espresso" else 180.0,
        "pressure_bar": 9.0 if method == "espresso" else None,
        "channeling": None if channeled is None else ("slight" if channeled else "none"),
        "brewed_on": at.date(),
        "brewed_at_is_date": False,
        "n_readings": n,
        "tds_pct": round(tds, 3) if n else None,
        "tds_sd_pct": 0.01 if n else None,
        "tds_u_pct": round(0.006 + 0.004 * tds, 4) if n else None,
        "cup_tds_pct": round(tds, 3) if n else None,
        "dissolved_g": share * dose_g if n else None,
        "extraction_yield_pct": round(y, 3) if n else None,
        "extraction_yield_u_pct": 0.25 if n else None,
        "u_note": "" if method != "moka" else "the weighing scale is not named",
        "balance_used": balance,
        "water_ratio": water_g / dose_g,
        "beverage_ratio": beverage_g / dose_g,
        "grind_steps_finer": steps,
        "channeled": channeled,
        "is_void": k % 97 == 50,
        "void_reason": "dose typed for another shot" if k % 97 == 50 else None,
        "source_file": "brews.csv",
        "line": k + 2,
    }
    return row


def made_up_flags(facts: pl.DataFrame) -> pl.DataFrame:
    """Flags on every fortieth brew."""
    rows = [
        {
            **dict.fromkeys(FLAG_COLUMNS),
            "source_file": "brews.csv",
            "line": row["line"],
            "table": "brews",
            "column": "water_temp_c",
            "value": "98.5",
            "rule": "above_boiling",
            "message": "water_temp_c 98.5 is above boiling at this altitude.",
            "fix": "Check the thermometer and the unit.",
            "brew_id": row["brew_id"],
        }
        for row in facts.gather_every(40).iter_rows(named=True)
    ]
    return pl.DataFrame(rows, schema={n: DTYPE_OF_KIND[COLUMNS[n].kind] for n in FLAG_COLUMNS})


def made_up_set_aside(n: int = 3, *, value: str = "eighteen") -> pl.DataFrame:
    """Rows set aside because the dose is no number."""
    rows = [
        {
            "source_file": "march log.xlsx",
            "sheet": "Brews",
            "line": 12 + k,
            "table": "brews",
            "column": "dose_g",
            "value": value,
            "rule": "not_a_number",
            "message": f"dose_g should be a number, not {value}.",
            "fix": "Write digits only, in g.",
            "row_json": "{}",
        }
        for k in range(n)
    ]
    return pl.DataFrame(rows, schema={n: DTYPE_OF_KIND[COLUMNS[n].kind] for n in SET_ASIDE_COLUMNS})


TERMS = (
    ("intercept", "", 1.0, "", 19.8, 0.2),
    ("grind_steps_finer", "points", 1.0, "1 step", 0.41, 0.05),
    ("water_temp_c", "points", 1.0, "1 C", 0.06, 0.07),
    ("beverage_ratio", "points", 0.1, "0.1 g/g", 0.12, 0.09),
    ("channeled", "points", 1.0, "yes against no", -2.1, 0.3),
)


def made_up_effects(facts: pl.DataFrame, method: str) -> MethodEffects:
    """Invented estimates, and residuals about the mean of each coffee."""
    brews = facts.filter(pl.col("method") == method, pl.col("extraction_yield_pct").is_not_null(), ~pl.col("is_void"))
    if brews.height < 12:
        return MethodEffects(method, refusal="12 brews are needed and there are fewer; brew more of them.")
    n_coffees = brews["coffee_id"].n_unique()
    rows = [
        dict(
            zip(
                EFFECT_COLUMNS,
                (
                    "extraction_yield_pct", term, unit, step, per, est, se, 40.0, est - 2 * se, est + 2 * se,
                    0.0004 if abs(est) > 2 * se else 0.3, brews.height, n_coffees,
                    "mixed model with a level per coffee, REML", f"2 of {brews.height + 2} brews left out: 1 void",
                    None,
                ),
                strict=True,
            )
        )
        for term, unit, step, per, est, se in TERMS
    ]  # fmt: skip
    y = pl.col("extraction_yield_pct")
    mean = y.mean().over("coffee_id") + 0.4 * pl.col("grind_steps_finer")
    residuals = brews.select("brew_id", mean.alias("fitted"), (y - mean).alias("residual"))
    sentences = (
        f"at the factors' means: 19.80 %, 95 % interval 19.40 to 20.20, {brews.height} brews of {n_coffees} coffees",
        f"one step finer: +0.41 points, 95 % interval 0.31 to 0.51, {brews.height} brews of {n_coffees} coffees",
        "1 C hotter: +0.06 points, 95 % interval -0.08 to 0.20",
        "0.1 g/g more beverage per dose: +0.12 points, 95 % interval -0.06 to 0.30",
        "channeled against clean: -2.10 points, 95 % interval -2.70 to -1.50",
    )
    table = pl.DataFrame(rows, schema={n: DTYPE_OF_KIND[COLUMNS[n].kind] for n in EFFECT_COLUMNS})
    return MethodEffects(method, FakeEffects(table, sentences, residuals))


def made_up_next() -> NextBrews:
    """What to brew next, invented."""
    row = NextRow(
        "espresso", "Grind: -2 steps against +2 steps", "16 brews, half at each", "its direction is open", "it"
    )
    return NextBrews("Brew espresso next: 16 brews. Why: the direction of grind is open.", (row,), is_blocked=False)


def made_up_targets() -> pl.DataFrame:
    """A target of the lab's own for espresso as a whole, and one that is narrower than a panel."""
    base = {"coffee_id": None, "recipe_id": None, "site": None, "valid_from": date(2026, 1, 1), "valid_to": None}
    rows = [
        {
            "target_id": "T1",
            "method": "espresso",
            "quantity": "extraction_yield_pct",
            "low": 18.5,
            "high": 20.5,
            **base,
        },
        {"target_id": "T2", "method": "espresso", "quantity": "tds_pct", "low": 8.5, "high": 10.5, **base},
        {
            "target_id": "T3",
            "method": "moka",
            "quantity": "tds_pct",
            "low": 3.0,
            "high": 4.0,
            **base,
            "coffee_id": "C01",
        },
    ]
    return pl.DataFrame(rows, infer_schema_length=None)


def repeated(facts: pl.DataFrame, *, times: int) -> pl.DataFrame:
    """The same brews over and over under other ids, in order of time."""
    copies = [facts.with_columns(pl.col("brew_id") + f"-{k}") for k in range(times)]
    return pl.concat(copies).sort("brewed_at", maintain_order=True)
