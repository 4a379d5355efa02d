"""What was tasted: the three quick scales after a brew, one blind cupping with its key, two difference tests."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from demo_brew import Brewed, Row, fixed
from demo_world import COFFEE, OPERATORS

ATTRIBUTES = (
    ("sweetness", "intensity", "0", "10", "higher", ""),
    ("acidity", "intensity", "0", "10", "", ""),
    ("bitterness", "intensity", "0", "10", "lower", ""),
    ("body", "intensity", "0", "10", "", ""),
    ("overall", "quality", "1", "9", "higher", "quality for its kind, not liking"),
    ("taste_balance", "just_right", "-2", "2", "middle", "too sour to too bitter"),
    ("taste_strength", "just_right", "-2", "2", "middle", "too weak to too strong"),
    ("taste_uneven", "just_right", "0", "1", "lower", "sour and bitter at once"),
)
ROAST_SHIFT = {"light": -1.0, "medium": 0.0, "dark": 1.0}


def attributes() -> list[Row]:
    """The attributes that this lab scores."""
    return [dict(zip(("attribute", "kind", "low", "high", "better", "notes"), row, strict=True)) for row in ATTRIBUTES]


def clipped(value: float, low: float, high: float) -> str:
    """A whole score within the scale."""
    return fixed(min(high, max(low, round(value))), 0)


def quick_scales(brewed: Sequence[Brewed], rng: np.random.Generator) -> list[Row]:
    """The brewer's own three scales for two of three espresso and pour over brews."""
    rows = []
    for brew in brewed:
        true, planned = brew.latent, brew.latent.planned
        if planned.model.method not in ("espresso", "pour_over") or planned.practice or rng.random() < 1 / 3:
            continue
        balance = (true.yield_pct - 20) / 1.6 + 0.4 * ROAST_SHIFT[COFFEE[planned.coffee_id].roast_level]
        usual = 9.8 if planned.model.method == "espresso" else 1.4
        uneven = rng.random() < (0.7 if true.channeling != "none" else 0.08)
        scores = {
            "taste_balance": clipped(balance + float(rng.normal(0, 0.5)), -2, 2),
            "taste_strength": clipped(8 * (true.tds_pct / usual - 1) + float(rng.normal(0, 0.5)), -2, 2),
            "taste_uneven": "1" if uneven else "0",
        }
        rows += [
            {
                "session_id": planned.session_id,
                "brew_id": planned.brew_id,
                "assessor": planned.operator,
                "attribute": attribute,
                "score": score,
                "served_as": "black",
            }
            for attribute, score in scores.items()
        ]
    return rows


def cupping(brewed: Sequence[Brewed], rng: np.random.Generator) -> tuple[list[Row], list[Row]]:
    """A blind cupping of twelve bowls by four assessors: the key (servings) and the scores."""
    bowls = [brew for brew in brewed if brew.latent.planned.model.method == "cupping"]
    codes = [f"{int(code):03d}" for code in rng.choice(np.arange(12, 1000), size=len(bowls), replace=False)]
    session = bowls[0].latent.planned.session_id
    key = [
        {
            "session_id": session,
            "blind_code": code,
            "brew_id": bowl.latent.planned.brew_id,
            "cup_no": str(number),
            "served_as": "black",
        }
        for number, (code, bowl) in enumerate(zip(codes, bowls, strict=True), start=1)
    ]
    leniency = {name: float(rng.normal(0, 0.4)) for name in OPERATORS}
    scores = []
    for assessor in OPERATORS:
        for position, i in enumerate(rng.permutation(len(bowls)), start=1):
            coffee = COFFEE[bowls[i].latent.planned.coffee_id]
            shift = ROAST_SHIFT[coffee.roast_level]
            true = {
                "sweetness": 5.5 + coffee.level,
                "acidity": 5.5 - 1.6 * shift,
                "bitterness": 3.5 + 1.7 * shift,
                "body": 5.0 + 0.8 * shift,
                "overall": 6.0 + 1.2 * coffee.level,
            }
            scores += [
                {
                    "session_id": session,
                    "blind_code": codes[i],
                    "assessor": assessor,
                    "attribute": attribute,
                    "score": clipped(2 * (mean + leniency[assessor] + float(rng.normal(0, 0.6))), 0, 18),
                    "position": str(position),
                    "served_as": "black",
                }
                for attribute, mean in true.items()
            ]
    for row in scores:
        row["score"] = fixed(max(1.0, int(row["score"]) / 2), 1)
    return key, scores


def choices(brewed: Sequence[Brewed], rng: np.random.Generator) -> list[Row]:
    """A triangle test of a clean shot against a channelled one, and a paired test on sweetness."""
    shots = [brew for brew in brewed if brew.latent.planned.model.method == "espresso"]
    clean = next(b for b in shots if b.latent.channeling == "none").latent.planned.brew_id
    channelled = next(b for b in shots if b.latent.channeling == "severe").latent.planned.brew_id
    pair = [b.latent.planned.brew_id for b in brewed if b.latent.planned.model.method == "pour_over"][:2]
    rows = []
    for assessor in OPERATORS:
        for replicate in ("1", "2", "3"):
            shared = {"assessor": assessor, "session_id": "tests-0320", "replicate": replicate}
            orders = ("AAB", "ABA", "BAA", "BBA", "BAB", "ABB")
            triangle = {
                "test_id": "uneven-shot",
                "kind": "triangle",
                "brew_id_a": clean,
                "brew_id_b": channelled,
                "correct": "yes" if rng.random() < 0.7 else "no",
                "serving_order": orders[int(rng.integers(0, 6))],
            }
            paired = {
                "test_id": "sweeter-cone",
                "kind": "paired",
                "brew_id_a": pair[0],
                "brew_id_b": pair[1],
                "chosen_brew_id": pair[int(rng.integers(0, 2))],
                "question": "Which is sweeter?",
                "serving_order": "AB" if rng.random() < 0.5 else "BA",
            }
            rows += [{**triangle, **shared}, {**paired, **shared}]
    return rows
