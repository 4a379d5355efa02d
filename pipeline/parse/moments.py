"""A whole column of written dates and times to moments in UTC."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import time, timedelta

import polars as pl

from pipeline.parse.dates import FIRST_YEAR, LAST_YEAR, Moment, read_moment
from pipeline.parse.model import DateOrder
from schemas.dtypes import TIME

_ROUNDS = 4
_CLEAN = re.compile(
    r"(?P<date>\d{4}-\d\d-\d\d|\d\d?(?P<mark>[./-])\d\d?(?P=mark)\d{4})"
    r"(?:(?P<t>[T ])\d\d?:\d\d(?P<s>:\d\d)?(?P<f>\.\d+)?(?P<z>Z|[+-]\d\d:?\d\d)?)?"
)
NAIVE = pl.Datetime("us")
_SCHEMA = {"local": NAIVE, "utc": TIME, "is_date": pl.Boolean(), "rule": pl.String()}


@dataclass(frozen=True)
class Times:
    """One column of moments in UTC. `rule` names what a cell breaks, null where it is fine or empty.

    `repeated_hour` counts local times that happened twice as the clocks went back; the first is taken.
    """

    utc: pl.Series
    is_date: pl.Series
    rule: pl.Series
    repeated_hour: int


def parse_times(text: pl.Series, *, order: DateOrder, zone: str, typed: bool = False) -> Times:
    """Times of one column; naive ones are local in `zone`, a bare day is its local midnight.

    In a typed sheet midnight is how a workbook writes a bare day.
    """
    read = _read(text, order)
    is_date = read["is_date"].fill_null(False)
    if typed:
        midnight = read["local"].dt.time() == time()
        is_date = is_date | midnight.fill_null(False)
    local = read["local"].dt.replace_time_zone(zone, ambiguous="null", non_existent="null")
    odd = (read["local"].is_not_null() & local.is_null()).arg_true()
    rule, repeated = read["rule"], 0
    if not odd.is_empty():
        fixed = _odd_hours(read["local"].gather(odd), is_date.gather(odd), zone)
        repeated = int(fixed["twice"].sum())
        local = local.scatter(odd, fixed["local"])
        rule = rule.scatter(odd, fixed["rule"])
    utc = pl.select(pl.coalesce(local.dt.convert_time_zone("UTC"), read["utc"])).to_series()
    return Times(utc, is_date, rule, repeated)


def parse_days(text: pl.Series, *, order: DateOrder) -> tuple[pl.Series, pl.Series]:
    """Calendar days of one column (Date), and the rule that a cell breaks; a time of day beside it is left off."""
    read = _read(text, order)
    days = pl.select(pl.coalesce(read["local"], read["utc"].dt.replace_time_zone(None)).dt.date()).to_series()
    return days, read["rule"]


def _odd_hours(local: pl.Series, is_date: pl.Series, zone: str) -> pl.DataFrame:
    """Local times that happened twice (the first is taken) or never (a bare day begins an hour later)."""
    first = local.dt.replace_time_zone(zone, ambiguous="earliest", non_existent="null")
    later = (local + timedelta(hours=1)).dt.replace_time_zone(zone, ambiguous="earliest", non_existent="null")
    return pl.select(
        local=pl.when(first.is_null() & is_date).then(later).otherwise(first),
        rule=pl.when(first.is_null() & ~is_date).then(pl.lit("no_such_time")),
        twice=first.is_not_null(),
    )


def _read(text: pl.Series, order: DateOrder) -> pl.DataFrame:
    """Columns local, utc, is_date, rule: the commonest ways of writing by whole columns, the rest one by one."""
    count = len(text)
    out = {name: pl.repeat(None, count, dtype=dtype, eager=True) for name, dtype in _SCHEMA.items()}
    left = text.is_not_null().arg_true()
    for _ in range(_ROUNDS):
        if left.is_empty():
            break
        cells = text.gather(left)
        way = _clean_way(cells[0], order)
        if way is None:
            break
        pattern, name, is_date = way
        dtype = TIME if name == "utc" else NAIVE
        parsed = cells.str.to_datetime(pattern, strict=False, time_unit="us").cast(dtype)
        good = parsed.dt.year().is_between(FIRST_YEAR, LAST_YEAR).fill_null(False)
        if not good.any():
            break
        if good.all() and len(left) == count:
            out[name], out["is_date"] = parsed, pl.repeat(is_date, count, eager=True)
            return pl.DataFrame(out)
        hit = left.filter(good)
        out[name] = out[name].scatter(hit, parsed.filter(good))
        out["is_date"] = out["is_date"].scatter(hit, is_date)
        left = left.filter(~good)
    if not left.is_empty():
        _one_by_one(text.gather(left), left, order, out)
    return pl.DataFrame(out)


def _clean_way(sample: str, order: DateOrder) -> tuple[str, str, bool] | None:
    """Pattern for strptime of a cell written in a common way, the column it fills, and whether it is a bare day."""
    found = _CLEAN.fullmatch(sample)
    if found is None:
        return None
    mark = found["mark"]
    if mark is None:
        pattern = "%Y-%m-%d"
    elif order == "day_first":
        pattern = f"%d{mark}%m{mark}%Y"
    elif order == "month_first":
        pattern = f"%m{mark}%d{mark}%Y"
    else:
        return None
    if found["t"] is None:
        return pattern, "local", True
    pattern += f"{found['t']}%H:%M" + (":%S" if found["s"] else "")
    pattern += "%.f" if found["f"] else ""
    return (pattern + "%#z", "utc", False) if found["z"] else (pattern, "local", False)


def _one_by_one(cells: pl.Series, places: pl.Series, order: DateOrder, out: dict[str, pl.Series]) -> None:
    """Read what no common way fits, each different text once, into `out`."""
    texts = cells.unique()
    rows: list[tuple[object, ...]] = []
    for text in texts:
        moment = read_moment(text, order)
        if not isinstance(moment, Moment):
            rows.append((text, None, None, None, moment.rule))
        elif moment.when.tzinfo is None:
            rows.append((text, moment.when, None, moment.is_date, None))
        else:
            rows.append((text, None, moment.when, moment.is_date, None))
    known = pl.DataFrame(rows, schema={"text": pl.String(), **_SCHEMA}, orient="row")
    read = cells.rename("text").to_frame().join(known, on="text", how="left", maintain_order="left")
    for name in _SCHEMA:
        out[name] = out[name].scatter(places, read[name])
