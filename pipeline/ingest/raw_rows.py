"""The cells of single rows as they stood in their file."""

from __future__ import annotations

import json
from collections.abc import Iterable

import polars as pl

from pipeline.ingest.unit import Part


def raw_rows(part: Part, lines: set[int]) -> dict[int, tuple[str, ...]]:
    """Cells of these lines as they stood, read again from the sheet."""
    found = {row.line: row.cells for row in part.sheet.ragged if row.line in lines}
    wanted = lines - found.keys()
    if wanted:
        for batch in part.sheet.batches():
            for line, *cells in batch.filter(pl.col("line").is_in(list(wanted))).iter_rows():
                found[line] = tuple(cell or "" for cell in cells)
    return found


def row_json(header: Iterable[str], cells: Iterable[str]) -> str:
    """The row as it stood: own header to own text; cells beyond the header are named by their place."""
    names, texts = list(header), list(cells)
    names += [f"cell {place}" for place in range(len(names) + 1, len(texts) + 1)]
    return json.dumps(dict(zip(names, texts, strict=False)), ensure_ascii=False)
