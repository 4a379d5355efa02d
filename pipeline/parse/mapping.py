"""`columns.toml`: what a lab says about its own sheets, once.

    decimal_mark = ","               # or "."; else settled from all numbers of each file
    date_order = "day_first"         # or "month_first"; else settled from all dates of each file
    missing = ["NA", "-"]            # what stands for an empty cell
    ignore = ["Weather"]             # own columns that need no mention
    id_from = ["brewed_at", "operator"]   # what names a brew where a log has no brew_id

    [columns]                        # own header = column, or { column, unit }
    "Kaffee" = "coffee_id"
    "Temp" = { column = "water_temp_c", unit = "F" }

    [constants]                      # what the sheets leave out because it is always the same
    method = "espresso"

    [words.method]                   # own word = the word of the list
    "Filter" = "pour_over"

    [combine]                        # an id made of several own columns
    coffee_id = { from = ["treatment", "rep"], join = "-" }

    [files."panel*.csv"]             # all of the above for files of that name; [sheets."Shots*"] for sheets
    table = "tastings"
    attributes = ["potato", "buttery"]    # score columns: one tasting per filled cell

Where they disagree, `files` wins over the general part and `sheets` over both. Constants outside `files`
and `sheets` fill any column of brews, but in other tables only a required one.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from fnmatch import fnmatchcase
from pathlib import Path, PurePath

from pipeline.parse.model import DateOrder, DecimalMark


@dataclass(frozen=True)
class ColumnRule:
    """An own header is this column; `unit` as written, empty when the header or the contract says it.

    `number` tells several readings in one row apart (`tds_pct_2` is 2).
    """

    column: str
    unit: str = ""
    number: int | None = None


@dataclass(frozen=True)
class CombineRule:
    """An id is made of these own columns."""

    headers: tuple[str, ...]
    join: str = "-"


@dataclass(frozen=True)
class Section:
    """What is declared for some sheets. `attributes`: own header to attribute; `own_constants` count in any table."""

    table: str | None = None
    columns: dict[str, ColumnRule] = field(default_factory=dict)
    ignore: tuple[str, ...] = ()
    constants: dict[str, str] = field(default_factory=dict)
    own_constants: dict[str, str] = field(default_factory=dict)
    decimal_mark: DecimalMark | None = None
    date_order: DateOrder | None = None
    missing: tuple[str, ...] = ()
    id_from: tuple[str, ...] = ()
    attributes: dict[str, str] = field(default_factory=dict)
    combine: dict[str, CombineRule] = field(default_factory=dict)
    words: dict[str, dict[str, str]] = field(default_factory=dict)

    def under(self, other: Section) -> Section:
        """What `other` declares, laid over what is declared here."""
        return Section(
            table=other.table or self.table,
            columns=self.columns | other.columns,
            ignore=self.ignore + other.ignore,
            constants=self.constants | other.constants,
            own_constants=self.own_constants | other.own_constants,
            decimal_mark=other.decimal_mark or self.decimal_mark,
            date_order=other.date_order or self.date_order,
            missing=self.missing + other.missing,
            id_from=other.id_from or self.id_from,
            attributes=self.attributes | other.attributes,
            combine=self.combine | other.combine,
            words={name: self.words.get(name, {}) | other.words.get(name, {}) for name in (*self.words, *other.words)},
        )


@dataclass(frozen=True)
class Mapping:
    """The whole of `columns.toml`; patterns are shell patterns, matched without regard to case."""

    general: Section = Section()
    files: tuple[tuple[str, Section], ...] = ()
    sheets: tuple[tuple[str, Section], ...] = ()

    def section_for(self, file: str, sheet: str) -> Section:
        """Everything declared for this sheet of this file."""
        name = PurePath(file).name.casefold()
        out = self.general
        for pattern, section in self.files:
            wanted = pattern.casefold()
            if fnmatchcase(name, wanted) or fnmatchcase(name.removesuffix(".gz"), wanted):
                out = out.under(_owned(section))
        for pattern, section in self.sheets:
            if sheet and fnmatchcase(sheet.casefold(), pattern.casefold()):
                out = out.under(_owned(section))
        return out


def _owned(section: Section) -> Section:
    return replace(section, constants={}, own_constants=section.constants)


def read_mapping(lab_dir: Path) -> Mapping:
    """Read a lab's `columns.toml`; an absent file declares nothing. Raises ProblemError on anything not understood."""
    from pipeline.parse.mapping_file import parse_mapping

    path = lab_dir / "columns.toml"
    return parse_mapping(path.read_bytes(), str(path)) if path.is_file() else Mapping()
