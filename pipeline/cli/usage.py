"""Commands that were not understood: what is missing or too much, in the words of the user and not of the parser."""

from __future__ import annotations

import difflib
import json
import sys
from collections.abc import Sequence
from itertools import pairwise
from typing import Any

from pipeline.cli.screen import harmless

MISSING = {
    "lab": "which project folder? Add --lab DIR, or set BREWTRIALS_LAB to it",
    "paths": "which files? Name them, or a folder of them, such as log.xlsx",
    "folder": "which folder? Name the project folder to make, such as my-lab",
    "sql": 'which question? Give one SELECT in quotes, such as "select * from brew_facts"',
    "template": "which file? Name the workbook to write, such as log.xlsx",
    "brews": "which brews? Add --brews A,B,C, the brews to be read",
    "readers": "who reads? Add --readers X,Y, with at least two names",
    "instrument": "which instrument? Add --instrument ID, as in the instruments table",
    "plan": "where to? Add --out FILE.xlsx (or .csv, or .html to print), the run sheet",
    "dashboard": "where to? Add --out DIR, the folder for the page",
}
"""What to ask for, by the name of the parameter, else of the command."""
ASKS = "? Add "
"""What a question about something missing has in it, and a complaint about a value has not."""


def complain_of_usage(error: Any) -> str:
    """Say on standard error what was not understood and how the command is used, and return it.

    No command at all gets the help.
    """
    if type(error).__name__ == "NoArgsIsHelpError":
        print(error.format_message())
        return ""
    context = getattr(error, "ctx", None)
    path = context.command_path if context else "brewtrials"
    said = _said(error, context).rstrip(".")
    text = f"{path}: {said}{'' if said.endswith('?') else '.'}\nHow it is used: {path} --help"
    print(harmless(text), file=sys.stderr)
    return harmless(text)


def tell_programs(text: str, args: Sequence[str] | None) -> None:
    """Where JSON was asked for, standard output gets what went wrong as JSON too: a program reads no prose."""
    asked = sys.argv[1:] if args is None else args
    by_format = any(pair == ("--format", "json") for pair in pairwise(asked)) or "--format=json" in asked
    if text and ("--json" in asked or by_format):
        print(json.dumps({"error": text}, indent=2, ensure_ascii=False))


def _said(error: Any, context: Any) -> str:
    said: str = error.format_message()
    option = getattr(error, "param", None)
    if said.startswith("Missing") and option is not None:
        return MISSING.get(option.name) or MISSING.get(str(context.info_name), said)
    if getattr(error, "option_name", None) and said.startswith("No such option"):
        known = [name for one in context.command.params for name in one.opts]
        near = difflib.get_close_matches(error.option_name, known, n=1)
        return f"there is no option {error.option_name}{f'; did you mean {near[0]}?' if near else ''}"
    if said.startswith("Invalid value") and ASKS in said:
        return said.partition(": ")[2]
    if "unexpected extra argument" in said:
        words = said[said.rindex("(") + 1 :].rstrip(".)")
        return f"too many words: {words}. Names and questions with spaces in them stand in quotes"
    return said
