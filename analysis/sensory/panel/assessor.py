"""One assessor over all attributes: itself, the others, the scale, and what stands out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from analysis.mixed.fit import FTest
from analysis.multiple import holm
from analysis.sensory.panel.agreement import Agreement, Levelled, PooledSlope, agreement, levelled
from analysis.sensory.panel.discrimination import between_cups, discrimination
from analysis.sensory.panel.flags import Flag, Flags
from analysis.sensory.panel.repeatability import Repeatability, repeatability
from analysis.sensory.panel.scale_use import ScaleUse, scale_use
from analysis.sensory.panel.tidy import PanelRows, Scores

LEVEL = 0.05


@dataclass(frozen=True, slots=True)
class OnAttribute:
    """One assessor on one attribute; None where it cannot be told, as agreement and discrimination of an opinion.

    `discrimination`: F between products; `between_cups`: F between cups, each a product in a session; `tells`:
    discrimination under 5 % allowing for the attributes (Holm).
    """

    attribute: str
    use: ScaleUse
    n_skipped: int
    repeatability: Repeatability | None
    discrimination: FTest | None
    between_cups: FTest | None
    tells: bool
    agreement: Agreement | None


@dataclass(frozen=True)
class AssessorResult:
    """`follows`: slope on the others over the attributes whose cups the others tell apart; None without any."""

    label: str
    n_scores: int
    n_cups: int
    n_not_tasted: int
    attributes: tuple[OnAttribute, ...]
    follows: PooledSlope | None
    flags: tuple[Flag, ...]


def judge_assessors(rows: PanelRows, flags: Flags, labels: dict[str, str]) -> tuple[AssessorResult, ...]:
    """Every assessor, by label: never by how well anybody did."""
    parts = [(one, _levels(one), repeatability(one)) for one in rows.scores.values()]
    found = [
        AssessorResult(
            label=labels[name],
            n_scores=sum(int(np.sum(one.assessor == code)) for one in rows.scores.values()),
            n_cups=rows.gaps.n_cups - rows.gaps.not_tasted[code],
            n_not_tasted=rows.gaps.not_tasted[code],
            attributes=_telling([on for part in parts if (on := _on(rows, code, *part)) is not None]),
            follows=flags.slopes.get(code),
            flags=flags.of.get(code, ()),
        )
        for code, name in enumerate(rows.assessors)
    ]
    return tuple(sorted(found, key=lambda one: (len(one.label), one.label)))


def _telling(found: list[OnAttribute]) -> tuple[OnAttribute, ...]:
    p_values = holm([one.discrimination.p_value if one.discrimination else np.nan for one in found])
    return tuple(replace(one, tells=bool(p < LEVEL)) for one, p in zip(found, p_values, strict=True))


def _levels(scores: Scores) -> Levelled | None:
    return None if scores.is_opinion or np.unique(scores.assessor).size < 2 else levelled(scores)


def _on(
    rows: PanelRows, code: int, scores: Scores, panel: Levelled | None, repeats: Mapping[int, Repeatability]
) -> OnAttribute | None:
    use = scale_use(scores, code)
    if use is None:
        return None
    return OnAttribute(
        attribute=scores.attribute,
        use=use,
        n_skipped=rows.gaps.skipped.get((code, scores.attribute), 0),
        repeatability=repeats.get(code),
        discrimination=None if scores.is_opinion else discrimination(scores, code),
        between_cups=None if scores.is_opinion else between_cups(scores, code),
        tells=False,
        agreement=None if panel is None else agreement(panel, code),
    )
