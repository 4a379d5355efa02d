"""Comparisons against emmeans and multcomp: tests/reference/comparisons."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import polars as pl
import pytest

from analysis.comparisons.compare import ComparisonResult, compare_sides
from analysis.comparisons.request import CompareRequest
from schemas.columns import COLUMNS
from schemas.dtypes import frame_schema
from schemas.reports import FACT_COLUMNS

FOLDER = Path(__file__).parents[2] / "reference" / "comparisons"
EMPTY = pl.DataFrame(schema=frame_schema([COLUMNS[name] for name in FACT_COLUMNS]))


def facts(**columns: object) -> pl.DataFrame:
    known = pl.DataFrame(columns).with_columns(method=pl.lit("other"), is_void=pl.lit(False))
    return pl.concat([EMPTY, known], how="diagonal_relaxed")


def warp() -> pl.DataFrame:
    read = pl.read_csv(FOLDER / "warpbreaks.csv")
    return facts(extraction_yield_pct=read["breaks"], recipe_id=read["tension"], coffee_id=read["wool"])


def stool() -> pl.DataFrame:
    read = pl.read_csv(FOLDER / "ergo_stool.csv")
    return facts(extraction_yield_pct=read["effort"], recipe_id=read["Type"], session_id=read["Subject"]).with_columns(
        coffee_id=pl.lit("one")
    )


def expected(case: str) -> dict[str, dict[str, float]]:
    rows = pl.read_csv(FOLDER / "expected.csv").filter(pl.col("case") == case)
    return {row["pair"]: row for row in rows.iter_rows(named=True)}


def agree(result: ComparisonResult, case: str, *, p_abs: float) -> None:
    by_pair = {f"{one.side}-{one.against}": one for one in result.differences}
    wanted = expected(case)
    assert set(by_pair) == set(wanted)
    for pair, row in wanted.items():
        one = by_pair[pair]
        assert one.estimate == pytest.approx(row["estimate"], rel=1e-6), pair
        assert one.std_error == pytest.approx(row["std_error"], rel=1e-6), pair
        assert one.df == pytest.approx(row["df"], rel=1e-4), pair
        assert one.p_value == pytest.approx(row["p_value"], abs=p_abs), pair
        width = row["high"] - row["low"]
        assert one.low == pytest.approx(row["low"], abs=1e-3 * width), pair
        assert one.high == pytest.approx(row["high"], abs=1e-3 * width), pair
        assert one.alike_p == pytest.approx(row["alike_p"], abs=1e-5), pair


def test_all_pairs_beside_blocks_are_tukeys() -> None:
    request = CompareRequest("recipe_id", levels=("L", "M", "H"), margin=15)
    agree(compare_sides(warp(), request, rng=np.random.default_rng(1)), "warp_tukey", p_abs=1e-4)


def test_each_against_one_is_dunnetts() -> None:
    request = CompareRequest("recipe_id", levels=("L", "M", "H"), against="L", margin=15)
    agree(compare_sides(warp(), request, rng=np.random.default_rng(1)), "warp_dunnett", p_abs=5e-4)


def test_sessions_at_random_have_satterthwaites_degrees_of_freedom() -> None:
    request = CompareRequest("recipe_id", margin=2)
    agree(compare_sides(stool(), request, rng=np.random.default_rng(1)), "stool_tukey", p_abs=1e-4)


def test_needed_brews_are_cohens() -> None:
    # Cohen (1988), two-sided 0.05, power 0.80: d 0.5 takes 64 a group, 0.8 takes 26, 0.2 takes 394 (393.4 rounded up).
    from analysis.comparisons.compare import brews_needed

    assert [brews_needed(1.0, d) for d in (0.8, 0.5)] == [26, 64]
    found = brews_needed(1.0, 0.2)
    assert found is not None
    assert 394 <= found <= 394 * 1.05
