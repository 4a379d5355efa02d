"""The pages that the browser tests open."""

from __future__ import annotations

from pathlib import Path

import made_up_lab
import polars as pl

from analysis.charts.effects_input import MethodEffects
from analysis.next_brews.result import NextBrews, NextRow
from pipeline.publish.page import write_dashboard
from schemas.lab import LabSettings

LONG_NAMES = tuple(
    f"A very long coffee name, lot {k}, washed, high terrace, late harvest, slow drying" for k in range(12)
)
PAYLOADS = (
    "</script><script>window.owned=1</script>",
    "<img src=x onerror=window.owned=1>",
    "\"'><svg onload=window.owned=1>",
    "=cmd|'/C calc'!A0",
    "{{constructor.constructor('window.owned=1')()}}",
    "javascript:window.owned=1",
)


def write(folder: Path, facts: pl.DataFrame, *, name: str = "Riverside Test Kitchen", set_aside=None) -> Path:
    effects = [made_up_lab.made_up_effects(facts, method) for method in facts["method"].unique().sort()]
    return write_dashboard(
        facts,
        made_up_lab.made_up_flags(facts),
        made_up_lab.made_up_set_aside() if set_aside is None else set_aside,
        effects,
        folder,
        settings=LabSettings(name=name),
        manifest_number=7,
        next_brews=made_up_lab.made_up_next(),
        targets=made_up_lab.made_up_targets(),
    )


def write_hostile(folder: Path) -> Path:
    """A page in which every text a lab can write is a payload."""
    facts = made_up_lab.made_up_facts(n_brews=90, coffees=PAYLOADS)
    ids = pl.Series([f"{PAYLOADS[k % len(PAYLOADS)]}{k}" for k in range(facts.height)])
    texts = ("operator", "notes", "recipe_id", "grind_setting", "grinder_id", "changed", "void_reason", "source_file")
    facts = facts.with_columns(**dict.fromkeys(("brew_id", *texts), ids))
    effects = [made_up_lab.made_up_effects(facts, "espresso"), MethodEffects("moka", refusal=PAYLOADS[0])]
    flags = made_up_lab.made_up_flags(facts).with_columns(message=pl.lit(PAYLOADS[1]), value=pl.lit(PAYLOADS[2]))
    set_aside = pl.concat([made_up_lab.made_up_set_aside(1, value=payload) for payload in PAYLOADS])
    set_aside = set_aside.with_columns(
        source_file=pl.lit(PAYLOADS[0]), sheet=pl.lit(PAYLOADS[1]), rule=pl.lit(PAYLOADS[2])
    )
    settings = LabSettings(name=PAYLOADS[0])
    row = NextRow("espresso", *PAYLOADS[:4])
    return write_dashboard(
        facts,
        flags,
        set_aside,
        effects,
        folder,
        settings=settings,
        manifest_number=7,
        next_brews=NextBrews(PAYLOADS[4], (row,), is_blocked=False),
    )
