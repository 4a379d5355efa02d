"""Scores as the panel's arithmetic wants them: codes for who, what, when and which brew, attribute by attribute."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import polars as pl

from analysis.known_names import check_known
from analysis.mixed.arrays import Floats, Ints
from analysis.sensory.panel.gaps import Gaps, count_gaps
from analysis.sensory.panel.products import Products, name_products
from analysis.sensory.panel.request import PanelRequest, ProductKind
from analysis.words import count
from schemas.problem import ProblemError

TEXTS = ("session_id", "brew_id", "coffee_id", "recipe_id", "served_as", "assessor", "attribute")
OPINIONS = ("liking", "just_right")
"""Kinds of scale on which nobody is right or wrong."""
APART = "\x1f"


@dataclass(frozen=True)
class Scores:
    """The n scores of one attribute: codes (n,) shared by all attributes of the panel.

    `point`: what several palates tasted alike, a product in a session, and a brew of it where brews were shared.
    `brew`: the brew itself, where it is known. `position`: place in the serving order, NaN where it is not known.
    `low`, `high`: ends of the scale: declared, else the lowest and highest score given. `kind`: of scale.
    """

    attribute: str
    kind: str
    y: Floats
    assessor: Ints
    product: Ints
    session: Ints
    point: Ints
    brew: Ints
    position: Floats
    low: float
    high: float
    declared: bool

    @property
    def is_opinion(self) -> bool:
        """Liking or "just right": opinions of this panel, never right or wrong."""
        return self.kind in OPINIONS

    @property
    def is_yes_no(self) -> bool:
        """Whether there are only zeros and ones."""
        return bool(np.isin(self.y, (0.0, 1.0)).all()) and (self.high - self.low <= 1 or not self.declared)

    def take(self, rows: Ints) -> Scores:
        """Some of the rows."""
        parts = {name: getattr(self, name)[rows] for name in CODED}
        return Scores(self.attribute, self.kind, low=self.low, high=self.high, declared=self.declared, **parts)


CODED = ("y", "assessor", "product", "session", "point", "brew", "position")


@dataclass(frozen=True)
class PanelRows:
    """The scores of a panel by attribute, what the codes stand for, what is missing, and what was left out."""

    scores: Mapping[str, Scores]
    assessors: tuple[str, ...]
    products: tuple[str, ...]
    sessions: tuple[str, ...]
    kind: ProductKind
    own_shots: bool
    product_said: str
    gaps: Gaps
    left_out: tuple[str, ...]


def panel_rows(tastings: pl.DataFrame, request: PanelRequest, *, attributes: pl.DataFrame | None = None) -> PanelRows:
    """Choose and code the rows of `tastings`; ProblemError where nothing is left.

    Columns: assessor, attribute, score; session_id, brew_id, coffee_id, recipe_id, served_as, replicate, position where
    there are any. `attributes` has attribute, kind, low, high.
    """
    chosen = _choose(_complete(tastings), request)
    scored = chosen.filter(pl.col("score").is_not_null() & pl.col("score").is_finite())
    if scored.is_empty():
        raise ProblemError(f"{count(chosen.height, 'tasting')} of the choice, but not one score: nothing to judge.")
    named = name_products(scored, request.product)
    frame = _coded(named)
    names = {
        name: tuple(frame[name].unique(maintain_order=True) if name == "assessor" else sorted(frame[name].unique()))
        for name in ("assessor", "product", "session")
    }
    coded = frame.with_columns(
        pl.col(name).replace_strict({one: k for k, one in enumerate(of)}, return_dtype=pl.Int64).alias(name)
        for name, of in names.items()
    )
    scales = {row["attribute"]: row for row in attributes.iter_rows(named=True)} if attributes is not None else {}
    order = request.attributes or tuple(coded["attribute"].unique(maintain_order=True))
    return PanelRows(
        scores={name: _scores(coded.filter(attribute=name), name, scales.get(name, {})) for name in order},
        assessors=names["assessor"],
        products=names["product"],
        sessions=names["session"],
        kind=named.kind,
        own_shots=named.own_shots,
        product_said=named.said,
        gaps=count_gaps(coded),
        left_out=_left_out(named, chosen.height - scored.height),
    )


def _complete(tastings: pl.DataFrame) -> pl.DataFrame:
    """All columns there, missing ones null."""
    absent = {name: pl.String() for name in TEXTS} | {"position": pl.Int64(), "replicate": pl.Int64()}
    return tastings.with_columns(
        pl.lit(None, dtype=kind).alias(name) for name, kind in absent.items() if name not in tastings.columns
    ).with_columns(pl.col("score").cast(pl.Float64))


def _choose(tastings: pl.DataFrame, request: PanelRequest) -> pl.DataFrame:
    for column, what, wanted in (
        ("session_id", "session", request.sessions),
        ("attribute", "scored attribute", request.attributes),
    ):
        known = sorted(tastings[column].drop_nulls().unique())
        for name in wanted:
            check_known(what, name, known)
        if wanted:
            tastings = tastings.filter(pl.col(column).is_in(wanted))
    if tastings.is_empty():
        raise ProblemError("There are no tastings of this choice. Ingest score sheets first, or choose other sessions.")
    return tastings


def _coded(named: Products) -> pl.DataFrame:
    """With `session`, `point` and `brew` in words and codes."""
    frame = named.frame.with_columns(session=pl.col("session_id").fill_null(""))
    shared = named.kind != "brew" and not named.own_shots
    brew = pl.col("brew_id").fill_null("")
    point = [pl.col("product"), pl.col("session"), *([brew] if shared else [])]
    return frame.with_columns(
        point=pl.concat_str(point, separator=APART).rank("dense").cast(pl.Int64) - 1,
        brew=pl.concat_str(pl.col("product"), pl.col("session"), brew, separator=APART).rank("dense").cast(pl.Int64)
        - 1,
    )


def _scores(rows: pl.DataFrame, name: str, scale: Mapping[str, object]) -> Scores:
    y = rows["score"].to_numpy()
    ends = scale.get("low"), scale.get("high")
    declared = all(isinstance(end, int | float) for end in ends)
    return Scores(
        attribute=name,
        kind=str(scale.get("kind") or "intensity"),
        y=y,
        position=rows["position"].cast(pl.Float64).fill_null(float("nan")).to_numpy(),
        low=float(str(ends[0])) if declared else float(y.min()),
        high=float(str(ends[1])) if declared else float(y.max()),
        declared=declared,
        **{code: rows[code].to_numpy() for code in ("assessor", "product", "session", "point", "brew")},
    )


def _left_out(named: Products, unscored: int) -> tuple[str, ...]:
    said = []
    if unscored:
        said.append(f"{count(unscored, 'row')} without a score")
    if named.n_without:
        said.append(f"{count(named.n_without, 'score')} of cups whose {named.kind} is not known")
    return tuple(said)
