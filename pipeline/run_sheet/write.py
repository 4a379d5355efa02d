"""Write a run sheet as its file name says; never over a sheet that may be filled in."""

from __future__ import annotations

from pathlib import Path

from pipeline.exports import replace_file
from pipeline.run_sheet.page import write_page
from pipeline.run_sheet.sheet import RunSheet
from pipeline.run_sheet.workbook import write_workbook
from schemas.problem import ProblemError

ENDINGS = (".xlsx", ".html")


def check_place(out: Path) -> None:
    """Raise ProblemError where a sheet cannot be written, before anything is worked out."""
    if out.suffix.lower() not in ENDINGS:
        raise ProblemError(f"{out} should end in .xlsx (to fill in and ingest) or .html (to print).")
    if out.exists():
        raise ProblemError(f"{out} exists already, perhaps with brews in it. Choose another name.")
    if not out.parent.is_dir():
        raise ProblemError(f"There is no folder {out.parent}. Make it first, or choose another place.")


def write_sheet(sheet: RunSheet, out: Path) -> None:
    """Write the workbook (.xlsx) or the page (.html)."""
    check_place(out)
    if out.suffix.lower() == ".html":
        replace_file(out, lambda file: write_page(sheet, file))
    else:
        replace_file(out, lambda file: write_workbook(sheet, file, out.name))
