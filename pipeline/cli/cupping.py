"""The commands of taste: blind sessions planned, and score sheets written."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipeline.cli import cupping_difference, cupping_panel
from pipeline.cli.next_steps import in_lab
from pipeline.cli.options import AsJson, Lab
from pipeline.cli.plain_help import PlainGroup, add
from pipeline.cli.report import hand_over
from pipeline.cli.screen import note

if TYPE_CHECKING:
    from pipeline.cli.opened import Opened
    from pipeline.cupping.plan import CuppingPlan, Wanted
    from pipeline.cupping.scales import Scale

SUMMARY = "Taste: plan a blind cupping and write its score sheets."
Several = list[str] | None
Assessors = Annotated[
    Several, typer.Option("--assessor", metavar="NAME", help="Who tastes. May be repeated.", show_default=False)
]
AssessorCount = Annotated[
    int | None, typer.Option("--assessors", metavar="N", min=1, help="N assessors without names, in place of names.")
]
MostCups = Annotated[
    int | None,
    typer.Option("--most-cups", metavar="N", min=1, help="What a palate can take at a sitting; each then gets a part."),
]
ServedAs = Annotated[str, typer.Option("--served-as", metavar="black|milk", help="How the coffee is served.")]
MilkG = Annotated[float | None, typer.Option("--milk-g", metavar="G", min=0.1, help="Milk to a cup, in g.")]
MlPerCup = Annotated[
    float | None,
    typer.Option("--ml-per-cup", metavar="ML", min=0.1, help="What a palate takes of a cup, for caffeine: 10 ml."),
]
MgPerG = Annotated[
    float | None,
    typer.Option(
        "--caffeine-mg-per-g",
        metavar="MG",
        min=0,
        help="Caffeine in a gram of coffee: 14, the upper end of arabica; robusta up to 40.",
    ),
]
Attributes = Annotated[
    Several,
    typer.Option("--attribute", metavar="NAME", help="Score this attribute; without it, all of the attributes table."),
]
Steps = Annotated[
    Several, typer.Option("--step", metavar="NAME=SIZE", help="How fine a scale is, such as sweetness=0.5.")
]


def add_to(app: typer.Typer) -> None:
    """Register the group and its commands."""
    group = typer.Typer(rich_markup_mode=None, add_completion=False, no_args_is_help=True)
    group.callback(cls=PlainGroup, short_help=SUMMARY)(cupping)
    add(group, "plan", plan, "Plan a blind session: codes, orders, score sheets and the key.")
    add(group, "score-sheets", score_sheets, "Write score sheets again, from a key.")
    cupping_panel.add_to(group)
    cupping_difference.add_to(group)
    app.add_typer(group, name="cupping")


def cupping() -> None:
    """Taste: plan a blind cupping, write its score sheets and its key.

    Filled-in sheets and the key go in with `brewtrials ingest`, in any order.
    """


def plan(
    lab: Lab,
    session: Annotated[
        str, typer.Option("--session", metavar="ID", help="A new name for the sitting, such as 2026-04-03-panel.")
    ],
    brew: Annotated[Several, typer.Option("--brew", metavar="ID", help="Taste this brew. May be repeated.")] = None,
    coffee: Annotated[
        Several, typer.Option("--coffee", metavar="ID", help="Taste this coffee. May be repeated.")
    ] = None,
    study: Annotated[str | None, typer.Option("--study", metavar="ID", help="Taste every brew of this study.")] = None,
    assessor: Assessors = None,
    assessors: AssessorCount = None,
    replicates: Annotated[
        int,
        typer.Option("--replicates", metavar="N", min=1, help="Serve everything N times to a palate, to judge it too."),
    ] = 1,
    sessions: Annotated[int, typer.Option("--sessions", metavar="N", min=1, help="How many sittings.")] = 1,
    most_cups: MostCups = None,
    attribute: Attributes = None,
    step: Steps = None,
    served_as: ServedAs = "black",
    milk_g: MilkG = None,
    ml_per_cup: MlPerCup = None,
    caffeine_mg_per_g: MgPerG = None,
    seed: Annotated[
        int | None,
        typer.Option("--seed", metavar="N", min=0, help="Draw the same again. Without it, a number nobody can guess."),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="DIR", help="Write the score sheets into this folder, and the key beside it."),
    ] = None,
    key: Annotated[
        Path | None,
        typer.Option("--key", metavar="FILE", help="Write the key here: keep it from whoever tastes."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Plan a blind session: a code for every cup, who is served what in which order, score sheets and the key.

    Orders are balanced: every cup stands in every place, and follows every other, equally often, or as nearly so as
    the number of assessors lets it. --out DIR writes a workbook to fill in and ingest, a page to print, and the key.
    """
    from pipeline.cli.opened import open_lab
    from pipeline.cupping.folder import known_samples, taken
    from pipeline.cupping.plan import plan_cupping, session_ids
    from pipeline.cupping.report import plan_report
    from pipeline.cupping.samples import choose_samples
    from pipeline.cupping.write import check_places, key_place

    opened = open_lab(lab)
    wanted = _wanted(
        session, assessor, assessors, replicates, sessions, most_cups, served_as, milk_g, ml_per_cup,
        caffeine_mg_per_g, seed,
    )  # fmt: skip
    scales = _scales(opened, attribute, step)
    key_file = None if out is None else key or key_place(out)
    if out is None and key is not None:
        raise typer.BadParameter("where do the score sheets go? Add --out DIR", param_hint="--key")
    if out is not None:
        check_places(out, key_file, sessions)
    used = taken(opened.store, opened.manifest, session_ids(wanted.session_id, sessions))
    chosen = choose_samples(
        known_samples(opened.store, opened.manifest), brews=brew or (), coffees=coffee or (), study_id=study
    )
    planned = plan_cupping(chosen, wanted, taken_codes=used)
    if out is not None and key_file is not None:
        _write(planned, scales, out, key_file, lab)
    hand_over(plan_report(planned), "json" if as_json else "table", None, timezone=opened.settings.timezone)
    if out is None:
        note("Add --out DIR for score sheets and key.")


def score_sheets(
    lab: Lab,
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Write the score sheets into this folder.")],
    key: Annotated[
        Path | None, typer.Option("--key", metavar="FILE", help="The key that the plan wrote.", show_default=False)
    ] = None,
    session: Annotated[
        str | None, typer.Option("--session", metavar="ID", help="A session whose key was ingested, or one of --key.")
    ] = None,
    assessor: Assessors = None,
    assessors: AssessorCount = None,
    most_cups: MostCups = None,
    attribute: Attributes = None,
    step: Steps = None,
    served_as: Annotated[
        str | None, typer.Option("--served-as", metavar="black|milk", help="As served; without it, as the key says.")
    ] = None,
    milk_g: MilkG = None,
    ml_per_cup: MlPerCup = None,
    caffeine_mg_per_g: MgPerG = None,
    seed: Annotated[
        int | None, typer.Option("--seed", metavar="N", min=0, help="The plan's seed, for the orders of the plan.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Write score sheets for cups that have their codes already: from the key's file, or from an ingested key.

    With the seed, the assessors and the options of the plan the orders are those of the plan; else they are new.
    """
    from pipeline.cli.opened import open_lab
    from pipeline.cupping.again import cups_again
    from pipeline.cupping.plan import redraw
    from pipeline.cupping.report import plan_report
    from pipeline.cupping.write import check_places

    opened = open_lab(lab)
    scales = _scales(opened, attribute, step)
    again = cups_again(opened.folder, opened.store, opened.manifest, opened.settings, key=key, session_id=session)
    wanted = _wanted(
        again.sessions[0][0], assessor, assessors, 1, len(again.sessions), most_cups, served_as or again.served_as,
        milk_g, ml_per_cup, caffeine_mg_per_g, seed,
    )  # fmt: skip
    check_places(out, None, len(again.sessions))
    planned = redraw(again.sessions, wanted)
    _write(planned, scales, out, None, lab)
    hand_over(plan_report(planned), "json" if as_json else "table", None, timezone=opened.settings.timezone)


def _wanted(
    session: str,
    names: Several,
    n_names: int | None,
    replicates: int,
    sessions: int,
    most_cups: int | None,
    served_as: str,
    milk_g: float | None,
    ml_per_cup: float | None,
    caffeine_mg_per_g: float | None,
    seed: int | None,
) -> Wanted:
    import secrets

    from analysis.sensory.serving.caffeine import MG_PER_G, ML_PER_CUP
    from pipeline.cupping.plan import Wanted

    if served_as not in ("black", "milk"):
        raise typer.BadParameter(f"{served_as} is not one of black, milk", param_hint="--served-as")
    if milk_g is not None and served_as != "milk":
        raise typer.BadParameter("is there milk or not? Add --served-as milk", param_hint="--milk-g")
    if names and n_names:
        raise typer.BadParameter("name the assessors, or say how many there are, not both", param_hint="--assessors")
    if not session.strip():
        raise typer.BadParameter("under which name? Add --session ID", param_hint="--session")
    unnamed = tuple(f"assessor-{place}" for place in range(1, (n_names or 0) + 1))
    return Wanted(
        session_id=session.strip(),
        assessors=tuple(" ".join(name.split()) for name in names or ()) or unnamed,
        replicates=replicates,
        n_sessions=sessions,
        most_cups=most_cups,
        served_as=served_as,
        milk_g=milk_g,
        ml_per_cup=ML_PER_CUP if ml_per_cup is None else ml_per_cup,
        caffeine_mg_per_g=MG_PER_G if caffeine_mg_per_g is None else caffeine_mg_per_g,
        # A usual seed could be tried by whoever tastes; the one drawn is told to whoever plans.
        seed=secrets.randbelow(10**9) if seed is None else seed,
    )


def _scales(opened: Opened, attributes: Several, steps: Several) -> tuple[Scale, ...]:
    from pipeline.cupping.scales import scales_of
    from pipeline.run_sheet.flags import read_values
    from pipeline.store.read import current

    table = current(opened.store, opened.manifest, "attributes").collect()
    return scales_of(table, steps=read_values(steps or (), what="step"), only=tuple(attributes or ()))


def _write(planned: CuppingPlan, scales: tuple[Scale, ...], out: Path, key: Path | None, lab: Path) -> None:
    from pipeline.cupping.report import caffeine_sentences
    from pipeline.cupping.sheet import score_sheets as sheets_of
    from pipeline.cupping.write import write_key, write_sheets

    if key is not None:
        write_key(planned, key)
    sheets = sheets_of(planned, scales, caffeine_sentences(planned)[0])
    names = ", ".join(str(path) for path in write_sheets(sheets, out))
    note(f"Wrote {names}.")
    if key is not None:
        note(f"Wrote the key: {key}. Keep it from whoever tastes.")
        note(f"Afterwards: {in_lab(f'ingest {out} {key}', lab)}")
