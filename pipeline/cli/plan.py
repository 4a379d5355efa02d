"""The command that plans the next brews: which settings in which order, what they can tell, and the run sheet."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipeline.cli.next_steps import in_lab
from pipeline.cli.options import AsJson, Lab
from pipeline.cli.plain_help import add
from pipeline.cli.report import hand_over
from pipeline.cli.screen import note

if TYPE_CHECKING:
    from analysis.planning.request import DesignKind
    from pipeline.cli.opened import Opened
    from pipeline.run_sheet.report import Planned
    from schemas.study import Study

SEED = 1
DESIGN_NAMES = ("full", "fractional", "surface", "composite", "box-behnken", "optimal", "square")
Several = list[str] | None


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    add(app, "plan", plan, "Plan the next brews and write their run sheet.")


def plan(
    lab: Lab,
    study_id: Annotated[
        str | None,
        typer.Option("--study", metavar="ID", help="A study of study.toml, or a new name for these brews."),
    ] = None,
    factor: Annotated[
        Several,
        typer.Option("--factor", metavar="NAME=LOW:HIGH[:STEP]", help="Vary this setting. May be repeated."),
    ] = None,
    coffee: Annotated[
        Several, typer.Option("--coffee", metavar="ID", help="Brew this coffee. May be repeated.")
    ] = None,
    method: Annotated[str | None, typer.Option("--method", metavar="METHOD", help="How it is brewed.")] = None,
    design: Annotated[
        str | None,
        typer.Option(
            "--design",
            metavar="|".join(DESIGN_NAMES),
            help="full: every combination. fractional: a part of them. surface: for curves. optimal: --runs brews "
            "chosen to tell most. square: one setting over sessions and coffees.",
        ),
    ] = None,
    runs: Annotated[
        int | None, typer.Option("--runs", metavar="N", help="How many brews (optimal, fractional).")
    ] = None,
    replicates: Annotated[int, typer.Option("--replicates", metavar="N", help="Brew the whole design N times.")] = 1,
    block: Annotated[Several, typer.Option("--block", metavar="session=N", help="Spread over N sessions.")] = None,
    hard: Annotated[
        Several,
        typer.Option(
            "--hard", metavar="NAME", help="Keep this still between neighbouring brews: a setting or coffee_id."
        ),
    ] = None,
    resets: Annotated[int, typer.Option("--resets", metavar="N", help="Set what is hard anew N times a session.")] = 1,
    curve: Annotated[Several, typer.Option("--curve", metavar="NAME", help="Let this setting bend.")] = None,
    cross: Annotated[
        Several, typer.Option("--cross", metavar="A:B", help="Tell how two settings work together.")
    ] = None,
    hold: Annotated[
        Several,
        typer.Option("--hold", metavar="NAME=VALUE", help="Keep this setting, such as dose_g=18. May be repeated."),
    ] = None,
    fill: Annotated[
        Several,
        typer.Option("--fill", metavar="COLUMN=TEXT", help="Fill this column in on every row, such as scale_id=s-1."),
    ] = None,
    impossible: Annotated[
        Several,
        typer.Option("--impossible", metavar="A>=X,B<=Y", help="Settings that cannot be brewed. May be repeated."),
    ] = None,
    grinder: Annotated[str | None, typer.Option("--grinder", metavar="ID", help="The grinder, for its dial.")] = None,
    reference: Annotated[
        Several, typer.Option("--reference", metavar="COFFEE=SETTING", help="The dial setting that counts as zero.")
    ] = None,
    purge: Annotated[int, typer.Option("--purge", metavar="N", min=0, help="Purges after a change of grind.")] = 1,
    add_to_brewed: Annotated[
        bool, typer.Option("--add-to-brewed", help="Choose brews that make the ones already made tell more.")
    ] = False,
    response: Annotated[str | None, typer.Option("--response", metavar="COLUMN", help="The result to explain.")] = None,
    difference: Annotated[
        float | None, typer.Option("--difference", metavar="D", help="The difference that matters.")
    ] = None,
    spread: Annotated[
        float | None, typer.Option("--spread", metavar="SD", help="Brew to brew spread; else the lab's own.")
    ] = None,
    against: Annotated[
        Path | None,
        typer.Option("--against", metavar="SHEET.xlsx", help="Compare this run sheet with what was brewed."),
    ] = None,
    seed: Annotated[int, typer.Option("--seed", metavar="N", min=0, help="Another number gives another order.")] = SEED,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="FILE", help="Write the run sheet: .xlsx to fill in and ingest, .html to print."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Plan the next brews: which settings, in which order, what they will be able to tell, and what not.

    Say what to vary (--factor) on which coffees, or name a study of study.toml. The order is random; --out writes the
    run sheet, which goes straight back in with `brewtrials ingest` once it is filled in.
    """
    from pipeline.cli.opened import open_lab
    from pipeline.run_sheet.write import check_place

    if out is not None:
        check_place(out)
        if study_id is None and factor:
            raise typer.BadParameter(
                "under which name? Add --study ID, the study_id of these brews", param_hint="--study"
            )
    opened = open_lab(lab)
    study = _study(lab, study_id, needed=not factor and against is None)
    if against is not None:
        _compare(opened, against, study, as_json=as_json)
        return

    from pipeline.run_sheet.asked import Typed
    from pipeline.run_sheet.bench import bench_of
    from pipeline.run_sheet.flags import read_cells, read_impossible, read_pair, read_range, read_sessions, read_values
    from pipeline.run_sheet.make import Wanted, make_planned
    from pipeline.run_sheet.report import plan_report

    typed = Typed(
        ranges=tuple(read_range(text) for text in factor or ()),
        coffees=tuple(coffee or ()),
        method=method,
        design=_design(design),
        n_runs=runs,
        replicates=replicates,
        sessions=read_sessions(block or ()),
        resets=resets,
        hard=tuple(hard or ()),
        curves=tuple(curve or ()),
        crosses=tuple(cross or ()),
        impossible=tuple(read_impossible(text) for text in impossible or ()),
        add_to_brewed=add_to_brewed,
        held=read_values(hold or (), what="setting"),
    )
    wanted = Wanted(
        study_id=study_id,
        grinder_id=grinder,
        references=dict(read_pair(text, what="reference") for text in reference or ()),
        response=response,
        difference=difference,
        spread=spread,
        purges=purge,
        seed=seed,
        cells=read_cells(fill or ()),
    )
    planned = make_planned(bench_of(opened.store, opened.manifest, opened.settings), study, typed, wanted)
    hand_over(plan_report(planned), "json" if as_json else "table", None, timezone=opened.settings.timezone)
    if out is None:
        note("Add --out FILE.xlsx for the run sheet to fill in, --out FILE.html to print it.")
    else:
        _write(planned, out, lab)


def _study(lab: Path, study_id: str | None, *, needed: bool) -> Study | None:
    """The study named, where study.toml declares it; without factors it must be declared."""
    from pipeline.study.read import choose_study, read_studies

    studies = read_studies(lab)
    names = {study.study_id for study in studies}
    if study_id in names or (needed and studies):
        return choose_study(studies, study_id)
    return None


def _design(text: str | None) -> DesignKind | None:
    from analysis.planning.request import DESIGNS

    if text is None:
        return None
    for known in DESIGNS:
        if text == known:
            return known
    raise typer.BadParameter(f"{text} is not one of {', '.join(DESIGNS)}", param_hint="--design")


def _write(planned: Planned, out: Path, lab: Path) -> None:
    from pipeline.run_sheet.report import run_sheet
    from pipeline.run_sheet.write import write_sheet

    write_sheet(run_sheet(planned), out)
    if out.suffix.lower() == ".html":
        note(f"Wrote {out}. The same command with --out FILE.xlsx gives the sheet to fill in.")
    else:
        note(f"Wrote {out}. Fill it in, then: {in_lab(f'ingest {out}', lab)}")


def _compare(opened: Opened, sheet: Path, study: Study | None, *, as_json: bool) -> None:
    from pipeline.facts import brew_facts
    from pipeline.run_sheet.compare import kept_report
    from pipeline.run_sheet.read import read_planned

    rows = read_planned(sheet, opened.folder, opened.settings)
    facts = brew_facts(opened.store, opened.manifest, opened.settings)
    report = kept_report(rows, facts, study)
    hand_over(report, "json" if as_json else "table", None, timezone=opened.settings.timezone)
