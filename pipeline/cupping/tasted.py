"""Tastings of a commit with what was in each cup: codes read through the key, brews through their records."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from analysis.sensory.panel.labels import assessor_labels
from pipeline.cupping.scales import RESERVED
from pipeline.store.model import Manifest
from pipeline.store.read import current
from pipeline.store.store import Store
from schemas.lab import LabSettings


@dataclass(frozen=True)
class Tasted:
    """`scores`: the tastings table with brew_id, coffee_id, recipe_id filled in, less `n_void` scores of void brews.

    `attributes`: the attributes table with the reserved scales added; `labels`: what to call each assessor.
    """

    scores: pl.DataFrame
    attributes: pl.DataFrame
    labels: dict[str, str]
    n_void: int


def tasted(store: Store, manifest: Manifest, settings: LabSettings) -> Tasted:
    """Read a commit; labels follow the order in which people first scored, so that later sheets rename nobody."""
    tastings, servings, brews, attributes = (
        current(store, manifest, table).collect() for table in ("tastings", "servings", "brews", "attributes")
    )
    key = servings.select("session_id", "blind_code", "brew_id", "coffee_id", "served_as")
    of_brew = brews.select("brew_id", "coffee_id", "recipe_id", is_void=pl.col("void_reason").is_not_null())
    scores = (
        tastings.join(key, on=["session_id", "blind_code"], how="left", suffix="_key", maintain_order="left")
        .with_columns(pl.coalesce(name, f"{name}_key").alias(name) for name in ("brew_id", "coffee_id", "served_as"))
        .join(of_brew, on="brew_id", how="left", suffix="_brew", maintain_order="left")
        .with_columns(coffee_id=pl.coalesce("coffee_id", "coffee_id_brew"))
    )
    void = pl.col("is_void").fill_null(value=False)
    names = tastings["assessor"].unique(maintain_order=True).to_list()
    return Tasted(
        scores=scores.filter(~void).drop("is_void", "coffee_id_brew", "brew_id_key", "coffee_id_key", "served_as_key"),
        attributes=_with_reserved(attributes.select("attribute", "kind", "low", "high")),
        labels=assessor_labels(names, own=settings.labels),
        n_void=scores.filter(void).height,
    )


def _with_reserved(attributes: pl.DataFrame) -> pl.DataFrame:
    known = set(attributes["attribute"])
    rows = [(name, "intensity", low, high) for name, (low, high, _) in RESERVED.items() if name not in known]
    return pl.concat([attributes, pl.DataFrame(rows, schema=attributes.schema, orient="row")])
