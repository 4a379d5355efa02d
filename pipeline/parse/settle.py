"""From the evidence in all rows of a sheet to one decision for the whole sheet; what stays open is said."""

from __future__ import annotations

from dataclasses import dataclass, replace

from pipeline.parse.found import TIME_OF_DAY, Found, Match
from pipeline.parse.mapping import Section
from pipeline.parse.model import Conversion, DateOrder, DecimalMark
from pipeline.parse.survey import ColumnFacts, Survey

MARK_WORDS = {".": "point", ",": "comma"}
ORDER_WORDS = {"day_first": "day first", "month_first": "month first"}


@dataclass(frozen=True)
class Mark:
    """The sheet's decimal mark and what to tell about it."""

    mark: DecimalMark
    notes: tuple[str, ...] = ()


def settle_mark(found: Survey, numbers: list[int], section: Section, *, typed: bool) -> Mark:
    """Decimal mark of a sheet: declared, else what most numbers with one reading only show, else a point.

    In a workbook a point is written by the workbook itself, so only its text cells are evidence: any comma among
    them is a decimal comma, and points stay points.
    """
    if section.decimal_mark is not None:
        return Mark(section.decimal_mark)
    points = sum(found.facts[position].points for position in numbers)
    commas = sum(found.facts[position].commas for position in numbers)
    unclear = sum(found.facts[position].open_commas for position in numbers)
    if not commas:
        asked = (
            f"{unclear} numbers such as 1,234 could have a decimal comma or a thousands comma; if it is a decimal "
            'comma, add at the top of columns.toml: decimal_mark = ","'
        )
        return Mark(".", (asked,) if unclear and not points else ())
    if typed:
        return Mark(",", ("numbers typed as text were read with a decimal comma",))
    mark: DecimalMark = "," if commas > points else "."
    if not points:
        return Mark(mark, ("numbers were read with a decimal comma",))
    lost = points if mark == "," else commas
    other = MARK_WORDS["." if mark == "," else ","]
    return Mark(
        mark,
        (f"numbers were read with a decimal {MARK_WORDS[mark]}; {lost} written with a {other} are set aside",),
    )


@dataclass(frozen=True)
class Order:
    """The order of day and month in numeric dates; `settled` is False when nothing decides it."""

    order: DateOrder
    settled: bool
    notes: tuple[str, ...] = ()


def settle_order(found: Survey, dates: list[Found], section: Section, *, typed: bool) -> Order:
    """Order of day and month: from the header or columns.toml, else from any day over 12 in the sheet.

    Dates with dots alone are read day first, with a note: where dates are written with dots, the day comes first
    (common practice, no source). A log that begins on the 3rd of a month must not have to wait for the 13th.
    """
    headed = {one.date_order for one in dates if one.date_order is not None}
    if len(headed) == 1:
        return Order(headed.pop(), True)
    if section.date_order is not None:
        return Order(section.date_order, True)
    facts = [found.facts[one.position] for one in dates]
    if not any(fact.numeric_dates for fact in facts):
        return Order("iso", True)
    days, months = (any(getattr(fact, order) for fact in facts) for order in ("day_first", "month_first"))
    if days != months:
        order: DateOrder = "day_first" if days else "month_first"
        example, place = found.examples[order], _place(typed)
        shown = f"dates were read {ORDER_WORDS[order]}, as {example.text} in {place} {example.line} shows"
        return Order(order, True, (shown,))
    return _open_order(found, facts, dates_disagree=days, place=_place(typed))


def _place(typed: bool) -> str:
    """What a row's number counts: rows of a workbook's sheet, lines of a text file."""
    return "row" if typed else "line"


def _open_order(found: Survey, facts: list[ColumnFacts], *, dates_disagree: bool, place: str) -> Order:
    """What to do when days over 12 decide nothing."""
    line = 'set date_order = "day_first" or "month_first" at the top of columns.toml'
    if dates_disagree:
        one, other = found.examples["day_first"], found.examples["month_first"]
        told = (
            f"dates disagree: {one.text} ({place} {one.line}) has the day first, {other.text} ({place} {other.line}) "
            f"the month; dates that fit both are set aside; correct one, or {line}"
        )
        return Order("iso", False, (told,))
    if all(fact.numeric_dates == fact.dotted_dates for fact in facts):
        else_set = 'set date_order = "month_first" at the top of columns.toml'
        return Order("day_first", True, (f"dates with dots were read day first; if they are not, {else_set}",))
    return Order("iso", False, (f"nothing decides between day first and month first; {line}",))


def settle_open_time(match: Match, found: Survey) -> Match:
    """Decide what a column headed just 'Time' is: the time of day beside a date, the brew time, or unread."""
    one = next((one for one in match.found if one.open_time), None)
    if one is None:
        return match
    others = tuple(other for other in match.found if other is not one)
    facts = found.facts[one.position]
    date = next((other for other in others if other.column == "brewed_at"), None)
    brew_time_known = any(other.column == "brew_time_s" for other in others)
    if facts.filled and date is None and facts.moments == facts.filled:
        moved = replace(one, column="brewed_at", open_time=False)
        return replace(match, found=_ordered((*others, moved)), notes=(*match.notes, "'Time' was read as brewed_at"))
    all_clocks = facts.filled > 0 and facts.clocks == facts.filled and facts.first_part < 24
    beside = date is not None and abs(date.position - one.position) == 1 and facts.first_part >= 5
    mostly_clocks = facts.clocks * 2 > facts.filled
    if date is not None and ((brew_time_known and mostly_clocks) or (all_clocks and (facts.meridiem or beside))):
        clock = replace(one, column=TIME_OF_DAY, role="clock", open_time=False)
        return replace(match, found=_ordered((*others, clock)))
    if brew_time_known or (date is not None and all_clocks):
        asked = (
            f"{one.header!r} was not read: it could be the time of day or the brew time. Head it 'Time of day' or "
            "'Brew time (mm:ss)'."
        )
        return replace(match, found=others, unknown=(*match.unknown, one.header), notes=(*match.notes, asked))
    return replace(match, found=_ordered((*others, replace(one, open_time=False))))


def _ordered(found: tuple[Found, ...]) -> tuple[Found, ...]:
    return tuple(sorted(found, key=lambda one: one.position))


def clock_conversion(facts: ColumnFacts) -> Conversion:
    """How a workbook's clock times under a header mm:ss were meant: typed as m:ss, or as full h:mm:ss durations.

    Somebody who types 0:28 gets 00:28:00, always with 00 seconds; true durations end in 00 once in 60.
    """
    return "clock_as_h_mm_ss" if facts.clocks_with_seconds * 2 > facts.clocks else "clock_as_mm_ss"
