"""Settle how one sheet is to be read: its table, its columns, its units, its marks; or say why it cannot be."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

from pipeline.parse.constants import check_constants
from pipeline.parse.doubts import doubt_of
from pipeline.parse.found import TIME_OF_DAY, Found, Match
from pipeline.parse.mapping import Mapping, Section
from pipeline.parse.match import match_headers
from pipeline.parse.model import CannotInterpret, ColumnReading, Interpretation
from pipeline.parse.one_header import column_of, columns_line
from pipeline.parse.settle import Mark, Order, clock_conversion, settle_mark, settle_open_time, settle_order
from pipeline.parse.survey import Survey, survey
from pipeline.parse.which_table import choose_table, lacking
from pipeline.sources.model import RawSheet
from schemas.aliases_units import UNIT_WORDS
from schemas.contracts import TABLES
from schemas.lab import LabSettings

EXAMPLES = {"method": "espresso", "coffee_id": "my-coffee", "dose_g": "18", "assessor": "my-name"}
NUMBER_KINDS = ("number", "integer")
DATE_KINDS = ("date", "time")


def interpret(
    sheet: RawSheet, mapping: Mapping, settings: LabSettings, *, table: str | None = None
) -> Interpretation | CannotInterpret:
    """How to read a sheet; `table` is what the user says of all files of a call.

    What depends on the cells (decimal mark, order of dates, notation of times) is settled once, over all rows.
    """
    if sheet.refused or sheet.skipped:
        return CannotInterpret(sheet.refused or sheet.skipped, refuse=bool(sheet.refused))
    section = mapping.section_for(sheet.file, sheet.sheet)
    declared = section.table or ("tastings" if section.attributes else None)
    match_of = partial(_match, sheet, section, settings)
    match = choose_table(sheet.file, sheet.sheet, sheet.header, match_of, declared=declared, given=table)
    if isinstance(match, CannotInterpret):
        return match
    found = survey(sheet.batches(), numbers=_places(match, NUMBER_KINDS), dates=_places(match, DATE_KINDS))
    match = settle_open_time(match, found)
    if missing := lacking(match):
        return CannotInterpret(_missing_text(match, missing))
    if match.constants:
        check_constants(match.constants, match.table, settings.timezone)
    return _written_down(sheet, section, settings, match, found)


def _match(sheet: RawSheet, section: Section, settings: LabSettings, table: str) -> Match:
    return match_headers(sheet.header, table, section, settings.constants)


def _kind(one: Found, table: str) -> str:
    return "number" if one.role == "score" else column_of(table, one.column).kind


def _places(match: Match, kinds: tuple[str, ...]) -> list[int]:
    return [one.position for one in match.found if one.role != "clock" and _kind(one, match.table) in kinds]


def _written_down(
    sheet: RawSheet, section: Section, settings: LabSettings, match: Match, found: Survey
) -> Interpretation:
    mark = settle_mark(found, _places(match, NUMBER_KINDS), section, typed=sheet.typed)
    dates = [one for one in match.found if one.role == "value" and _kind(one, match.table) in DATE_KINDS]
    order = settle_order(found, dates, section, typed=sheet.typed)
    columns = _column_readings(sheet, match, found)
    names = {one.column for one in columns} | set(match.constants) | {one.column for one in match.combined}
    make_brew_id = match.table == "brews" and "brew_id" not in names
    return Interpretation(
        table=match.table,
        header=sheet.header,
        columns=columns,
        constants=match.constants,
        combined=match.combined,
        words={name: own for name, own in section.words.items() if name in names},
        missing=section.missing,
        decimal_mark=mark.mark,
        date_order=order.order,
        date_order_settled=order.settled,
        timezone=settings.timezone,
        typed=sheet.typed,
        inline_readings=any(one.role == "reading" for one in columns),
        make_brew_id=make_brew_id,
        id_from=section.id_from if make_brew_id else (),
        unknown=match.unknown,
        notes=_notes(match, columns, mark, order),
    )


def _column_readings(sheet: RawSheet, match: Match, found: Survey) -> tuple[ColumnReading, ...]:
    readings = sorted((one for one in match.found if one.role == "reading"), key=lambda one: one.number or 1)
    number_of = {one.position: number for number, one in enumerate(readings, start=1)}
    out = []
    for one in match.found:
        conversion = one.conversion
        if conversion == "mm_ss" and one.position in sheet.time_cells:
            conversion = clock_conversion(found.facts[one.position])
        column = f"{one.column}_{one.number}" if one.role == "reading" and one.number else one.column
        reading = ColumnReading(
            one.position, one.header, column, conversion, one.role, reading_no=number_of.get(one.position)
        )
        if one.role == "value" and one.position in found.facts:
            doubt = doubt_of(one, column_of(match.table, one.column), found.facts[one.position], typed=sheet.typed)
            reading = replace(reading, doubt=doubt.doubt, remedy=doubt.remedy)
        out.append(reading)
    return tuple(out)


def _notes(match: Match, columns: tuple[ColumnReading, ...], mark: Mark, order: Order) -> tuple[str, ...]:
    """What was decided beyond the contract, and what is asked, in the order of the columns."""
    notes = [f"{one.header!r}: {_conversion_words(one, match.table)}" for one in columns if one.conversion]
    notes += [f"{one.doubt}. {one.remedy}" for one in columns if one.doubt]
    if any(one.column == TIME_OF_DAY for one in columns):
        pair = [repr(one.header) for one in columns if one.column in ("brewed_at", TIME_OF_DAY)]
        notes.append(f"{' and '.join(pair)} together give brewed_at")
    readings = [repr(one.header) for one in columns if one.role == "reading"]
    if len(readings) > 1:
        notes.append(f"{', '.join(readings)} are readings 1 to {len(readings)} of each brew")
    scores = [one.column for one in columns if one.role == "score"]
    if scores:
        notes.append(f"{len(scores)} score columns: one tasting for each filled cell of {', '.join(scores)}")
    notes += [f"{one.column} is made of {len(one.positions)} columns" for one in match.combined]
    notes += [f"{name} is {value} in every row, as declared" for name, value in match.constants.items()]
    return (*notes, *mark.notes, *order.notes, *match.notes)


def _conversion_words(one: ColumnReading, table: str) -> str:
    if one.conversion == "clock_as_mm_ss":
        return "clock times of the workbook read as minutes:seconds, so 00:28:00 is 28 s"
    if one.conversion == "clock_as_h_mm_ss":
        return "times of the workbook read as hours:minutes:seconds, so 00:00:28 is 28 s"
    return f"{UNIT_WORDS[one.conversion]} converted to {column_of(table, one.contract_column).unit}"


def _missing_text(match: Match, missing: tuple[str, ...]) -> str:
    """What the sheet lacks, and the lines that would supply it."""
    table = TABLES[match.table]
    columns = [table.columns[name] for name in missing if name in table.columns]
    parts = [f"It was read as {match.table}, but has no column for {', '.join(missing)}."]
    if constant := [one for one in columns if one.kind not in DATE_KINDS and one.name not in table.key]:
        lines = "\n".join(f'{one.name} = "{EXAMPLES.get(one.name, "...")}"' for one in constant)
        them = "it is" if len(constant) == 1 else "they are"
        parts.append(f"If {them} the same in every row: in columns.toml, under [constants], write:\n{lines}\n")
        if any(one.name == "method" for one in constant):
            parts.append("Or have the method written there: brewtrials new YOUR-FOLDER --method espresso\n")
        parts += [f"{one.name} is one of {', '.join(one.choices)}." for one in constant if one.choices]
    spare = [own for own in match.unknown if not any(repr(own) in note for note in match.notes)]
    if spare and columns:
        parts.append(
            f"If another of its columns ({', '.join(spare)}) holds it, say so under [columns] in columns.toml, such as "
            f"{columns_line(spare[0], columns[0].name)}"
        )
    else:
        parts.append("Else add the column to the sheet." if constant else "Add the column to the sheet.")
    return "\n".join([" ".join(parts).replace("\n ", "\n"), *match.notes])
