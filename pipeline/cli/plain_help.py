"""Help pages without the words of programmers."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import typer
from typer.core import TyperCommand, TyperGroup

TYPE_WORDS = re.compile(r" <[\w\[\]]+>|\s+\[x>=[\d.]+\]|;\s+x>=[\d.]+(?=\])")
IN_PLACE_OF_LAB = re.compile(r"\[env\s+var:\s+BREWTRIALS_LAB;\s+required\]")
BRACES = re.compile(r"\{([\w.]+)\}")


class PlainCommand(TyperCommand):
    """A command whose help names no data types."""

    def get_help(self, ctx: Any) -> str:
        """The help page."""
        return plainly(super().get_help(ctx))


class PlainGroup(TyperGroup):
    """A command with further commands of its own whose help names no data types."""

    def get_help(self, ctx: Any) -> str:
        """The help page."""
        return plainly(super().get_help(ctx))


def plainly(text: str) -> str:
    """A help page in words that a user knows."""
    return BRACES.sub(r"\1", IN_PLACE_OF_LAB.sub("[required]", TYPE_WORDS.sub("", text)))


def add(app: typer.Typer, name: str, function: Callable[..., None], summary: str) -> None:
    """Register a command under `name`; `summary` is its line in the list of commands."""
    app.command(name, cls=PlainCommand, short_help=summary)(function)
