"""What a comparison says and refuses, on brews made with known differences."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from analysis.comparisons.compare import ComparisonResult, compare_sides
from analysis.comparisons.request import CompareRequest
from analysis.comparisons.words import comparison_sentences
from schemas.columns import COLUMNS
from schemas.dtypes import frame_schema
from schemas.problem import ProblemError
from schemas.reports import FACT_COLUMNS

EMPTY = pl.DataFrame(schema=frame_schema([COLUMNS[name] for name in FACT_COLUMNS]))


def brewed(levels: dict[str, float], *, coffees: int, each: int, sd: float, seed: int = 1) -> pl.DataFrame:
    """`each` espressos per grinder and coffee, grinder and coffee adding to 19 %."""
    rng = np.random.default_rng(seed)
    rows = [
        {
            "grinder_id": name,
            "coffee_id": f"c-{coffee}",
            "extraction_yield_pct": 19 + shift + coffee + rng.normal(0, sd),
        }
        for name, shift in levels.items()
        for coffee in range(coffees)
        for _ in range(each)
    ]
    known = pl.DataFrame(rows).with_columns(method=pl.lit("espresso"), is_void=pl.lit(False))
    return pl.concat([EMPTY, known], how="diagonal_relaxed")


def compared(frame: pl.DataFrame, **asked: object) -> ComparisonResult:
    return compare_sides(frame, CompareRequest("grinder_id", **asked), rng=np.random.default_rng(1))  # type: ignore[arg-type]


def said(frame: pl.DataFrame, **asked: object) -> str:
    return " ".join(comparison_sentences(compared(frame, **asked)))


def test_no_difference_larger_than_what_matters_is_an_answer() -> None:
    text = said(brewed({"g-1": 0.0, "g-2": 0.0}, coffees=2, each=40, sd=0.4), margin=0.5)
    assert "no difference larger than 0.5 points" in text
    assert "for these coffees" in text


def test_few_noisy_brews_are_left_open_with_the_number_that_would_settle_it() -> None:
    result = compared(brewed({"g-1": 0.0, "g-2": 0.0}, coffees=1, each=4, sd=1.0), margin=0.5)
    text = " ".join(comparison_sentences(result))
    assert "open: these brews settle neither a difference nor that it is smaller than 0.5 points" in text
    assert f"about {result.differences[0].needed} brews a side" in text
    assert "no difference" not in text


def test_a_large_difference_is_said_with_its_size() -> None:
    text = said(brewed({"g-1": 0.0, "g-2": 3.0}, coffees=2, each=20, sd=0.4), margin=0.5)
    assert "they differ, and by more than the 0.5 points that matter" in text


def test_a_small_sure_difference_may_not_matter() -> None:
    text = said(brewed({"g-1": 0.0, "g-2": 0.25}, coffees=2, each=80, sd=0.3), margin=0.5)
    assert "they differ, but by less than the 0.5 points that matter" in text


def test_six_coffees_speak_for_coffees_like_these() -> None:
    assert compared(brewed({"g-1": 0.0, "g-2": 1.0}, coffees=6, each=4, sd=0.4)).scope == "for coffees like these"


def test_names_keep_their_letters() -> None:
    text = said(brewed({"alpha": 0.0, "beta": 1.0}, coffees=1, each=6, sd=0.4))
    assert "Grinder beta against alpha" in text


def test_settings_that_moved_with_the_sides_are_named() -> None:
    frame = brewed({"g-1": 0.0, "g-2": 1.0}, coffees=1, each=12, sd=0.4)
    ratio = pl.when(pl.col("grinder_id") == "g-1").then(2.0).otherwise(2.4) + 0.01 * pl.int_range(pl.len())
    text = said(frame.with_columns(beverage_ratio=ratio))
    assert "also differ in beverage ratio" in text
    assert "--hold beverage_ratio" in text


def test_unlike_scatter_is_named() -> None:
    quiet, loud = (brewed({name: 0.0}, coffees=1, each=30, sd=sd) for name, sd in (("g-1", 0.2), ("g-2", 1.5)))
    assert "g-2 scatter more than on g-1" in said(pl.concat([quiet, loud]))


@pytest.mark.parametrize(
    ("frame", "asked", "words"),
    [
        (EMPTY, {}, "There are no brews yet"),
        (brewed({"g-1": 0.0}, coffees=1, each=9, sd=1.0), {}, "takes two grinders brewed at least twice"),
        (brewed({"g-1": 0.0, "g-2": 0.0}, coffees=1, each=1, sd=1.0), {}, r"g-1 \(1 brew\), g-2 \(1 brew\)"),
        (brewed({"g-1": 0.0, "g-2": 0.0}, coffees=1, each=4, sd=0.0), {}, "is the same in all 8 brews"),
        (brewed({"g-1": 0.0, "g-2": 0.0}, coffees=1, each=4, sd=1.0), {"levels": ("g-1", "g-3")}, "did you mean"),
        (brewed({"g-1": 0.0, "g-2": 0.0}, coffees=1, each=4, sd=1.0), {"margin": 0.0}, "must be above zero"),
        (brewed({"g-1": 0.0, "g-2": 0.0}, coffees=1, each=4, sd=1.0), {"method": "moka"}, "No brew is of the method"),
        (brewed({"g-1": 0.0, "g-2": 0.0}, coffees=1, each=4, sd=1.0), {"levels": ("g-1",)}, "compared with itself"),
    ],
)
def test_what_cannot_be_compared_is_refused_in_words(frame: pl.DataFrame, asked: dict[str, object], words: str) -> None:
    with pytest.raises(ProblemError, match=words):
        compared(frame, **asked)


def test_sides_on_coffees_of_their_own_cannot_be_told_from_the_coffees() -> None:
    apart = brewed({"g-1": 0.0, "g-2": 0.0}, coffees=2, each=4, sd=1.0).filter(
        (pl.col("grinder_id") == "g-1") == (pl.col("coffee_id") == "c-0")
    )
    with pytest.raises(ProblemError, match="grinder g-2 and g-1 were never brewed on the same coffee"):
        compared(apart)


def test_two_methods_are_not_pooled() -> None:
    frame = brewed({"g-1": 0.0, "g-2": 0.0}, coffees=1, each=4, sd=1.0)
    both = pl.concat([frame, frame.with_columns(method=pl.lit("moka"))])
    with pytest.raises(ProblemError, match="methods are not pooled"):
        compared(both)
