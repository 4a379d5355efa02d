"""One thing a check found, in words: what was seen, how much it weighs and what to do about it."""

from dataclasses import dataclass
from typing import Literal

Weight = Literal["stands in the way", "worth knowing", "fine"]

WEIGHTS: tuple[Weight, ...] = ("stands in the way", "worth knowing", "fine")


@dataclass(frozen=True, slots=True)
class Finding:
    """What a check found (`said`), how much it weighs, what to do, and the brews it is about."""

    topic: str
    weight: Weight
    said: str
    do: str
    brew_ids: tuple[str, ...] = ()
