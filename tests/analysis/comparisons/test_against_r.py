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


def test_needed_brews_allow_for_the_other_comparisons() -> None:
    """R: smallest n with power 0.8 of a pair at qtukey(.95, 4, 4(n-1)) / sqrt(2), and at qmvt's for three against one.

    Four sides, 0.5 points, spread 0.8819: 74 (Tukey; at 50, enough for one pair alone, power is 0.60); spread 1.184,
    Dunnett: 115. `wider` are R's quantiles over qt(.975, df) at the 115 and 116 degrees of freedom of a log.
    """
    from analysis.comparisons.compare import brews_needed

    assert brews_needed(0.8819, 0.5, sides=4, wider=1.316128) == 74
    assert brews_needed(1.18398, 0.5, sides=4, wider=1.201614) == pytest.approx(115, abs=1)


def test_four_sides_ask_for_more_brews_than_two() -> None:
    rng = np.random.default_rng(6)
    four = facts(
        extraction_yield_pct=20 + rng.normal(0, 1.0, 48),
        recipe_id=[f"r{k % 4}" for k in range(48)],
        coffee_id=["c"] * 48,
    )
    result = compare_sides(four, CompareRequest("recipe_id", margin=0.5), rng=np.random.default_rng(1))
    # R: qtukey(.95, 4, 44) / sqrt(2) = 2.6700; normal approximation 2 (2.67 + 0.84)^2 (s / 0.5)^2.
    wanted = 2 * (2.67 + 0.8416) ** 2 * (result.spread / 0.5) ** 2
    assert result.differences[0].needed == pytest.approx(wanted, rel=0.08)


def test_a_response_that_stands_still_is_refused_in_plain_words() -> None:
    from schemas.problem import ProblemError

    still = facts(extraction_yield_pct=[20.0] * 8, recipe_id=["a", "b"] * 4, coffee_id=["c"] * 8)
    with pytest.raises(ProblemError, match="is the same in all 8 brews"):
        compare_sides(still, CompareRequest("recipe_id"), rng=np.random.default_rng(1))


def test_sessions_known_in_part_are_said() -> None:
    rng = np.random.default_rng(2)
    some = facts(
        extraction_yield_pct=20 + rng.normal(0, 1.0, 12),
        recipe_id=["a", "b"] * 6,
        coffee_id=["c"] * 12,
        session_id=["s1"] * 5 + ["s2"] * 4 + [None] * 3,
    )
    notes = compare_sides(some, CompareRequest("recipe_id"), rng=np.random.default_rng(1)).notes
    assert "The session is known for only 9 of 12 brews: its levels are not modelled." in notes
