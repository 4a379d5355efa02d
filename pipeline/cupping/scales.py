"""The scales that a score sheet offers: the lab's own attributes, else the three that any barista can fill in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import polars as pl

from schemas.problem import ProblemError

MOST_CHOICES = 45
"""A list longer than this is no help; the cell then takes any number within the scale."""
RESERVED = {
    "taste_balance": (-2.0, 2.0, "-2 too sour, -1 a little sour, 0 balanced, 1 a little bitter, 2 too bitter"),
    "taste_strength": (-2.0, 2.0, "-2 too weak, -1 a little weak, 0 right, 1 a little strong, 2 too strong"),
    "taste_uneven": (0.0, 1.0, "1 sour and bitter at once, 0 not"),
}
"""Attributes whose meaning is fixed: low, high, what the numbers mean."""
ENDS = {
    "intensity": "{low} none, {high} very strong",
    "quality": "{low} poor, {high} excellent",
    "liking": "{low} dislike very much, {high} like very much",
    "just_right": "{low} far too little, {middle} just right, {high} far too much",
}
"""What the ends mean, by the kind of scale."""


@dataclass(frozen=True, slots=True)
class Scale:
    """One attribute: its range (None: open), the values to choose from (none: any within the range), its meaning."""

    attribute: str
    low: float | None
    high: float | None
    choices: tuple[float, ...]
    meaning: str

    @property
    def is_reserved(self) -> bool:
        """Whether scores beyond the range are not taken in."""
        return self.attribute in RESERVED


def scales_of(attributes: pl.DataFrame, *, steps: dict[str, float], only: Sequence[str] = ()) -> tuple[Scale, ...]:
    """The scales of an attributes table, else the reserved ones; `steps` sets how fine a scale is, `only` chooses.

    ProblemError names an attribute that is not there, or a step that does not go into its scale.
    """
    rows = {row["attribute"]: row for row in attributes.iter_rows(named=True)}
    names = list(rows) or list(RESERVED)
    for name in (*only, *steps):
        if name not in (*names, *RESERVED):
            raise ProblemError(f"There is no attribute {name} in the attributes table; there is {', '.join(names)}.")
    return tuple(_scale(name, rows.get(name, {}), steps.get(name)) for name in (only or names))


def _scale(name: str, row: dict[str, object], step: float | None) -> Scale:
    if name in RESERVED:
        low, high, meaning = RESERVED[name]
        return Scale(name, low, high, _choices(name, low, high, step or 1.0), meaning)
    ends = [float(str(row[end])) if row.get(end) is not None else None for end in ("low", "high")]
    notes = str(row["notes"]) if row.get("notes") else ""
    if ends[0] is None or ends[1] is None:
        return Scale(name, ends[0], ends[1], (), notes or "a number")
    low, high = ends[0], ends[1]
    words = ENDS[str(row["kind"])].format(low=f"{low:g}", high=f"{high:g}", middle=f"{(low + high) / 2:g}")
    meaning = f"{words}; {notes}" if notes else words
    return Scale(name, low, high, _choices(name, low, high, step or _usual_step(low, high)), meaning)


def _usual_step(low: float, high: float) -> float:
    """Quarters up to 5 wide, halves up to 20, whole numbers beyond; common practice, no source."""
    return 0.25 if high - low <= 5 else 0.5 if high - low <= 20 else 1.0


def _choices(name: str, low: float, high: float, step: float) -> tuple[float, ...]:
    if step <= 0:
        raise ProblemError(f"The step of {name} must be more than 0.")
    wide, each = Fraction(str(high)) - Fraction(str(low)), Fraction(str(step))
    if wide % each:
        raise ProblemError(f"Steps of {step:g} do not go into {name} from {low:g} to {high:g}.")
    n_choices = int(wide / each) + 1
    if n_choices > MOST_CHOICES:
        return ()
    return tuple(float(Fraction(str(low)) + each * place) for place in range(n_choices))
