"""The commands of a gauge study: how much of the spread is the instrument and its readers, and the run sheet."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pipeline.cli.options import AsOf, Out
from pipeline.cli.plain_help import PlainGroup, add
from pipeline.cli.report import ReportFormat, hand_over
from pipeline.cli.screen import note, say
from pipeline.cli.usage import MISSING

SEED = 1
SUMMARY = "How much of the spread is the instrument and its readers?"


def add_to(app: typer.Typer) -> None:
    """Register the command and its plan."""
    group = typer.Typer(rich_markup_mode=None, add_completion=False)
    group.callback(invoke_without_command=True, cls=PlainGroup, short_help=SUMMARY)(gauge)
    add(group, "plan", plan, "Write the run sheet of a gauge study.")
    app.add_typer(group, name="gauge")


def gauge(
    context: typer.Context,
    lab: Annotated[
        Path | None,
        typer.Option(
            "--lab",
            metavar="DIR",
            envvar="BREWTRIALS_LAB",
            help="The project folder; BREWTRIALS_LAB may name it.",
            show_default=False,
            show_envvar=False,
        ),
    ] = None,
    study: Annotated[
        str | None, typer.Option("--study", metavar="ID", help="The study_id of its brews.", show_default=False)
    ] = None,
    instrument: Annotated[
        str | None, typer.Option("--instrument", metavar="ID", help="Where several read: the one that is studied.")
    ] = None,
    tolerance: Annotated[
        float | None,
        typer.Option("--tolerance", metavar="PCT", min=0.0001, help="Width of your target band in % TDS, to compare."),
    ] = None,
    form: ReportFormat = None,
    out: Out = None,
    as_of: AsOf = None,
) -> None:
    """Tell how much of the spread of readings is the instrument and its readers, and how much is the coffee.

    Several brews, each read several times by several people (read_by), under one study_id. Plan it with
    `brewtrials gauge plan`, fill in the sheet, ingest it, and ask here.
    """
    if context.invoked_subcommand is not None:
        return
    if lab is None:
        raise typer.BadParameter(MISSING["lab"], param_hint="--lab")
    if study is None:
        raise typer.BadParameter("which study? Add --study ID, the study_id of its brews", param_hint="--study")

    from pipeline.cli.opened import open_lab
    from pipeline.measurement.gather import gather
    from pipeline.measurement.gauge_report import gauge_report

    opened = open_lab(lab, as_of)
    gathered = gather(opened.store, opened.manifest, opened.settings)
    report = gauge_report(gathered, study, instrument_id=instrument, tolerance_pct=tolerance)
    hand_over(report, form, out, timezone=opened.settings.timezone)


def plan(
    brews: Annotated[
        str, typer.Option("--brews", metavar="ID,...", help="The brews to read, separated by commas: six to ten.")
    ],
    readers: Annotated[
        str, typer.Option("--readers", metavar="NAME,...", help="Who reads, separated by commas: three or more.")
    ],
    instrument: Annotated[str, typer.Option("--instrument", metavar="ID", help="The instrument that is studied.")],
    out: Annotated[
        Path,
        typer.Option(
            "--out",
            metavar="FILE",
            help="The sheet: .xlsx or .csv to fill in and ingest, .html to print for the readers.",
        ),
    ],
    repeats: Annotated[
        int, typer.Option("--repeats", metavar="N", min=1, help="How often each reader reads each brew.")
    ] = 3,
    seed: Annotated[int, typer.Option("--seed", metavar="N", min=0, help="Another number gives another order.")] = SEED,
    minutes: Annotated[
        float, typer.Option("--minutes", metavar="MIN", min=0.1, help="How long one reading takes.")
    ] = 1.0,
    limit: Annotated[
        float, typer.Option("--limit", metavar="MIN", min=1.0, help="How long a closed vial may stand.")
    ] = 45.0,
) -> None:
    """Write the run sheet of a gauge study: who reads which vial when.

    The order is random and the readers see vial numbers only. Samples are stirred, filtered and held at one
    temperature, and a round has a time limit: what evaporates would count as a difference between readers.
    """
    import numpy as np

    from analysis.measurement.gauge_plan import plan_gauge_study
    from analysis.words import sentence
    from pipeline.gauge_sheet import write_gauge_sheet

    planned = plan_gauge_study(
        _names(brews),
        _names(readers),
        rng=np.random.default_rng(seed),
        repeats=repeats,
        minutes_per_reading=minutes,
        limit_min=limit,
    )
    write_gauge_sheet(planned, out, instrument_id=instrument)
    say(
        f"Wrote {out}: {len(planned.readings):,} readings in {planned.repeats} rounds of {planned.round_min:g} min "
        f"(seed {seed})."
    )
    for text in planned.notes:
        note(sentence(text))
    if out.suffix.lower() == ".html":
        note("The same seed with --out FILE.xlsx gives the sheet to fill in.")
    else:
        note("The same seed with --out FILE.html gives the page for the readers, without the names of the brews.")


def _names(text: str) -> tuple[str, ...]:
    return tuple(name.strip() for name in text.split(","))
