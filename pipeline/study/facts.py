"""Brew facts under a study: its frozen grind references stand before the lab's own."""

from __future__ import annotations

from dataclasses import replace

from analysis.study.apply import StudyRows, apply_study
from pipeline.facts import FactInputs, brew_facts
from pipeline.store.model import Manifest
from pipeline.store.store import Store
from schemas.lab import LabSettings
from schemas.study import Study


def study_settings(settings: LabSettings, study: Study) -> LabSettings:
    """The lab's settings with the study's grind references in place of the lab's for the same places."""
    # The last reference of a coffee, grinder and method is the one that counts.
    return replace(settings, grind_references=(*settings.grind_references, *study.grind_reference))


def study_rows(
    store: Store, manifest: Manifest, settings: LabSettings, study: Study, *, inputs: FactInputs | None = None
) -> StudyRows:
    """The brews of a study with their facts, its own grind zero among them; `inputs` saves reading them again."""
    return apply_study(brew_facts(store, manifest, study_settings(settings, study), inputs=inputs), study)
