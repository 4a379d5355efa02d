"""What the cells of a sheet look like, counted over all its rows: the evidence for marks, orders and notations."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields

import polars as pl

POINT = r"^[-+]?(\d+\.(\d{1,2}|\d{4,})|0?\.\d+|0\.\d{3}|\d{1,3}(,\d{3})+\.\d+|\d{1,3}(,\d{3}){2,})%?$"
COMMA = r"^[-+]?(\d+,(\d{1,2}|\d{4,})|0?,\d+|0,\d{3}|\d{1,3}(\.\d{3})+,\d+|\d{1,3}(\.\d{3}){2,})%?$"
"""Numbers that have one reading only, with a decimal point and with a decimal comma."""

OPEN_COMMA = r"^[-+]?[1-9]\d{0,2},\d{3}%?$"
CLOCK = r"^\d{1,3}:[0-5]\d(:[0-5]\d([.,]\d+)?)?( ?[AaPp]\.?[Mm]\.?)?$"
_MONTH = r"(0?[1-9]|1[0-2])"
_OVER_12 = r"(1[3-9]|2\d|3[01])"
_YEAR = r"(\d{4}|\d{2})(\D|$)"
NUMERIC_DATE = rf"^\d{{1,2}}([./]\d{{1,2}}[./]{_YEAR}|-\d{{1,2}}-\d{{4}}(\D|$))"
DOTTED_DATE = rf"^\d{{1,2}}\.\d{{1,2}}\.{_YEAR}"
_FIRST_OVER_12 = rf"^{_OVER_12}([./]{_MONTH}[./]{_YEAR}|-{_MONTH}-\d{{4}}(\D|$))"
_SECOND_OVER_12 = rf"^{_MONTH}([./]{_OVER_12}[./]{_YEAR}|-{_OVER_12}-\d{{4}}(\D|$))"
_MOMENT = r"^\d{1,4}[./-]\d{1,2}[./-]\d{1,4}([T ,]|$)"


@dataclass
class ColumnFacts:
    """Counts over the filled cells of one column; `first_part` is the greatest number before a first colon."""

    filled: int = 0
    points: int = 0
    commas: int = 0
    open_commas: int = 0
    clocks: int = 0
    clocks_in_full: int = 0
    clocks_with_seconds: int = 0
    meridiem: int = 0
    first_part: int = -1
    day_first: int = 0
    month_first: int = 0
    numeric_dates: int = 0
    dotted_dates: int = 0
    moments: int = 0

    def add(self, other: dict[str, int | None]) -> None:
        """Take in the counts of another batch."""
        for name, value in other.items():
            if value is not None:
                mine = getattr(self, name)
                setattr(self, name, max(mine, value) if name == "first_part" else mine + value)


_NAMES = tuple(field.name for field in fields(ColumnFacts))


@dataclass(frozen=True)
class DateExample:
    """The first date that can only be read in one order, and where it stands."""

    line: int
    text: str


@dataclass(frozen=True)
class Survey:
    """Facts by position, and the first examples of each order of day and month."""

    facts: dict[int, ColumnFacts]
    examples: dict[str, DateExample]


def survey(batches: Iterable[pl.DataFrame], *, numbers: Sequence[int], dates: Sequence[int]) -> Survey:
    """Count over all rows; `numbers` and `dates` are positions of columns that hold them."""
    facts = {position: ColumnFacts() for position in (*numbers, *dates)}
    examples: dict[str, DateExample] = {}
    for batch in batches:
        marked = _cheap_marks(batch, numbers)
        any_comma = any(commas for commas, _ in marked.values())
        wanted: list[pl.Expr] = [pl.col(f"c{p}").count().alias(f"{p}:filled") for p in facts]
        for position in numbers:
            _, colons = marked[position]
            wanted += _of_numbers(position, closely=any_comma) + (_of_clocks(position) if colons else [])
        for position in dates:
            wanted += _of_dates(position)
        if wanted:
            _take(batch.select(wanted), facts)
        _find_examples(batch, dates, facts, examples)
    return Survey(facts, examples)


def _cheap_marks(batch: pl.DataFrame, numbers: Sequence[int]) -> dict[int, tuple[int, int]]:
    """Cells with a comma and cells with a colon, per column."""
    if not numbers:
        return {}
    counts = batch.select(
        pl.col(f"c{p}").str.contains(mark, literal=True).sum().alias(f"{p}{mark}") for p in numbers for mark in ",:"
    ).row(0, named=True)
    return {p: (counts[f"{p},"] or 0, counts[f"{p}:"] or 0) for p in numbers}


def _of_numbers(position: int, *, closely: bool) -> list[pl.Expr]:
    """Evidence for a mark; without any comma in the batch a point needs no close look."""
    cells = pl.col(f"c{position}")
    if not closely:
        return [cells.str.contains(".", literal=True).sum().alias(f"{position}:points")]
    patterns = {"points": POINT, "commas": COMMA, "open_commas": OPEN_COMMA}
    return [cells.str.contains(pattern).sum().alias(f"{position}:{name}") for name, pattern in patterns.items()]


def _of_clocks(position: int) -> list[pl.Expr]:
    cells = pl.col(f"c{position}")
    clock = cells.filter(cells.str.contains(CLOCK))
    return [
        clock.count().alias(f"{position}:clocks"),
        clock.str.contains(r"^\d+:\d\d:\d\d").sum().alias(f"{position}:clocks_in_full"),
        clock.str.contains(r"^\d+:\d\d:(0[1-9]|[1-5]\d|00[.,]\d*[1-9])").sum().alias(f"{position}:clocks_with_seconds"),
        clock.str.contains(r"(?i)m\.?$").sum().alias(f"{position}:meridiem"),
        clock.str.extract(r"^(\d+)", 1).cast(pl.Int64).max().alias(f"{position}:first_part"),
        cells.str.contains(_MOMENT).sum().alias(f"{position}:moments"),
    ]


def _of_dates(position: int) -> list[pl.Expr]:
    cells = pl.col(f"c{position}")
    return [
        cells.str.contains(NUMERIC_DATE).sum().alias(f"{position}:numeric_dates"),
        cells.str.contains(DOTTED_DATE).sum().alias(f"{position}:dotted_dates"),
        cells.str.contains(_FIRST_OVER_12).sum().alias(f"{position}:day_first"),
        cells.str.contains(_SECOND_OVER_12).sum().alias(f"{position}:month_first"),
    ]


def _take(counts: pl.DataFrame, facts: dict[int, ColumnFacts]) -> None:
    row = counts.row(0, named=True)
    for position, mine in facts.items():
        mine.add({name: row[key] for name in _NAMES if (key := f"{position}:{name}") in row})


def _find_examples(
    batch: pl.DataFrame, dates: Sequence[int], facts: dict[int, ColumnFacts], examples: dict[str, DateExample]
) -> None:
    for order, pattern in (("day_first", _FIRST_OVER_12), ("month_first", _SECOND_OVER_12)):
        for position in dates:
            if order in examples or not getattr(facts[position], order):
                continue
            hit = batch.filter(pl.col(f"c{position}").str.contains(pattern)).select("line", f"c{position}").head(1)
            if hit.height:
                examples[order] = DateExample(*hit.row(0))
