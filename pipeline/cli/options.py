"""Options that several commands share, worded once."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated
from zoneinfo import ZoneInfo

import typer


def _ingest_number(text: str) -> int:
    if not text.strip().isdecimal():
        raise typer.BadParameter(
            f"{text} is not the number of an ingest; `brewtrials history` lists them", param_hint="--as-of"
        )
    return int(text)


Lab = Annotated[
    Path,
    typer.Option(
        "--lab",
        metavar="DIR",
        envvar="BREWTRIALS_LAB",
        help="The project folder; BREWTRIALS_LAB may name it.",
        show_default=False,
    ),
]
AsOf = Annotated[
    int | None,
    typer.Option(
        "--as-of",
        metavar="N",
        parser=_ingest_number,
        help="How things stood after ingest N; `brewtrials history` lists them.",
    ),
]
Now = Annotated[
    str | None,
    typer.Option(
        "--now",
        metavar="TIME",
        help="The moment that counts as now, such as 2026-04-03T09:15. Without it, the clock's.",
    ),
]


def _screen_for_dash(out: Path | None) -> Path | None:
    """A dash stands for standard output, as in other programs."""
    return None if out == Path("-") else out


Out = Annotated[
    Path | None,
    typer.Option("--out", metavar="FILE", help="Write to this file instead of the screen.", callback=_screen_for_dash),
]
AsJson = Annotated[bool, typer.Option("--json", help="Print the result as JSON, for other programs.")]


def format_option(*names: str) -> object:
    """The --format option of a command, with the formats that make sense there."""

    def known(form: str | None) -> str | None:
        if form is not None and form not in names:
            raise typer.BadParameter(f"{form} is not one of {', '.join(names)}")
        return form

    return typer.Option(
        "--format",
        metavar="|".join(names),
        callback=known,
        help="How to write it. Without it: as the name of --out says, else a table.",
    )


def moment(text: str | None, timezone: str) -> datetime:
    """The moment that counts as now, in UTC; a time without an offset is the lab's own, a bare day its first minute."""
    if text is None:
        return datetime.now(UTC)
    try:
        when = datetime.fromisoformat(text)
    except ValueError:
        raise typer.BadParameter(
            f"{text} is not a time; write it like 2026-04-03 or 2026-04-03T09:15", param_hint="--now"
        ) from None
    return (when if when.tzinfo else when.replace(tzinfo=ZoneInfo(timezone))).astimezone(UTC)
