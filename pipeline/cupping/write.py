"""Write the sheets into a folder of their own and the key beside it; nothing that may be filled in is overwritten."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path

from pipeline.cupping.key import key_frame
from pipeline.cupping.page import write_page
from pipeline.cupping.plan import CuppingPlan
from pipeline.cupping.sheet import ScoreSheets
from pipeline.cupping.workbook import write_workbook
from pipeline.exports import ByteFile, escape_cell, export, replace_file
from schemas.problem import ProblemError

PAGE = "score-sheets.html"


def key_place(out: Path) -> Path:
    """Where the key goes when nothing else is said: beside the folder of the sheets, never in it.

    >>> key_place(Path("panel")).name
    'panel-key-servings.csv'
    """
    return out.with_name(f"{out.name}-key-servings.csv")


def check_places(out: Path, key: Path | None, n_sessions: int) -> None:
    """Raise ProblemError where sheets or key cannot be written, before anything is drawn."""
    if out.exists() and not out.is_dir():
        raise ProblemError(f"{out} is a file; the score sheets need a folder of their own.")
    if not out.exists() and not out.resolve().parent.is_dir():
        raise ProblemError(f"There is no folder {out.parent}. Make it first, or choose another place.")
    for name in (*workbook_names(n_sessions), PAGE):
        if (out / name).exists():
            raise ProblemError(f"{out / name} exists already, perhaps with scores in it. Choose another folder.")
    if key is None:
        return
    if key.suffix.lower() not in (".csv", ".xlsx"):
        raise ProblemError(f"{key} should end in .csv or .xlsx: the key is a table of servings.")
    if key.exists():
        raise ProblemError(f"{key} exists already, and a key is never replaced. Choose another name.")
    if out.resolve() in key.resolve().parents:
        raise ProblemError(f"{key} lies among the score sheets: whoever gets them would get the key. Put it elsewhere.")
    if not key.resolve().parent.is_dir():
        raise ProblemError(f"There is no folder {key.parent}. Make it first, or choose another place for the key.")


def workbook_names(n_sessions: int) -> tuple[str, ...]:
    """What the workbooks are called, one for each session."""
    if n_sessions == 1:
        return ("score-sheets.xlsx",)
    return tuple(f"score-sheets-{place}.xlsx" for place in range(1, n_sessions + 1))


def write_sheets(sessions: Sequence[ScoreSheets], out: Path) -> tuple[Path, ...]:
    """Write a workbook for each session and one page to print; where they are."""
    try:
        out.mkdir(exist_ok=True)
    except OSError as error:
        raise ProblemError(f"The folder {out} cannot be made: {error.strerror or error}.") from error
    written = []
    for name, sheets in zip(workbook_names(len(sessions)), sessions, strict=True):
        replace_file(out / name, partial(_write_one, sheets, name))
        written.append(out / name)
    replace_file(out / PAGE, lambda file: write_page(sessions, file))
    return (*written, out / PAGE)


def _write_one(sheets: ScoreSheets, name: str, file: ByteFile) -> None:
    write_workbook(sheets, file, name)


def write_key(plan: CuppingPlan, path: Path) -> None:
    """Write the key as a table of servings: csv or xlsx.

    ProblemError where an id would be a formula to a spreadsheet, which csv can only prevent by changing the id.
    """
    formulas = [one.id for one in plan.samples if escape_cell(one.id) != one.id]
    if formulas and path.suffix.lower() == ".csv":
        raise ProblemError(
            f"Spreadsheets would take {formulas[0]!r} for a formula. Write the key as a workbook: --key FILE.xlsx."
        )
    export(key_frame(plan), "xlsx" if path.suffix.lower() == ".xlsx" else "csv", path)
