"""The demo lab's study speaks of what the demo lab has."""

from __future__ import annotations

import json
from pathlib import Path

import polars as pl

from pipeline.study.read import read_studies

DEMO = Path(__file__).parents[3] / "data" / "demo"


def test_the_demo_declares_its_espresso_trial() -> None:
    (study,) = read_studies(DEMO / "lab")
    truth = json.loads((DEMO / "truth.json").read_text())["effects"]
    coffees = pl.read_csv(DEMO / "files" / "coffees.csv")["coffee_id"].to_list()

    assert study.study_id == "espresso-map"
    assert set(study.coffees) <= set(coffees)
    asked = next(one for one in truth if one["name"] == "espresso, both grinders, in micrometres")
    assert [*study.factor_names, "channeled"] == asked["factors"]
    assert list(study.curves) == asked["curves"]
