"""Several score columns of one row to one tasting per filled score."""

from __future__ import annotations

import polars as pl

from pipeline.parse.work import Work

EMPTY_SCORES = "empty scores passed over"


def melt_scores(work: Work, frame: pl.DataFrame) -> pl.DataFrame:
    """One row per filled score, in the order of rows and then columns; `row` is its place in the batch.

    A row without any score is noted, so that no row is lost; single empty scores are counted.
    """
    names = [one.column for one in work.how.columns if one.role == "score"]
    wide = frame.with_columns(row=pl.int_range(pl.len(), dtype=pl.Int64()), **{n: work.typed[n].values for n in names})
    long = wide.unpivot(names, index=[*frame.columns, "row"], variable_name="attribute", value_name="score")
    filled = long.filter(pl.col("score").is_not_null()).sort("row", maintain_order=True)
    ill = sum(rule.count() for name in names if (rule := work.typed[name].rule) is not None)
    bare = _rows_without_score(work, names)
    if empty := long.height - filled.height - ill - len(bare) * len(names):
        work.counts[EMPTY_SCORES] += empty
    said = (f"None of {', '.join(names)} is filled in; a row of scores needs at least one.", "Fill in a score.")
    work.note("score", "empty_required", bare, [None] * len(bare), [said] * len(bare))
    return filled


def _rows_without_score(work: Work, names: list[str]) -> list[int]:
    """Rows whose score cells are all empty; a cell that does not parse has its own reason."""
    texts = [work.texts[name].text.is_null() for name in names]
    return pl.select(pl.all_horizontal(texts).arg_true()).to_series().to_list()
