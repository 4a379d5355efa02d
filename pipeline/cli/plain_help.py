"""Help pages without the words of programmers."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import typer
from typer.core import TyperCommand

TYPE_WORDS = re.compile(r" <[\w\[\]]+>|  \[x>=\d+\]")
IN_PLACE_OF_LAB = re.compile(r"\[env\s+var:\s+BREWTRIALS_LAB;\s+required\]")
BRACES = re.compile(r"\{([\w.]+)\}")


class PlainCommand(TyperCommand):
    """A command whose help names no data types."""

    def get_help(self, ctx: Any) -> str:
        """The help page."""
        text = IN_PLACE_OF_LAB.sub("[required]", TYPE_WORDS.sub("", super().get_help(ctx)))
        return BRACES.sub(r"\1", text)


def add(app: typer.Typer, name: str, function: Callable[..., None], summary: str) -> None:
    """Register a command under `name`; `summary` is its line in the list of commands."""
    app.command(name, cls=PlainCommand, short_help=summary)(function)
