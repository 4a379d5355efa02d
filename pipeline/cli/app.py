"""The list of commands, and what happens when one of them cannot go on."""

from __future__ import annotations

import io
import os
import sys
import traceback

import typer

from pipeline.cli import (
    budget,
    compare,
    cupping,
    effects,
    gating,
    gauge,
    instruments,
    lists,
    numbers,
    pages,
    plan,
    power,
    predict,
    start,
    study,
    taking_in,
    upkeep,
)
from pipeline.cli.usage import complain_of_usage, tell_programs
from schemas.problem import ProblemError

STOPPED = 130
"""Exit code after Ctrl-C, as shells expect it."""

HELP = """Brew trials: take in a lab's own files, show what was wrong in them, and work out what moved the extraction.

Start with `brewtrials new my-lab`, then `brewtrials ingest my-log.xlsx --lab my-lab`.

Exit codes: 0 fine; 1 failed, or a file was refused; 2 the command was not understood; 3 rows were set aside
under --strict, or the gate is not met.
"""

app = typer.Typer(
    name="brewtrials", help=HELP, no_args_is_help=True, add_completion=False, rich_markup_mode=None,
    pretty_exceptions_enable=False,
)  # fmt: skip
for group in (
    start,
    taking_in,
    lists,
    numbers,
    effects,
    study,
    compare,
    predict,
    budget,
    plan,
    power,
    instruments,
    pages,
    upkeep,
    gating,
    gauge,
    cupping,
):
    group.add_to(app)


@app.callback()
def _root() -> None:
    pass


def main(args: list[str] | None = None) -> None:
    """Run one command and leave with its exit code."""
    sys.exit(run(args))


def run(args: list[str] | None = None) -> int:
    """Run one command; its exit code. Nothing a user can mend ends in a traceback."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    try:
        code = _run(args)
        sys.stdout.flush()
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    return code


def _run(args: list[str] | None) -> int:
    try:
        code = app(args=args, prog_name="brewtrials", standalone_mode=False)
    except typer.TyperException as error:
        tell_programs(complain_of_usage(error), args)
        return error.exit_code
    except ProblemError as error:
        _say(str(error), args)
        return 1
    except (MemoryError, OSError) as error:
        if isinstance(error, BrokenPipeError):
            raise
        _say(f"Stopped: {error.strerror if isinstance(error, OSError) and error.strerror else 'out of memory'}"
             f"{f' ({error.filename})' if isinstance(error, OSError) and error.filename else ''}. "
             "What was there before is as it was.", args)  # fmt: skip
        return 1
    except Exception as error:
        _report(error, args)
        return 1
    if code == STOPPED:
        _say("Stopped. Nothing half-done was kept; run the same command again when you like.", args)
    return code if isinstance(code, int) else 0


def _report(error: Exception, args: list[str] | None) -> None:
    """A fault of the toolkit, not of the user: say so, briefly."""
    if os.environ.get("BREWTRIALS_DEBUG"):
        traceback.print_exception(error)
    _say(
        f"This is a fault in brewtrials, not in your files ({type(error).__name__}: {_first_line(error)}). "
        "Your project folder is as the last finished ingest left it.\n"
        "Please report it: run the command again with BREWTRIALS_DEBUG=1 and send what it prints, "
        "with the file if you may share it.",
        args,
    )


def _first_line(error: Exception) -> str:
    return next(iter(str(error).splitlines()), "")[:200]


def _say(text: str, args: list[str] | None) -> None:
    print(text, file=sys.stderr)
    tell_programs(text, args)
