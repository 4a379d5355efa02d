"""What `make ingest`, `make dashboards` and `make gate` run: the make variables, taken as written, to one command."""

from __future__ import annotations

import os
import shlex
import sys
from collections.abc import Callable
from pathlib import Path

from pipeline.cli.app import main

USE = {
    "ingest": "make ingest LAB=my-lab FILES=\"log.xlsx 'March log.csv'\"",
    "dashboard": "make dashboards LAB=my-lab",
    "gate": "make gate LAB=my-lab",
}


def split_files(text: str, exists: Callable[[str], bool]) -> list[str]:
    """The paths in a list written by hand: words as in a shell, quotes optional where the files are there.

    >>> there = {"March log.csv", "log.csv"}.__contains__
    >>> split_files("March log.csv", there)
    ['March log.csv']
    >>> split_files("log.csv March log.csv", there)
    ['log.csv', 'March log.csv']
    >>> split_files("'no such.csv' log.csv", there)
    ['no such.csv', 'log.csv']
    """
    if exists(text.strip()):
        return [text.strip()]
    try:
        words = shlex.split(text)
    except ValueError:  # a lone apostrophe, as in Anna's log.csv
        words = text.split()
    found = []
    while words:
        taken = 1
        if not exists(words[0]):
            longer = (count for count in range(len(words), 1, -1) if exists(" ".join(words[:count])))
            taken = next(longer, 1)
        found.append(" ".join(words[:taken]))
        words = words[taken:]
    return found


def matching(word: str) -> list[str]:
    """The path itself, or what its `*` and `?` stand for where no file has that very name."""
    path = Path(word).expanduser()
    if path.exists() or not any(mark in word for mark in "*?["):
        return [str(path)]
    root = Path(path.anchor) if path.is_absolute() else Path()
    pattern = str(path.relative_to(root)) if path.is_absolute() else str(path)
    return [str(found) for found in sorted(root.glob(pattern))] or [word]


def arguments(command: str, lab: str, files: str, out: str) -> list[str]:
    """The command line that the make variables stand for."""
    given = [path for word in split_files(files, lambda text: Path(text).exists()) for path in matching(word)]
    extra = {"ingest": given, "dashboard": ["--out", out], "gate": []}[command]
    return [command, *(["--lab", lab] if lab else []), *extra]


def from_environment() -> None:
    """Read the variables that the Makefile passes on, and run the command."""
    command = sys.argv[1]
    lab, files, out = (os.environ.get(f"BREWTRIALS_MAKE_{name}", "") for name in ("LAB", "FILES", "OUT"))
    lab_is_known = bool(lab or os.environ.get("BREWTRIALS_LAB"))
    if not lab_is_known or (command == "ingest" and not files.strip()):
        print(f"Say what to work on: {USE[command]}", file=sys.stderr)
        sys.exit(2)
    main(arguments(command, lab, files, out))


if __name__ == "__main__":
    from_environment()
