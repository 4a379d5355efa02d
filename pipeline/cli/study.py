"""The command that shows a declared study: what was planned, when it was said, what came of its brews."""

from __future__ import annotations

from typing import Annotated

import typer

from pipeline.cli.next_steps import in_lab
from pipeline.cli.options import AsJson, AsOf, Lab, Out
from pipeline.cli.plain_help import add
from pipeline.cli.report import ReportFormat, hand_over
from pipeline.cli.screen import say

StudyId = Annotated[
    str | None,
    typer.Option("--study", metavar="ID", help="Which study of study.toml; the only one needs no naming."),
]


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    add(app, "study", study, "What a study declares, and which brews it rests on.")


def study(
    lab: Lab,
    study_id: StudyId = None,
    start: Annotated[
        bool, typer.Option("--start", help="Write a study.toml to fill in; one that is there is left as it is.")
    ] = False,
    record: Annotated[
        bool,
        typer.Option("--record", help="Record now what study.toml declares, rather than with the next ingest."),
    ] = False,
    as_json: AsJson = False,
    form: ReportFormat = None,
    out: Out = None,
    as_of: AsOf = None,
) -> None:
    """Show a study of study.toml: the question, whether it was declared before its data, what was left out and why.

    Declare it before the first brew: every ingest keeps the file, so that anybody can see what was planned and what
    was added afterwards.
    """
    _check_options(start, record, as_of, as_json=as_json, form=form, asked=study_id is not None or out is not None)
    if start:
        from pipeline.study.starter import start_study

        say(f"Wrote {start_study(lab)}. Take the # away from what you need, then: {in_lab('study', lab)}")
        return
    if record:
        _record(lab)
        return

    from pipeline.cli.opened import open_lab
    from pipeline.study.declared import declared
    from pipeline.study.facts import study_rows
    from pipeline.study.read import choose_study, read_studies
    from pipeline.study.report import study_report

    opened = open_lab(lab, as_of)
    chosen = choose_study(read_studies(lab), study_id)
    rows = study_rows(opened.store, opened.manifest, opened.settings, chosen)
    report = study_report(rows, declared(opened.store, opened.manifest, chosen), timezone=opened.settings.timezone)
    hand_over(report, "json" if as_json else form, out, timezone=opened.settings.timezone)


def _record(lab: Lab) -> None:
    from pipeline.lab import require_lab
    from pipeline.study.record import record_studies

    fresh = record_studies(require_lab(lab))
    say(f"Recorded: {', '.join(fresh)}." if fresh else "Nothing new: study.toml says what is recorded already.")


def _check_options(
    start: bool, record: bool, as_of: int | None, *, as_json: bool, form: str | None, asked: bool
) -> None:
    """Refuse options that do not go together."""
    shows = asked or as_json or form is not None or as_of is not None
    rules = (
        (start and record, "--start", "the file is empty then; fill it in first, then --record"),
        (start and shows, "--start", "it only writes the file; leave out the other options"),
        (record and shows, "--record", "it only records; leave out the other options"),
        (as_json and form not in (None, "json"), "--json", f"it does not go with --format {form}"),
    )
    for broken, option, why in rules:
        if broken:
            raise typer.BadParameter(why, param_hint=option)
