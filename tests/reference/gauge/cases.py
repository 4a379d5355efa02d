"""The reference cases of gauge studies, as the tests read them."""

from __future__ import annotations

from pathlib import Path

import polars as pl

HERE = Path(__file__).parent
AIAG_GAPS = (1, 8, 14, 15, 22, 37, 38, 39, 50, 61, 77, 90)


def aiag() -> pl.DataFrame:
    """The published study, row by row."""
    lines = (HERE / "aiag.csv").read_text().split()
    rows = [
        (f"p{part:02}", "ABC"[place // 3], float(cell))
        for part, line in enumerate(lines, start=1)
        for place, cell in enumerate(line.split(","))
    ]
    return pl.DataFrame(rows, schema=["brew_id", "operator", "tds_pct"], orient="row")


def case_frame(case: str) -> pl.DataFrame:
    """Readings of a case of `generate.R` as a gauge study takes them."""
    if case == "aiag":
        return aiag()
    if case == "aiag_gaps":
        return aiag().with_row_index("no", offset=1).filter(~pl.col("no").is_in(AIAG_GAPS)).drop("no")
    rows = pl.read_csv(HERE / "inputs.csv", schema_overrides={"brew": pl.String, "reader": pl.String})
    return rows.filter(case=case).select(brew_id="brew", operator="reader", tds_pct="tds_pct")


def expected(case: str, quantity: str) -> dict[str, float]:
    """R's numbers by term."""
    rows = pl.read_csv(HERE / "expected.csv", schema_overrides={"value": pl.Float64})
    found = rows.filter(case=case, quantity=quantity)
    return {term or "": value for term, value in found.select("term", "value").rows()}
