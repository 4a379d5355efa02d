"""The command that writes the dashboard."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pipeline.cli.options import AsOf, Lab
from pipeline.cli.plain_help import add
from pipeline.cli.screen import count, say


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    add(app, "dashboard", dashboard, "Write the dashboard: one page to read, print or send.")


def dashboard(
    lab: Lab,
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder for the page.", show_default=False)],
    as_of: AsOf = None,
) -> None:
    """Write the dashboard: one page (index.html) that opens offline, prints, and can be sent by mail."""
    from analysis.effects.by_method import effects_by_method
    from pipeline.cli.opened import open_lab
    from pipeline.facts import brew_facts, brew_flags
    from pipeline.publish.page import write_dashboard
    from pipeline.store.read import current, read_set_aside

    opened = open_lab(lab, as_of)
    facts = brew_facts(opened.store, opened.manifest, opened.settings)
    flags = brew_flags(opened.store, opened.manifest, opened.settings, facts=facts)
    set_aside = read_set_aside(opened.store, opened.manifest)
    page = write_dashboard(
        facts,
        flags,
        set_aside,
        effects_by_method(facts),
        out,
        settings=opened.settings,
        manifest_number=opened.manifest.number,
        targets=current(opened.store, opened.manifest, "targets").collect(),
    )
    say(
        f"{count(facts.height, 'brew')} of {count(facts['coffee_id'].n_unique(), 'coffee')} by "
        f"{count(facts['method'].n_unique(), 'method')}; {count(set_aside.height, 'reason')} to set rows aside, "
        f"{count(flags.height, 'flag')}."
    )
    say(f"Wrote {page}. Open it in any browser; it needs no network.")
