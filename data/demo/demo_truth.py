"""The truth table: what the effects of the demo lab really are, in the units of the `effects` table."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from statistics import fmean

from demo_brew import Bench, Brewed
from demo_plant import Plant
from demo_world import (
    BATCH_BREW,
    COFFEES,
    ESPRESSO,
    GRINDER,
    IMMERSION,
    LOTS,
    MODELS,
    OPERATOR_LEVEL,
    POUR_OVER,
    SEED,
    SESSION_SD,
    Model,
    grind_unit_per_step,
)

ABOUT = (
    "The demo lab is invented. Every number under effects is what the generator put in; an estimate may differ from "
    "it by chance only. Points are percentage points of extraction yield. Slopes are at the means of the brews that "
    "the request uses, as in the effects table."
)


@dataclass(frozen=True)
class Request:
    """One question to the effects table: which brews, which factors, and whether grind may bend."""

    name: str
    model: Model
    grind_column: str
    where: dict[str, str]
    watched: bool
    curved: bool


REQUESTS = (
    Request("espresso, both grinders, in micrometres", ESPRESSO, "grind_um_finer", {}, True, True),
    Request("espresso, both grinders, each on its dial", ESPRESSO, "grind_steps_finer", {}, True, True),
    Request("espresso on plover, in dial steps", ESPRESSO, "grind_steps_finer", {"grinder_id": "plover"}, True, True),
    Request("espresso on curlew, in dial steps", ESPRESSO, "grind_steps_finer", {"grinder_id": "curlew"}, True, True),
    Request("espresso of one coffee", ESPRESSO, "grind_um_finer", {"coffee_id": "calmuth"}, True, True),
    Request("pour over", POUR_OVER, "grind_steps_finer", {}, True, True),
    Request("batch brew", BATCH_BREW, "grind_steps_finer", {}, False, True),
    Request("immersion", IMMERSION, "grind_steps_finer", {}, False, False),
)


def grind_of(brewed: Brewed, column: str) -> float:
    """The brew's grind in the unit of this column: um or dial steps finer."""
    planned = brewed.latent.planned
    per_step = GRINDER[planned.grinder_id].step_um if column == "grind_um_finer" else 1.0
    return planned.steps_finer * (per_step or 1.0)


def used(request: Request, brewed: Sequence[Brewed], void: frozenset[str]) -> list[Brewed]:
    """The brews that answer a request: right method and kit, not void, and the flow looked at where it counts."""
    return [
        brew
        for brew in brewed
        if brew.latent.planned.model is request.model
        and all(brew.row[column] == value for column, value in request.where.items())
        and brew.latent.planned.brew_id not in void
        and (brew.looked or not request.watched)
    ]


def grind_terms(request: Request, brews: Sequence[Brewed], grinder: str) -> list[dict[str, object]]:
    """Slope at the mean and curve of grind in the request's unit; `grinder` names the dial they belong to."""
    model, scale = request.model, 1.0
    if request.grind_column == "grind_steps_finer":
        scale = grind_unit_per_step(model, GRINDER[brews[0].latent.planned.grinder_id])
    mean = fmean(grind_of(brew, request.grind_column) for brew in brews)
    slope, curve = model.grind * scale, model.grind_curve * scale**2
    terms = [{"term": request.grind_column, "grinder": grinder, "step": 1.0, "truth": slope + 2 * curve * mean}]
    if request.curved:
        terms.append({"term": f"{request.grind_column}^2", "grinder": grinder, "step": 1.0, "truth": curve})
    return terms


def effects_of(request: Request, brewed: Sequence[Brewed], void: frozenset[str]) -> dict[str, object]:
    """The true terms of one request, each per the step that the effects table states."""
    model, brews = request.model, used(request, brewed, void)
    grinders = sorted({brew.latent.planned.grinder_id for brew in brews})
    if request.grind_column == "grind_um_finer" or len(grinders) == 1:
        terms = grind_terms(request, brews, "")
    else:
        on = {name: [brew for brew in brews if brew.latent.planned.grinder_id == name] for name in grinders}
        terms = [term for name in grinders for term in grind_terms(request, on[name], name)]
    ratio_step = 0.1 if model.ratio_column == "beverage_ratio" else 1.0
    plain = [("water_temp_c", 1.0, model.temp), (model.ratio_column, ratio_step, model.ratio * ratio_step)]
    if request.watched:
        seen = [brew.latent.channeling_points for brew in brews if brew.latent.channeling != "none"]
        plain.append(("channeled", 1.0, fmean(seen)))
    terms += [{"term": name, "grinder": "", "step": step, "truth": truth} for name, step, truth in plain]
    return {
        "name": request.name,
        "response": "extraction_yield_pct",
        "method": model.method,
        "where": request.where,
        "factors": [request.grind_column, *(name for name, _, _ in plain)],
        "curves": [request.grind_column] if request.curved else [],
        "n_brews": len(brews),
        "terms": [{**term, "truth": round(float(str(term["truth"])), 6)} for term in terms],
    }


def truth_table(
    brewed: Sequence[Brewed],
    void: frozenset[str],
    bench: Bench,
    plants: Sequence[Plant],
    where: dict[int, tuple[str, str, int]],
    extra: dict[str, object],
    of_gauge_study: Counter[str],
) -> dict[str, object]:
    """Everything that is known because it was made up; `of_gauge_study` counts that study's own brews by method."""
    by_method = Counter(brew.latent.planned.model.method for brew in brewed)
    models = {
        name: {key: value for key, value in asdict(model).items() if key not in ("method", "coffees", "references")}
        for name, model in MODELS.items()
    }
    return {
        "about": ABOUT,
        "seed": SEED,
        "brews_by_method": dict(sorted((by_method + of_gauge_study).items())),
        "effects": [effects_of(request, brewed, void) for request in REQUESTS],
        "models": models,
        "coffee_level_points": {coffee.coffee_id: coffee.level for coffee in COFFEES},
        "lot_level_points": {lot.lot_id: lot.level for lot in LOTS},
        "operator_level_points": OPERATOR_LEVEL,
        "session_sd_points": SESSION_SD,
        "instrument_bias": {name: round(bias, 6) for name, bias in sorted(bench.bias.items())},
        "lens_2_drift_pct_per_week": 0.005,
        **extra,
        "planted": [planted(plant, *where[id(plant.row)]) for plant in plants],
    }


def planted(plant: Plant, file: str, sheet: str, line: int) -> dict[str, object]:
    """One planted fault with the place where it came to stand and the text that stands there."""
    columns = {"dose_g": "Dose (g)"} if "Dose (g)" in plant.row else {}
    value = plant.row.get(columns.get(plant.column, plant.column), "")
    return {
        "file": file,
        "sheet": sheet,
        "line": line,
        "brew_id": plant.row.get("brew_id", ""),
        "column": plant.column,
        "value": value,
        "rule": plant.rule,
        "severity": plant.severity,
        "note": plant.note,
    }
