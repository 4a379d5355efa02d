"""One row per judgement in a difference test. Key: `test_id`, `assessor`, `session_id`, `replicate`."""

from __future__ import annotations

from schemas.table import Table, narrow

CHOICES = Table(
    name="choices",
    row="choice",
    key=("test_id", "assessor", "session_id", "replicate"),
    column_names=(
        "test_id",
        "kind",
        "assessor",
        "brew_id_a",
        "brew_id_b",
        "correct",
        "chosen_brew_id",
        "question",
        "serving_order",
        "session_id",
        "replicate",
    ),
    required=("test_id", "kind", "assessor", "brew_id_a", "brew_id_b"),
    parents=(("brew_id_a", "brews"), ("brew_id_b", "brews"), ("chosen_brew_id", "brews")),
    narrowed=(narrow("kind", choices=("triangle", "duo_trio", "paired"), meaning="Which difference test"),),
)
